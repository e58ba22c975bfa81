"""A question taken apart: what it asks about, how much each thing tells, and what sort of answer is wanted."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

from diaryidx.faq.meanings import (
    Reader,
    all_stems,
    everyday,
    everyday_set,
    meaning_phrases,
    meanings,
    phrases,
    says_nothing,
    ways_of_asking,
)
from diaryidx.records import Label
from diaryidx.vocabulary.inflections import plural_and_singular
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms
from diaryidx.vocabulary.spoken_words import SpokenWord, split_words

#: Nobody asks about more things than this at once; what is longer is a pasted letter.
MOST_CONCEPTS = 40
#: How much a thing counts by its label, before it is weighed by how rarely films say it (our own choice).
_WEIGHTS: dict[Label, float] = {
    "PART": 2.0, "PRODUCT": 2.0, "NICKNAME": 1.5, "SUPPLIER": 1.5, "MODEL": 1.0, "MAKE": 0.7, "TASK": 1.0,
    "FINISH": 0.6, "SIDE": 0.25, "PERSON": 0.3,
}  # fmt: skip
_WORD_WEIGHT = 1.0
#: How far another way of saying it counts (our own choice): an everyday meaning; the bare word of a task; a part of
#: what is asked about; what it is part of; both halves of a compound; another task that the same film shows.
_MEANING, _BARE_WORD, _PART_OF_IT, _WHOLE_OF_IT, _HALVES, _TOGETHER = 0.85, 0.8, 0.75, 0.35, 0.8, 0.85
#: Beside a part, a word that no film says is rather another way of putting it than another thing (our own choice).
_NEVER_SAID = 0.5
#: The least that a thing weighs however often films say it, as a share of one that they never say (our own choice).
_LEAST_IDF = 0.15
_BIKE_LABELS = ("NICKNAME", "MODEL", "MAKE", "JOB")


@dataclass(frozen=True, slots=True)
class Concept:
    """One thing that is asked about.

    ``ways`` are the sets of senses by which a text may say it, each with how far it then does, from 0 to 1. ``label``
    is that of its term, None for other words; ``deed`` whether it is an everyday word for something done,
    ``of_the_shop`` for a matter of the shop itself. ``look_for`` are the phrases to search for.
    """

    said: str
    ways: tuple[tuple[frozenset[str], float], ...]
    label: Label | None = None
    names: frozenset[str] = frozenset()
    look_for: tuple[str, ...] = ()
    weight: float = 1.0
    deed: bool = False
    of_the_shop: bool = False
    vague: bool = False
    place: int = 0

    def strength(self, senses: frozenset[str]) -> float:
        """How far a text of these senses says it, from 0 to 1."""
        return max((far for needed, far in self.ways if needed <= senses), default=0.0)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, taken apart.

    ``kinds`` are the ways of asking it (keys of ``asks`` in `everyday.yaml`); ``of_the_shop`` whether it may be about
    what the shop does; ``task`` what is to be done, where a way of doing it is asked for.
    """

    text: str
    concepts: tuple[Concept, ...]
    kinds: frozenset[str] = frozenset()
    of_the_shop: bool = False
    task: Concept | None = None

    @property
    def main(self) -> tuple[Concept, ...]:
        """The parts and products that it is about."""
        return tuple(one for one in self.concepts if one.label in ("PART", "PRODUCT"))

    @property
    def names_a_bike(self) -> bool:
        """Whether it is about one bike or a sort of bikes."""
        return any(one.label in _BIKE_LABELS for one in self.concepts)


def take_apart(question: str, reader: Reader) -> Asked:
    """Take a question apart, without weights.

    :param question: without control characters; openings that are only manners are passed over.
    """
    text = _without_manners(question)
    found = concepts(text, reader.vocabulary)
    stems = all_stems(split_words(text))
    kinds = kinds_of(text)
    of_the_shop = any(one.of_the_shop for one in found) or (
        "how_to" not in kinds and phrases("asks_the_shop").within(stems)
    )
    task = _task(found, text) if "how_to" in kinds else None
    return Asked(text, tuple(found), kinds, of_the_shop, task)


def weighed(asked: Asked, count: Callable[[Iterable[str]], int], sentences: int) -> Asked:
    """Weigh what is asked about by how rarely films say it.

    Inverse document frequency (Spärck Jones, "A statistical interpretation of term specificity", J. Doc. 28, 1972),
    scaled so that a word never said has 1.

    :param count: in how many sentences of all films any of some phrases is said.
    :param sentences: how many there are.
    """
    most = math.log((sentences + 1) / 0.5)

    def weight(one: Concept) -> float:
        times = count(one.look_for)
        by_label = _WEIGHTS.get(one.label, _WORD_WEIGHT) if one.label else _WORD_WEIGHT
        if not times and not one.label and asked.main:
            by_label *= _NEVER_SAID
        return by_label * max(math.log((sentences + 1) / (times + 0.5)) / most, _LEAST_IDF)

    weighed_concepts = {one: replace(one, weight=weight(one)) for one in asked.concepts}
    task = weighed_concepts[asked.task] if asked.task else None
    return replace(asked, concepts=tuple(weighed_concepts.values()), task=task)


def _task(found: Sequence[Concept], text: str) -> Concept | None:
    """What is to be done: the first such thing behind "how do I"; None where it is nothing in particular ("fix")."""
    asking = [end for _, end, name in ways_of_asking("asked").find(all_stems(split_words(text))) if name == "how_to"]
    behind = [one for one in found if one.place >= min(asking, default=0)]
    task = next((one for one in (*behind, *found) if one.label == "TASK" or one.deed), None)
    return None if task is None or task.vague else task


def _without_manners(question: str) -> str:
    words = split_words(question)
    stems = all_stems(words)
    for start in range(min(len(words), 12)):
        if length := phrases("manners").begins(stems[start:]):
            rest = question[words[start + length - 1].end :]
            return rest if len(split_words(rest)) > 2 else question
    return question


def kinds_of(question: str) -> frozenset[str]:
    """The ways of asking that a question has: keys of ``asks`` in `everyday.yaml`."""
    stems = all_stems(split_words(question))
    found = list(ways_of_asking("asked").find(stems))
    longest = {
        name
        for start, end, name in found
        if not any(first <= start and end <= behind and behind - first > end - start for first, behind, _ in found)
    }
    if stems and stems[0] in everyday_set("open_questions"):
        longest.discard("whether")  # "what should I use" is no question of yes or no
    return frozenset(longest - {name for _, _, name in ways_of_asking("not_asked").find(stems)})


def _asking(stems: Sequence[str]) -> set[int]:
    """The places of words that only say what sort of answer is wanted; "what pressure" says more than that."""
    found = ways_of_asking("asked").find(stems)
    return {
        place for start, end, name in found if name in everyday()["asked_by_words_alone"] for place in range(start, end)
    }


# --- concepts --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Some words of a question that stand for one thing."""

    first: int
    end: int
    term: Term | None = None
    meanings: tuple[str, ...] = ()


def concepts(question: str, vocabulary: Vocabulary) -> list[Concept]:
    """Cut a question into what it asks about, each thing once, in reading order.

    Terms of the trade first; two that make the name of a part stand for that ("oil in my forks" is fork oil). Then
    everyday phrases, then all words that say anything.
    """
    words = split_words(question)
    stems = all_stems(words)
    stretches = _phrases_apart(_term_stretches(question, words, vocabulary), stems)
    compounds, used = _compounds(words, stretches, vocabulary)
    found: dict[str, Concept] = {}
    for one in sorted(stretches, key=lambda stretch: stretch.first):
        if one in used or len(found) >= MOST_CONCEPTS:
            continue
        concept = _concept(one, words, stems, vocabulary)
        found.setdefault((concept.names and min(concept.names)) or concept.said, concept)
    taken = _asking(stems) | {place for one in stretches for place in range(one.first, one.end)}
    for place, word in enumerate(words):
        if place not in taken and not says_nothing(word.word) and len(found) < MOST_CONCEPTS:
            ways = ((frozenset((stems[place],)), 1.0),)
            found.setdefault(stems[place], Concept(word.word, ways, look_for=(word.word,)))
    return [*compounds, *found.values()]


def _term_stretches(question: str, words: Sequence[SpokenWord], vocabulary: Vocabulary) -> list[_Stretch]:
    starts = {word.start: place for place, word in enumerate(words)}
    ends = {word.end: place + 1 for place, word in enumerate(words)}
    return [
        _Stretch(starts[start], ends[end], term)
        for start, end, term in find_terms(vocabulary, question)
        if not all(says_nothing(word.word) for word in words[starts[start] : ends[end]])
    ]


def _phrases_apart(terms: Sequence[_Stretch], stems: Sequence[str]) -> list[_Stretch]:
    """Terms and everyday phrases that do not overlap, the longest first; a phrase just as long adds its meaning."""
    asking = _asking(stems)
    said: dict[tuple[int, int], list[str]] = {}
    for start, end, name in meanings().find(stems):
        if not asking.issuperset(range(start, end)):
            said.setdefault((start, end), []).append(name)
    stretches = [replace(one, meanings=tuple(said.pop((one.first, one.end), ()))) for one in terms]
    stretches += [_Stretch(start, end, meanings=tuple(names)) for (start, end), names in said.items()]
    kept: list[_Stretch] = []
    for one in sorted(stretches, key=lambda stretch: (stretch.first - stretch.end, stretch.term is None)):
        if all(one.end <= other.first or other.end <= one.first for other in kept):
            kept.append(one)
    return kept


def _compounds(
    words: Sequence[SpokenWord], stretches: Sequence[_Stretch], vocabulary: Vocabulary
) -> tuple[list[Concept], set[_Stretch]]:
    """Parts that two words of the question name together, and the stretches that they take the place of."""
    parts = [one for one in stretches if one.term and one.term.label == "PART"][:6]
    for one, other in permutations(parts, 2):
        head, tail = words[one.first].word, words[other.first].word
        for singular in plural_and_singular(head) if other.end - other.first == 1 else ():
            term = vocabulary.phrases.get(f"{singular} {tail}")
            if term and term.label == "PART" and term not in (one.term, other.term):
                assert one.term and other.term
                whole = _of_term(term, f"{head} {tail}", vocabulary)
                halves = frozenset((f"={one.term.canonical.lower()}", f"={other.term.canonical.lower()}"))
                look_for = (*whole.look_for, head, tail)
                return [replace(whole, ways=(*whole.ways, (halves, _HALVES)), look_for=look_for)], {one, other}
    return [], set()


def _concept(one: _Stretch, words: Sequence[SpokenWord], stems: Sequence[str], vocabulary: Vocabulary) -> Concept:
    said = " ".join(word.word for word in words[one.first : one.end])
    found = _of_term(one.term, said, vocabulary) if one.term else Concept(said, (), look_for=(said,))
    ways = list(found.ways)
    alone = one.end - one.first == 1
    if alone and (one.term is None or one.term.label == "TASK"):
        ways.append((frozenset((stems[one.first],)), _BARE_WORD if one.term else 1.0))
    ways += [(frozenset((f"~{name}",)), _MEANING if alone else 1.0) for name in one.meanings]
    look_for = dict.fromkeys((*found.look_for, *(phrase for name in one.meanings for phrase in meaning_phrases(name))))
    return replace(
        found,
        ways=tuple(ways),
        look_for=tuple(look_for),
        deed=not everyday_set("deeds").isdisjoint(one.meanings),
        of_the_shop=not everyday_set("shop_matters").isdisjoint(one.meanings),
        vague=not everyday_set("vague_deeds").isdisjoint(one.meanings),
        place=one.first,
    )


def _of_term(term: Term, said: str, vocabulary: Vocabulary) -> Concept:
    """A term with its other readings, what is part of it, what it is part of, and tasks shown together with it."""
    second = vocabulary.other_readings.get(said)
    readings = [one for one in (term, second) if one]
    ways = [(one.canonical, 1.0) for one in readings]
    ways += [(one.canonical, _PART_OF_IT) for one in _parts_of(term, vocabulary)]
    if term.part_of:
        ways.append((term.part_of, _WHOLE_OF_IT))
    together = everyday()["shown_together"]
    if term.label == "TASK" and term.canonical in together:
        ways += [(name, _TOGETHER) for name in together if name != term.canonical]
    return Concept(
        said,
        tuple((frozenset((f"={name.lower()}",)), far) for name, far in ways),
        term.label,
        frozenset(one.canonical.lower() for one in readings),
        tuple(dict.fromkeys((said, *(phrase for one in readings for phrase in (one.canonical, *one.variants))))),
    )


def _parts_of(term: Term, vocabulary: Vocabulary) -> list[Term]:
    if term.label != "PART":
        return []
    return [one for one in vocabulary.terms if one.part_of == term.canonical]
