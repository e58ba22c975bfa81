"""What leaves a price or a date open, in the words that were used: "just under", "hopefully", "pencilled in".

The words are data (``cues/hedges.yaml``); prices and dates themselves are read by ``measures``.
"""

from __future__ import annotations

from diaryidx.language.found import Found
from diaryidx.language.patterns import Row, patterns
from diaryidx.language.told import Told

_FILE = "hedges.yaml"
_REACH = 6  # words before a price in which its hedge may begin; own choice


def price_hedge(one: Told, price: Found) -> str | None:
    """The words that make a price approximate, those straight before it or straight behind it; None for a firm price.

    Arguments:
        one: the sentence.
        price: a PRICE found in it; words such as "about" may be part of it.
    """
    first = max(0, price.start - _REACH)
    before = patterns(_FILE, "before a price")
    for at in range(first, price.end):
        match = before.at_start(Row.of(one.words[at : price.end]))
        if match and price.start <= at + match.end < price.end:
            return one.quote(at, at + match.end).strip(" ,").lower()
    behind = patterns(_FILE, "behind a price").at_start(Row.of(one.words[price.end :]))
    inside = next(patterns(_FILE, "behind a price").find(Row.of(one.words[price.start : price.end])), None)
    if behind:
        return one.quote(price.end, price.end + behind.end).lower()
    return one.quote(price.start + inside.start, price.start + inside.end).lower() if inside else None


def date_hedge(one: Told, date: Found | None = None) -> str | None:
    """The words that leave a date or a promise open; None where nothing does.

    Arguments:
        one: the sentence.
        date: a DATE found in it, if it has one.
    """
    dates = [(found.start, found.end, "DATE") for found in ([date] if date else one.labelled("DATE"))]
    match = patterns(_FILE, "date").first(Row.of(one.words, dates))
    return one.quote(match.start, match.end).strip(" ,.").lower() if match else None
