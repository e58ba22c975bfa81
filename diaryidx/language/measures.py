"""Component ``measures``: prices, dates, times, measures and quantities, as ``transcript.numbers`` reads them.

What a spoken number means is decided there, in one place for the whole product; here it only gets the label by which
the other components know it. What day a date is depends on when it was said, see ``dates``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.found import Found
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.records import Label
from diaryidx.transcript.numbers import Quantity, hyphens_in, read_quantities
from diaryidx.vocabulary.loader import Vocabulary, shipped_data
from diaryidx.vocabulary.spoken_words import SpokenWord

_LABELS: dict[str, Label] = {
    "money": "PRICE", "date": "DATE", "time": "TIME", "quantity": "QUANTITY", "part number": "NUMBER",
    "job number": "NUMBER",
}  # fmt: skip
_BEFORE_A_DATE = ("in", "since", "until", "till", "before", "after")
_MOST_COUNTED = 1000  # more than that is no count of parts


@Language.factory("measures", requires=["doc._.terms"], assigns=["doc._.measures"])
def make_measures(nlp: Language, name: str) -> Measures:
    """Build the component; prices without a currency word are in the shop's currency."""
    return Measures(vocabulary_of(nlp))


class Measures:
    """Finds PRICE, DATE, TIME, MEASURE, QUANTITY and NUMBER. Sets ``doc._.measures`` (Found in reading order)."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.currency = vocabulary.currency
        data = shipped_data("measures.yaml")
        self.before_date = frozenset(data["before a date"])
        self.day_parts = frozenset(data["parts of a day"])
        self.prepositions = frozenset(data["prepositions of a date"])
        self.slang = frozenset(data["money in one word"])
        self.articles = frozenset(data["articles of a date"])
        self.keep_article = frozenset(data["keep their article"])
        self.counting: dict[str, str] = data["quantities"]
        self.before_count = frozenset(data["before a count"])
        self.several = frozenset(data["several"])
        self.near_days = {tuple(phrase.split()): int(days) for phrase, days in data["near days"].items()}

    def __call__(self, doc: Doc) -> Doc:
        """Find the measures of one text."""
        words: list[str] = doc.user_data["words"]
        taken = {place for one in doc._.terms if one.label != "SIDE" for place in range(one.start, one.end)}
        people = {one.start for one in doc._.terms if one.label == "PERSON"}
        found = []
        places = [SpokenWord(word, *place) for word, place in zip(words, doc.user_data["places"], strict=True)]
        hyphens = hyphens_in(doc.user_data["original"], places)
        for one in read_quantities(words, currency=self.currency, hyphens=hyphens):
            label = _label(one, words)
            if label == "DATE" and one.start in people and one.end - one.start == 1 and not _dated(words, one.start):
                continue  # June the welder, not June the month
            if label is not None and (label == "DATE" or one.start not in taken):
                found.append(Found(label, one.canonical, one.start, one.end, value=_value(one)))
        doc._.measures = self._with_counts(words, [self._whole_date(words, one) for one in found])
        return doc

    def _whole_date(self, words: Sequence[str], one: Found) -> Found:
        """A date with what belongs to it ("early next week", "tuesday evening") and without its preposition."""
        if one.label == "PRICE" and words[one.start] == "a" and words[one.end - 1] in self.slang:
            return replace(one, start=one.start + 1)
        if one.label != "DATE":
            return one
        start, end = one.start, one.end
        if words[start] in self.prepositions or self._has_article(words, start):
            start += 1
        elif words[start] == "coming" and start and words[start - 1] in ("is", "are", "'s", "'re"):
            start += 1  # "is coming | wednesday"
        elif start and words[start - 1] in self.before_date:
            start -= 1
        end += end < len(words) and words[end] in self.day_parts
        return replace(one, start=start, end=end, canonical=" ".join(words[start:end]))

    def _has_article(self, words: Sequence[str], start: int) -> bool:
        """Whether a date begins with an article that is none of its own: "the | 20th", not "the morn"."""
        return words[start] in self.articles and " ".join(words[start : start + 2]) not in self.keep_article

    def _with_counts(self, words: Sequence[str], found: Sequence[Found]) -> list[Found]:
        """With "both", "a pair", "a set of", "two sets" as counts, without "a" and "of"; and with "the other day"."""
        kept = {one.start: one for one in found if not self._counted(words, one)}
        covered = {place for one in kept.values() if one.label != "QUANTITY" for place in range(one.start, one.end)}
        for place, word in enumerate(words):
            if place in covered:
                continue
            if word in self.counting and self._counts_here(words, place):
                name = self.counting[word]
                kept[place] = Found("QUANTITY", name, place, place + 1, value={"amount": _amount(name)})
            elif word in self.several and (count := kept.get(place - 1)) is not None and count.label == "QUANTITY":
                name = f"{count.canonical} {word}"
                kept[place - 1] = Found("QUANTITY", name, place - 1, place + 1, value={"amount": None})
            for phrase, days in self.near_days.items():
                if word == phrase[0] and tuple(words[place : place + len(phrase)]) == phrase:
                    value = {"days": days, "loose": True, "text": " ".join(phrase)}
                    kept[place] = Found("DATE", " ".join(phrase), place, place + len(phrase), value=value)
        return [kept[place] for place in sorted(kept)]

    def _counts_here(self, words: Sequence[str], place: int) -> bool:
        """Whether "set", "pair" count here: "a set of pads", not "set the gap"."""
        if words[place] == "both":
            return words[place + 1 : place + 2] not in (["sides"], ["ends"])
        before = words[place - 1] if place else "."
        return before in self.before_count or words[place + 1 : place + 2] == ["of"] or words[place] == "pair"

    def _counted(self, words: Sequence[str], one: Found) -> bool:
        """Whether a count is one of the words that count parts, which are read apart."""
        return one.label == "QUANTITY" and not self.counting.keys().isdisjoint(words[one.start : one.end])


def _dated(words: Sequence[str], place: int) -> bool:
    """Whether the word before a month's name makes it a date: "in june", "last june"."""
    before = words[place - 1] if place else ""
    return before in _BEFORE_A_DATE or before in ("by", "of", "next", "last", "this", "early", "late", "mid", "for")


def _amount(name: str) -> float | None:
    return float(name) if name.isdigit() else None


def _label(one: Quantity, words: Sequence[str]) -> Label | None:
    """The label of a quantity; None for what counts nothing: "the second one", "page twelve hundred"."""
    if one.kind == "year":
        return "DATE" if one.start and words[one.start - 1] in _BEFORE_A_DATE else "NUMBER"
    if one.kind == "ordinal":
        return None
    if one.kind == "number":
        return _label_of_number(one, words)
    return _LABELS.get(one.kind, "MEASURE")


def _label_of_number(one: Quantity, words: Sequence[str]) -> Label | None:
    amount = one.value["amount"]
    if "figures" in one.value:
        return "NUMBER"
    if one.form != "number in pairs" and amount == int(amount) and amount < _MOST_COUNTED:
        return None if words[one.start : one.end] == ["one"] else "QUANTITY"  # "the front one" counts nothing
    return None


def _value(one: Quantity) -> dict[str, Any]:
    return {"kind": one.kind, **one.value} if one.kind in ("year", "part number", "job number") else one.value
