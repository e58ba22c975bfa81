"""Tasks beyond the list: what goes with a known one ("machined flat", "fully welded"), and work that no list knows.

A participle that no list knows is work on a part only in a frame that says so: "the radiator's being recored", "we're
having the tank roll formed", "it needs sanitising". Its name is its own base form. The words of the frames, and the
everyday participles that are no work, are data in ``cues/readings.yaml``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diaryidx.language.found import Found
from diaryidx.vocabulary.loader import Term, Vocabulary, shipped_data

_VERBAL = ("ed", "past", "ing", "base")
_ENDS = frozenset(".!?;:")
FAR = 9  # words between a part and the participle that is said of it
_STEM = 3  # letters of the shortest stem
_VOWELS = "aeiou"


class Workings:
    """Widens tasks by their adverbs, and adds those that no list knows."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        data, grammar = shipped_data("readings.yaml"), shipped_data("grammar.yaml")
        self.phrases = vocabulary.phrases
        self.results = frozenset(data["results"])
        self.leading = frozenset(data["results that lead on"])
        self.not_behind = frozenset(data["not behind a result"])
        self.manners = frozenset(data["manners"])
        self.general = frozenset(data["general verbs"])
        self.before = frozenset(data["before an unknown task"])
        self.before_ing = frozenset(data["before unknown work"])
        self.causatives = frozenset(data["causatives"])
        self.adverbs = frozenset(grammar["adverbs"])
        classed = {word for words in grammar["classes"].values() for word in words}
        self.ordinary = frozenset(data["no tasks"]) | frozenset(data["no work"]) | classed | self.general

    def __call__(self, words: Sequence[str], found: list[Found]) -> list[Found]:
        """The terms with wider and further tasks.

        Arguments:
            words: of the text.
            found: terms in reading order.
        """
        unknown = self._unknown(words, found)
        if unknown:
            found = sorted([*found, *unknown], key=lambda one: one.start)
        if self.results.isdisjoint(words) and self.leading.isdisjoint(words) and self.manners.isdisjoint(words):
            return found
        wide = [self._widened(words, one, found) if one.label == "TASK" else one for one in found]
        ends = [(one.start, one.end) for one in wide if one.label == "TASK"]
        return [
            one
            for one in wide
            if not any(start < one.start < end or (start <= one.start and one.end < end) for start, end in ends)
        ]

    # --- known tasks -------------------------------------------------------------------------------------------------

    def _widened(self, words: Sequence[str], one: Found, found: Sequence[Found]) -> Found:
        if one.form not in _VERBAL or words[one.start] in self.general or one.particle >= 0:
            return one
        start, end = one.start, one.end
        if start and words[start - 1] in self.manners and one.form in ("ed", "past"):
            start -= 1
        while end < len(words) and self._is_result(words, end, found):
            end += 1
        return replace(one, start=start, end=end) if (start, end) != (one.start, one.end) else one

    def _is_result(self, words: Sequence[str], place: int, found: Sequence[Found]) -> bool:
        word = words[place]
        if word not in self.results and word not in self.leading:
            return False
        after = words[place + 1] if place + 1 < len(words) else "."
        if any(one.start == place + 1 and one.label in ("PART", "FINISH", "SIDE", "PERSON") for one in found):
            return False
        return word in self.results or after not in self.not_behind

    # --- unknown ones ------------------------------------------------------------------------------------------------

    def _unknown(self, words: Sequence[str], found: Sequence[Found]) -> list[Found]:
        parts = [one for one in found if one.label == "PART"]
        if not parts:
            return []
        taken = {place for one in found for place in range(one.start, one.end)}
        made = []
        for place, word in enumerate(words):
            if len(word) < _STEM + 2 or not word.endswith(("ed", "ing")) or place in taken or word in self.ordinary:
                continue
            form = "ed" if word.endswith("ed") else "ing"
            if word not in self.phrases and self._is_work(words, place, form, parts):
                name = _base(word)
                made.append(Found("TASK", name, place, place + 1, Term(name, "TASK", (word,)), form))
        return made

    def _is_work(self, words: Sequence[str], place: int, form: str, parts: Sequence[Found]) -> bool:
        at = place - 1
        while at > 0 and words[at] in self.adverbs:
            at -= 1
        before = words[at] if at >= 0 else ""
        near = [one for one in parts if one.end <= place <= one.end + FAR]
        if not near or not _ENDS.isdisjoint(words[near[-1].end : place]):
            return False
        if form == "ing":
            return before in self.before_ing
        if before in self.before or self._is_remade(words[place]):
            return True
        last = near[-1]
        caused = not self.causatives.isdisjoint(words[max(last.start - 4, 0) : last.start])
        return caused and last.end == at + 1  # "we're having the radiator | recored"

    def _is_remade(self, word: str) -> bool:
        """Whether a participle is "re" before something of the trade: "rechromed", "recored"."""
        stem = word[2:-2] if word.startswith("re") else ""
        return len(stem) > _STEM and any(form in self.phrases for form in (stem, stem + "e", stem + "ed", stem[:-1]))


def _base(word: str) -> str:
    """The base form of a regular verb, as well as letters tell: "recored" and "recoring" are "recore"."""
    stem = word[:-2] if word.endswith("ed") else word[:-3]
    if len(stem) < _STEM:
        return word
    if stem[-1] == "i":
        return stem[:-1] + "y"
    if stem[-1] == stem[-2] and stem[-1] not in "lszfe":
        return stem[:-1]
    consonant_between = stem[-1] not in _VOWELS + "wxy" and stem[-2] in _VOWELS and stem[-3] not in _VOWELS
    ending = stem[-1] in "cgvsuz" or stem.endswith(("bl", "dl", "pl", "tl", "fl"))
    return stem + "e" if consonant_between or (ending and not stem.endswith(("ss", "ng"))) else stem
