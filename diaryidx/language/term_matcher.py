"""Component ``term_matcher``: finds the vocabulary's terms, the longest at every place, each in the reading that fits.

A word may be two things: "seal" a part or a task, "polished" a task or a finish, "right" a side or the start of a
sentence. The little words around decide; they are listed in ``cues/readings.yaml``.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import replace

from spacy.language import Language
from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc, Span

from diaryidx.language.compounds import Compounds
from diaryidx.language.found import Found
from diaryidx.language.phrases import as_patterns
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.language.workings import FAR, Workings
from diaryidx.vocabulary import inflections
from diaryidx.vocabulary.loader import Term, Vocabulary, beside_a_part, is_weak, shipped_data, stands_as_noun

_LIGHT = frozenset(
    (
        "get",
        "gets",
        "getting",
        "got",
        "put",
        "puts",
        "putting",
        "have",
        "has",
        "had",
        "having",
        "turn",
        "turns",
        "turned",
        "turning",
    )
)
_THINGS = frozenset(("it", "them", "that", "this", "those", "these", "one", "ones", "everything", "all"))
_DESCRIBED = frozenset(("a", "the", "with", "his", "her", "our", "some", "those", "these", "of", "in"))
_BEING = frozenset(("is", "are", "was", "were", "'s", "'re", "be"))
_STOPS = frozenset((".", ",", "!", "?", ";", "and", "but"))
_WHO = frozenset(("it", "he", "she", "they", "we", "i", "you"))
_OWN_BACKS = frozenset(("my", "his", "her", "your"))
_LEAVES = frozenset(("us", "me", "him", "them", "it", "you", "with", "over", "to", "alone", "out"))
_BACK_AGAIN = frozenset(
    ("this", "that", "it", "them", "right", "on", "from", "to", "at", "in", "just", "only", "my", "his", "your")
)
_IN_ORDER = frozenset(("first", "second", "third", "next", "last"))
APART_AT_MOST = 7  # words between a verb and its particle ("take the two long caliper bolts out")


@Language.factory("term_matcher", assigns=["doc._.terms", "doc.spans"])
def make_term_matcher(nlp: Language, name: str) -> TermMatcher:
    """Build the component over a loaded vocabulary."""
    return TermMatcher(nlp, vocabulary_of(nlp))


def _shade(finish: Found, name: str) -> Term:
    """The term of a word that is said with a finish."""
    return Term(name, "FINISH", (name,), sort=finish.term.sort if finish.term is not None else None)


def _behind_a_finish(before: Sequence[Found], start: int) -> bool:
    return bool(before) and before[-1].end == start and before[-1].label == "FINISH"


class TermMatcher:
    """Finds terms. Sets ``doc._.terms`` (list of Found in reading order) and ``doc.spans["terms"]``."""

    def __init__(self, nlp: Language, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.matcher = PhraseMatcher(nlp.vocab, attr="ORTH")
        phrases = [*vocabulary.phrases, *vocabulary.shadows]
        self.matcher.add("term", as_patterns(nlp.vocab, phrases))
        data = shipped_data("readings.yaml")
        self.before_verb = frozenset(data["before a verb"])
        self.after_verb = frozenset(data["after a verb"])
        self.determiners = frozenset(data["determiners"])
        self.adverbs = frozenset(shipped_data("grammar.yaml")["adverbs"])
        self.before_side = frozenset(data["before a side"])
        self.after_side = frozenset(data["after a side"])
        self.shades = frozenset(data["modifiers of finishes"])
        self.sides_before_things = frozenset(data["sides before things"])
        self.general_apart = frozenset(data["general where apart"])
        self.faults, self.states = frozenset(data["faults"]), frozenset(data["states"])
        self.general = frozenset(data["general verbs"])
        self.behind_fault = frozenset(data["behind a fault"])
        self.before_season = frozenset(data["before a season"])
        self.apart_verbs = frozenset(verb for verb, _ in vocabulary.apart)
        self.particles = frozenset(rest.split(" ")[0] for _, rest in vocabulary.apart)
        self.not_between = frozenset(data["never between a verb and its particle"])
        heads = [word for noun in data["heads of compounds"] for word in inflections.plural_and_singular(noun)]
        self.compound_heads = frozenset(heads)
        self.sides_apart = frozenset(data["sides that stand apart"])
        self.sides_inside = frozenset(data["parts with a side in their name"])
        self.no_modifiers = frozenset(data["no modifiers"])
        self.compounds = Compounds()
        self.workings = Workings(vocabulary)

    def __call__(self, doc: Doc) -> Doc:
        """Find the terms of one text."""
        words: list[str] = doc.user_data["words"]
        found = self._longest(doc, words)
        found = self._with_verbs_apart(words, found)
        found = self.workings(words, found)
        doc._.terms = found
        doc.spans["terms"] = [Span(doc, one.start, one.end, label=one.label) for one in found]
        return doc

    def _longest(self, doc: Doc, words: list[str]) -> list[Found]:
        longest: dict[int, int] = {}
        for _, start, end in self.matcher(doc):
            if end > longest.get(start, 0):
                longest[start] = end
        found: list[Found] = []
        free_from = 0
        starts = sorted(longest)
        while starts:
            start = heapq.heappop(starts)
            if start < free_from:
                continue
            end = longest[start]
            free_from = end
            phrase = " ".join(words[start:end])
            term = self.vocabulary.phrases.get(phrase)
            if end - start > 1 and words[end - 1] == "side" and self._is_part(words[end - 1 : end + 1]):
                end = free_from = end - 1  # "left hand | side panel"
                phrase = " ".join(words[start:end])
                term = self.vocabulary.phrases.get(phrase)
            place = self._side_before_part(words, start, end, phrase, term)
            if place is not None:
                found.append(place)
                free_from, longest[place.end] = place.end, max(end, longest.get(place.end, 0))
                heapq.heappush(starts, place.end)
                continue
            if phrase in self.vocabulary.shadows or term is None:
                continue
            one = self._reading(words, start, end, phrase, term, found)
            if one is not None:
                found.append(one)
            else:
                free_from = start + 1
        found = self._with_compounds(words, self.compounds(words, found))
        found = self._with_shades(words, found)
        found = [one for place, one in enumerate(found) if self._side_stands(words, found, place)]
        if self.vocabulary.weak.isdisjoint(words):
            return found
        parts = [(one.start, one.end) for one in found if one.label == "PART"]
        return [
            one
            for one in found
            if not self._weak(words, one)
            or beside_a_part(one.start, one.end, parts)
            or (one.form == "ed" and any(last == one.start for _, last in parts))  # "brackets | folded"
            or self._has_pronoun(words, one, parts)
        ]

    def _with_shades(self, words: Sequence[str], found: list[Found]) -> list[Found]:
        """With what a finish has before it as part of it: "plain | black", "single | gold coachline"."""
        if self.shades.isdisjoint(words):
            return found
        shades = {}
        for one in found:
            place = one.start - 1
            if one.label == "FINISH" and place >= 0 and words[place] in self.shades:
                shades[place] = Found("FINISH", words[place], place, one.start, _shade(one, words[place]))
        kept = [one for one in found if one.start not in shades or one.end - one.start > 1]
        return sorted([*kept, *shades.values()], key=lambda one: one.start) if shades else found

    def _has_pronoun(self, words: Sequence[str], one: Found, parts: Sequence[tuple[int, int]]) -> bool:
        """Whether an everyday verb has a part named before for its object: "the rack, we made it", "a new one"."""
        behind = words[one.end : one.end + 4]
        another = "new" in behind and not {"one", "ones"}.isdisjoint(behind)
        caused = one.form == "ed" and words[one.start - 1] in ("get", "gets", "getting", "got", "be", "been", "being")
        said = caused or (bool(behind) and behind[0] in _THINGS)
        return any(one.start > last and (another or (said and one.start - last <= FAR)) for _, last in parts)

    def _is_part(self, words: Sequence[str]) -> bool:
        term = self.vocabulary.phrases.get(" ".join(words))
        return term is not None and term.label == "PART"

    def _side_before_part(
        self, words: Sequence[str], start: int, end: int, phrase: str, term: Term | None
    ) -> Found | None:
        """The side in a part's name that only says which of two: "rear sprocket"; not in "rear end", "rear light"."""
        if term is None or term.label != "PART" or words[start] not in self.sides_apart or term.origin != "shipped":
            return None
        rest = self.vocabulary.phrases.get(" ".join(words[start + 1 : end]))
        if rest is None or rest.label != "PART" or phrase in self.sides_inside:
            return None
        side = self.vocabulary.phrases[words[start]]
        return Found("SIDE", side.canonical, start, start + 1, side)

    def _with_compounds(self, words: list[str], found: list[Found]) -> list[Found]:
        """Noun compounds as one part: "engine mount | bolts". A plural begins a row: "hubs | spacers"."""
        if self.compound_heads.isdisjoint(words):
            return found
        joined: list[Found] = []
        for one in found:
            last = joined[-1] if joined else None
            if last is not None and last.end > one.start:
                continue  # a word that the compound before it has taken in
            joined.append(one)
            while joined[-1].label == "PART" and self._head_follows(words, joined[-1], found):
                joined[-1] = self._compound(words, joined[-1])
        return joined

    def _head_follows(self, words: list[str], one: Found, found: Sequence[Found]) -> bool:
        """Whether the next word is the head of a compound that this part begins."""
        if one.end >= len(words) or words[one.end] not in self.compound_heads:
            return False
        last = words[one.end - 1]
        if (last.endswith("s") and not last.endswith("ss") and last != "chassis") or last in self.no_modifiers:
            return False
        after = next((other for other in found if other.start == one.end), None)
        if after is None:
            return True
        verb = (
            after.label == "TASK" and after.form in ("base", "both", "s") and words[one.start - 1 : one.start] == ["to"]
        )
        return after.end == one.end + 1 and after.label in ("PART", "TASK") and not verb

    def _compound(self, words: list[str], one: Found) -> Found:
        name = " ".join(words[one.start : one.end + 1])
        term = self.vocabulary.phrases.get(name)
        if term is None or term.label != "PART":
            assert one.term is not None
            name = self.compounds.name_of(words[one.start : one.end + 1])
            term = replace(one.term, canonical=name, variants=(name,), part_of=one.term.canonical)
        return Found("PART", term.canonical, one.start, one.end + 1, term)

    def _weak(self, words: list[str], one: Found) -> bool:
        single = one.term is not None and one.end - one.start == 1
        return single and one.term is not None and is_weak(self.vocabulary, words[one.start], one.term)

    def _reading(
        self, words: list[str], start: int, end: int, phrase: str, term: Term, before: Sequence[Found]
    ) -> Found | None:
        """The reading of a phrase that fits its place."""
        other = self.vocabulary.other_readings.get(phrase)
        if (
            other is not None
            and other.label == "TASK"
            and term.label != "TASK"
            and self._verbal(words, start, end, term)
        ):
            term, other = other, term
        if not stands_as_noun(self.vocabulary, words, start, end - start, term):
            if other is None or (other.label != "TASK" and other.sort != "effect"):
                return None
            term, other = other, None
        form = self.vocabulary.forms.get(phrase) if term.label == "TASK" else None
        if form == "base" and start > 0 and words[start - 1] in self.determiners:
            ordered = words[start - 1] in _IN_ORDER and words[end : end + 1] != [] and words[end] in self.after_verb
            ordered = ordered and phrase != "machine"
            if not ordered:  # but "second | slacken all four bolts"
                return None  # "with a brush", "the drop": a noun that is no task
        if form == "ing" and other is not None and other.label == "FINISH" and _behind_a_finish(before, start):
            term, form, other = other, None, None  # "red | stitching"
        if term.label == "FINISH" and words[start].endswith("ed") and start and words[start - 1] in _WHO:
            return None  # "it smoked for an hour"
        if form in ("ed", "past") and self._finish_at(words, end, term, other):
            looks = other if other is not None and other.label == "FINISH" else self._look_of(term)
            return Found("FINISH", looks.canonical, start, end, looks)  # "brushed | stainless"
        if form == "ed" and self._describes(words, start, end, term, other):
            looks = other if other is not None and other.label == "FINISH" else self._look_of(term)
            return Found("FINISH", looks.canonical, start, end, looks)
        if form is not None and self._is_no_work(words, start, end, form, before):
            return None
        return Found(term.label, term.canonical, start, end, term, form, other=other)

    def _describes(self, words: Sequence[str], start: int, end: int, term: Term, other: Term | None) -> bool:
        """Whether a participle only says how a part looks: "with a | polished | yoke", "his | quilted | seat"."""
        if not (other is not None and other.label == "FINISH") and not (term.sort == "finishing" and term.leaves):
            return False
        return start > 0 and words[start - 1] in _DESCRIBED and self._is_part(words[end : end + 1])

    def _look_of(self, task: Term) -> Term:
        known = self.vocabulary.term(task.leaves, "FINISH")
        return known or Term(task.leaves or task.canonical, "FINISH", (task.canonical,), sort="process")

    def _finish_at(self, words: Sequence[str], place: int, task: Term, other: Term | None) -> bool:
        """Whether a participle stands before a finish that it describes: "brushed stainless", not "painted black"."""
        behind = self.vocabulary.phrases.get(words[place]) if place < len(words) else None
        if behind is None or behind.label != "FINISH":
            return False
        return (other is not None and other.label == "FINISH") or (
            task.sort == "finishing" and behind.sort == "material"
        )

    def _is_no_work(self, words: Sequence[str], start: int, end: int, form: str, before: Sequence[Found]) -> bool:
        """Whether a verb tells how a thing is or what it does by itself: "is bent", "they line up", "a clean rag"."""
        last = words[start - 1] if start else ""
        after = words[end] if end < len(words) else "."
        thing = self.vocabulary.phrases.get(after)
        if words[start] in self.faults and end - start == 1:
            return last in self.states and after not in self.behind_fault
        if last in ("it", "them") and after in _STOPS and form in ("base", "both"):
            return True  # "the last time you'll see it clean"
        if after == "of" and (form == "base" or (form == "ing" and last in ("a", "the"))):
            return True  # "one drop of oil", "a drawing of the loom"
        if words[start] == "fit" and last in ("n't", "not", "they", "it"):
            return after not in self.after_verb
        if form == "both":
            return last in self.determiners and thing is not None and thing.label == "PART" and last not in _IN_ORDER
        subject = before[-1] if before and before[-1].end == start and before[-1].label == "PART" else None
        if form != "base" or subject is None or not last.endswith("s") or words[start] in self.general:
            return False
        return after not in self.after_verb and thing is None

    def _verbal(self, words: list[str], start: int, end: int, term: Term) -> bool:
        """Whether a phrase that is also a task is meant as the task here."""
        form = self.vocabulary.forms.get(" ".join(words[start:end]), "noun")
        if form in ("ing", "ed", "past") and term.label == "PART":
            return self._verb_before(words, start)
        return form in ("base", "both", "s") and self._stands_as_verb(words, start, end)

    def _verb_before(self, words: list[str], start: int) -> bool:
        at = start - 1
        while at > 0 and words[at] in self.adverbs:
            at -= 1
        return at >= 0 and words[at] in self.before_verb

    def _stands_as_verb(self, words: list[str], start: int, end: int) -> bool:
        """ "we need to | seal | the tank": a verb's neighbours on the left, and an object on the right."""
        after = words[end] if end < len(words) else ""
        if start and words[start - 1] in _BEING and words[start - 2 : start - 1] not in (["do"], ["did"], ["does"]):
            return False  # "they are black the cable is not"
        left = start == 0 or self._verb_before(words, start)
        thing = self.vocabulary.phrases.get(after)
        return left and (after in self.after_verb or (thing is not None and thing.label == "PART" and start > 0))

    def _side_stands(self, words: list[str], found: list[Found], place: int) -> bool:
        """Whether "right", "back", "top" here is a side. Other labels always stand."""
        one = found[place]
        if one.label != "SIDE" or one.term is None:
            return True
        phrase = " ".join(words[one.start : one.end])
        if phrase == "back" and words[one.start - 1 : one.start] == ["and"]:
            return "front" in words[max(one.start - 4, 0) : one.start]
        if phrase == "back" and words[max(one.start - 1, 0)] in _OWN_BACKS:
            return False
        needs_part = one.term.needs == "part" or phrase in ("left", "right")
        if not needs_part:
            return True
        after = words[one.end] if one.end < len(words) else ""
        if (
            place + 1 < len(found)
            and found[place + 1].start == one.end
            and found[place + 1].label in ("PART", "SIDE", "FINISH")
        ):
            return (
                phrase not in ("left", "right")
                or one.start == 0
                or words[one.start - 1] in self.before_side
                or (found[place + 1].label == "PART")
            )
        if phrase == "left" and after in _LEAVES:
            return False
        if after in self.after_side and (
            phrase != "back" or after in ("one", "ones") or words[one.start - 1] in self.before_side
        ):
            return after not in ("i", "or") or (one.start > 0 and words[one.start - 1] in self.before_side)
        if phrase in self.sides_before_things or (phrase == "back" and words[one.start - 1] in _BACK_AGAIN):
            return False
        return (
            one.start > 0
            and words[one.start - 1] in self.before_side
            and after not in ("now", "place", "order", "then")
        )

    def _with_verbs_apart(self, words: list[str], found: list[Found]) -> list[Found]:
        """Add verbs whose particle stands apart: "take the tank off" is one task around its part."""
        if self.apart_verbs.isdisjoint(words):
            return found
        weak = {one.start for one in found if one.label == "TASK" and words[one.start] in self.general_apart}
        taken = {place for one in found for place in range(one.start, one.end)}
        tasks = {one.start for one in found if one.label == "TASK"}
        parts = {one.start for one in found if one.label == "PART"}
        added: list[Found] = []
        for place, word in enumerate(words):
            if word not in self.apart_verbs or (place in taken and place not in weak):
                continue
            if word in _LIGHT and place + 1 < len(words) and words[place + 1] in self.particles:
                continue  # "get on with it"
            hit = self._particle_after(words, place, taken, tasks, parts)
            if hit is not None:
                term, form, particle = hit
                added.append(Found("TASK", term.canonical, place, place + 1, term, form, particle=particle))
                taken.update((place, particle))
        places = {one.start for one in added}
        kept = [one for one in found if one.start not in places]
        return sorted([*kept, *added], key=lambda one: one.start) if added else found

    def _holds_a_thing(self, words: list[str], place: int, after: int, parts: set[int]) -> bool:
        """Whether something is between a light verb and its particle: "had the head off", not "had a day off"."""
        return any(at in parts or words[at] in _THINGS for at in range(place + 1, after))

    def _particle_after(
        self, words: list[str], place: int, taken: set[int], tasks: set[int], parts: set[int]
    ) -> tuple[Term, str, int] | None:
        for after in range(place + 1, min(place + 2 + APART_AT_MOST, len(words))):
            if words[after] in self.not_between or after in tasks:
                return None
            if words[after] in self.particles and after not in taken:
                two = self.vocabulary.apart.get((words[place], " ".join(words[after : after + 2])))
                hit = two or self.vocabulary.apart.get((words[place], words[after]))
                if hit is not None and (words[place] not in _LIGHT or self._holds_a_thing(words, place, after, parts)):
                    return hit[0], hit[1], after
        return None
