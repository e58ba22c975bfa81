"""Component ``measures``: prices, dates, times, measures and quantities, as ``transcript.numbers`` reads them.

What a spoken number means is decided there, in one place for the whole product; here it only gets the label by which
the other components know it. What day a date is depends on when it was said, see ``dates``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.found import Found
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.records import Label
from diaryidx.transcript.numbers import Quantity, read_quantities
from diaryidx.vocabulary.loader import Vocabulary

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

    def __call__(self, doc: Doc) -> Doc:
        """Find the measures of one text."""
        words: list[str] = doc.user_data["words"]
        taken = {place for one in doc._.terms if one.label != "SIDE" for place in range(one.start, one.end)}
        found = []
        for one in read_quantities(words, currency=self.currency):
            label = _label(one, words)
            if label is not None and (label == "DATE" or one.start not in taken):
                found.append(Found(label, one.canonical, one.start, one.end, value=_value(one)))
        doc._.measures = found
        return doc


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
