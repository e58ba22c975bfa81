"""Spoken numbers and measures: the one reader of quantities that every other room uses. Pure text, no spaCy.

``read_quantities`` finds them in a row of words, ``write_quantities`` writes a text with them in figures. What number
words can mean is in ``spoken``, the forms in which they are said in ``forms.yaml`` and ``units.yaml``, the machine that
runs these in ``forms``, values and written forms in ``making``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from diaryidx.transcript.numbers.forms import find_forms, phrase_list
from diaryidx.transcript.numbers.making import Quantity, in_the_unit_of, made, measure_words, measured_by, other_unit
from diaryidx.transcript.numbers.spoken import is_number_word, read_number, read_ordinal, readings
from diaryidx.vocabulary.spoken_words import SpokenWord, split_words

__all__ = [
    "Quantity",
    "hyphens_in",
    "is_number_word",
    "measure_words",
    "measured_by",
    "other_unit",
    "read_number",
    "read_ordinal",
    "read_quantities",
    "readings",
    "write_quantities",
]


def read_quantities(
    words: Sequence[str],
    *,
    currency: str = "GBP",
    job_numbers: frozenset[str] = frozenset(),
    hyphens: frozenset[int] = frozenset(),
) -> list[Quantity]:
    """Every number, price, measure, size, date and time in a text, in reading order.

    Arguments:
        words: lower-case words, as ``split_words`` cuts them.
        currency: that of prices which name none, as ISO 4217 code.
        job_numbers: those of the job book, so that "two three oh four" is known for one.
        hyphens: places of words that a hyphen joins to the word before, see ``hyphens_in``.
    Returns: quantities that do not overlap.
    """
    found = [
        made(match, words, currency)
        for match in find_forms(words, job_numbers, hyphens)
        if match.form.kind != "nothing"
    ]
    return [_told_before(one, found[:place], words) for place, one in enumerate(found)]


def hyphens_in(text: str, words: Sequence[SpokenWord]) -> frozenset[int]:
    """The places of words that a hyphen joins to the word before; ``split_words`` drops it, a part number keeps it."""
    return frozenset(
        place
        for place, (before, word) in enumerate(pairwise(words), start=1)
        if word.start == before.end + 1 and text[before.end] in "-–"
    )


_INHERITED = ("pressure", "grit", "length", "clearance", "torque", "voltage", "temperature", "volume", "viscosity")


def _told_before(one: Quantity, earlier: Sequence[Quantity], words: Sequence[str]) -> Quantity:
    """A bare number in the unit of the last measure, where no thing follows that it could count; else as it is."""
    last = next((before for before in reversed(earlier) if before.kind not in ("number", "duration")), None)
    if last is None or one.kind not in ("number", "date") or not _stands_bare(one, words):
        return one
    if one.form == "day alone":
        ordinal = last.kind == "ordinal"
        return replace(one, kind="ordinal", value={"amount": float(one.value["day"])}) if ordinal else one
    return (
        in_the_unit_of(one, last) if last.kind in _INHERITED and "unit" in last.value and one.kind == "number" else one
    )


def _stands_bare(one: Quantity, words: Sequence[str]) -> bool:
    before, behind = phrase_list("before a bare number"), phrase_list("behind a bare number")
    at_end = one.end == len(words) or next(behind.at(words, one.end), None) is not None
    return at_end and before.before(words, one.start) > 0


def write_quantities(
    text: str,
    *,
    currency: str = "GBP",
    job_numbers: frozenset[str] = frozenset(),
    keep: Callable[[str], Sequence[tuple[int, int]]] = lambda text: (),
) -> str:
    """A text with what was said in numbers as people write it: "120/70-17", "£39.99", "47 Nm".

    Small plain numbers stay words ("two new tyres"), and so does what reads better as it was said ("half past nine").

    Arguments:
        text: as heard or as repaired.
        currency, job_numbers: as for ``read_quantities``.
        keep: which stretches of characters to leave alone, such as the names of bikes; asked only if it matters.
    """
    spoken = split_words(text)
    found = read_quantities(
        [word.word for word in spoken], currency=currency, job_numbers=job_numbers, hyphens=hyphens_in(text, spoken)
    )
    places = [(spoken[one.start].start, spoken[one.end - 1].end, one.written) for one in found]
    changes = [(start, end, new) for start, end, new in places if new and _bare(text[start:end]) != _bare(new)]
    kept = keep(text) if changes else ()
    pieces, done = [], 0
    for start, end, new in changes:
        if not any(start < last and first < end for first, last in kept):
            pieces += [text[done:start], _capital_of(text[start], new)]
            done = end
    return "".join([*pieces, text[done:]])


def _capital_of(first: str, new: str) -> str:
    """What is written anew with the capital that its first letter had at the beginning of a sentence."""
    return first + new[1:] if first.lower() == new[0] else new


def _bare(text: str) -> str:
    """A text without its spaces, but for those that keep figures apart ("job 2 304")."""
    return _SPACES.sub("", text.lower())


_SPACES = re.compile(r"\s+(?!\d)|(?<!\d)\s+")
