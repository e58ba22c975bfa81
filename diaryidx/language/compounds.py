"""Parts that no list knows, by the nouns they are made of: "water pipe", "pressure relief valve", "mounting bolts".

A compound keeps its own words as its name; its system is that of its first word or of its last one, where these tell.
Which words make names is data, in ``cues/readings.yaml``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diaryidx.language.found import Found
from diaryidx.vocabulary import inflections
from diaryidx.vocabulary.loader import Term, shipped_data

_SAFETY = {
    "fuel and intake": "fuel", "wheels and brakes": "brakes", "electrics": "electrics", "exhaust": "exhaust",
    "front end": "steering",
}  # fmt: skip


def _numbers(nouns: Iterable[str]) -> frozenset[str]:
    return frozenset(word for noun in nouns for word in inflections.plural_and_singular(noun))


class Compounds:
    """Joins a noun with the modifiers before it that make it another part than the noun alone."""

    def __init__(self) -> None:
        data = shipped_data("readings.yaml")
        self.system_of: dict[str, str] = {
            word: system for system, words in data["modifiers of compounds"].items() for word in words
        }
        self.heads = _numbers([*data["heads of compounds"], *data["nouns behind modifiers"]])
        self.behind_liquids = _numbers(data["behind liquids"])
        self.liquids = frozenset(data["no modifiers"])
        self.of_many = _numbers(data["heads of many systems"])
        self.said_of_many = _numbers(data["said of many"])
        self.before_verb = frozenset(data["before a verb"]) - frozenset(data["determiners"]) - {"and", "first", "next"}

    def __call__(self, words: Sequence[str], found: Sequence[Found]) -> list[Found]:
        """The terms with such compounds in place of what they cover.

        Arguments:
            words: of the text.
            found: terms in reading order.
        """
        if self.system_of.keys().isdisjoint(words):
            return list(found)
        at = {place: one for one in found for place in range(one.start, one.end)}
        joined: list[Found] = []
        for place, word in enumerate(words):
            if word in self.heads and (one := self._compound(words, place, at)) is not None:
                joined.append(one)
        taken = {place for one in joined for place in range(one.start, one.end)}
        kept = [one for one in found if taken.isdisjoint(range(one.start, one.end))]
        return sorted([*kept, *joined], key=lambda one: one.start) if joined else kept

    def _compound(self, words: Sequence[str], place: int, at: dict[int, Found]) -> Found | None:
        """The compound whose last word is at ``place``."""
        head = at.get(place)
        if head is not None and (head.end != place + 1 or (head.label != "PART" and place > head.start)):
            return None
        if place + 1 < len(words) and words[place + 1] in self.heads and place + 1 not in at:
            return None  # the noun behind it is the head
        start = head.start if head is not None else place
        first = start
        while first and self._modifies(words, first - 1, at):
            first -= 1
        if first == start or (words[first] in self.liquids and words[first + 1] not in self.behind_liquids):
            return None
        name = self.name_of(words[first : place + 1])
        return Found("PART", name, first, place + 1, self._term(words, first, place, name, head))

    def _modifies(self, words: Sequence[str], place: int, at: dict[int, Found]) -> bool:
        """Whether the word at ``place`` is a modifier here, and not a verb, a side or the end of another name."""
        if words[place] not in self.system_of:
            return False
        one = at.get(place)
        if one is None:
            return True
        if one.end - one.start > 1 or one.label not in ("PART", "TASK"):
            return False
        if one.label == "PART":
            return words[place] in self.liquids
        return not place or words[place - 1] not in self.before_verb

    def name_of(self, words: Sequence[str]) -> str:
        """The name of a compound: its words, in the singular but for what comes in numbers ("mounting bolts")."""
        forms = inflections.plural_and_singular(words[-1])
        last = max(forms, key=len) if words[-1] in self.said_of_many else min(forms, key=len)
        return " ".join([*words[:-1], last])

    def _term(self, words: Sequence[str], first: int, place: int, name: str, head: Found | None) -> Term:
        known = head.term if head is not None and head.label == "PART" else None
        systems = [self.system_of[word] for word in words[first:place] if self.system_of.get(word, "any") != "any"]
        if systems:
            return Term(name, "PART", (name,), system=systems[0], safety=_SAFETY.get(systems[0]))
        if known is None or words[place] in self.of_many:
            return Term(name, "PART", (name,))
        return Term(name, "PART", (name,), system=known.system, safety=known.safety, part_of=known.part_of)
