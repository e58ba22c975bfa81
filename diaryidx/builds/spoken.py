"""Job numbers and registrations as they are spelled out on film: "job two oh nine", "kilo lima nineteen"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diaryidx.builds.word_lists import word_set
from diaryidx.transcript.numbers import is_number_word, readings
from diaryidx.transcript.numbers.spoken import is_letter, letter

_TOKEN = re.compile(r"[^\W_]+(?:'[^\W_]+)?")
_SHORTEST_BY_DIGIT = 3


def tokens(text: str) -> list[str]:
    """The words of a text in lower case, "&" as "and"."""
    return _TOKEN.findall(text.lower().replace("&", " and "))


def job_numbers_said(words: Sequence[str]) -> Iterator[str]:
    """The digit strings that may be job numbers: after "job", "number" and the like, or said digit by digit.

    Every way of reading the number words is given, and of their beginnings, since what follows may be another number
    ("job two oh nine two rims").
    """
    place = 0
    while place < len(words):
        found = readings(words, place) if is_number_word(words[place]) else []
        if any(word in word_set("job_cues") for word in words[max(place - 2, 0) : place]):
            yield from (one.figures for one in found if one.how in ("whole", "paired", "digits", "short", "row"))
        else:
            by_digit = [one for one in found if one.how == "digits" and len(one.figures) >= _SHORTEST_BY_DIGIT]
            yield from (one.figures for one in by_digit[:1])
        place = max((one.end for one in found), default=place + 1)


def spelled_signs(words: Sequence[str]) -> Iterator[str]:
    """Runs of spelled letters and numbers as one string each, in upper case: "k l nineteen x y z" is "KL19XYZ"."""
    signs: list[str] = []
    place = 0
    while place <= len(words):
        more, end = _sign(words, place) if place < len(words) else (None, place + 1)
        ends_a_code = place < len(words) and len(words[place]) <= 3 and bool(signs) and _short_code(signs[-1])
        if more is None and ends_a_code:  # "KL19 XYZ", as written
            more = words[place].upper()
        if more is None:
            if len(signs) > 1 or (signs and not signs[0].isdecimal() and _short_code(signs[0])):
                yield "".join(signs)
            signs = []
        else:
            signs.append(more)
        place = end
    return


def _sign(words: Sequence[str], place: int) -> tuple[str | None, int]:
    """The letter or number that is spelled here, and the place behind it; None for another word."""
    word = words[place]
    rows = (
        [one for one in readings(words, place) if one.how in ("row", "digits", "short", "whole")] if word != "o" else []
    )
    if is_number_word(word) and rows:
        longest = max(rows, key=lambda one: (one.end, one.how != "whole"))
        return longest.figures, longest.end
    if is_letter(word):
        return letter(word), place + 1
    return (word.upper(), place + 1) if _short_code(word) else (None, place + 1)


def _short_code(word: str) -> bool:
    return len(word) <= 8 and any(sign.isdigit() for sign in word)
