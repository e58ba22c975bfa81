"""Spoken numbers: "thirty nine", "a hundred and twenty", "two and a half", "1,200", "third". Pure text, no spaCy."""

from __future__ import annotations

import re
from collections.abc import Sequence

_ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_SMALL = {word: number for number, word in enumerate(_ONES)} | {
    word: 10 * (place + 2) for place, word in enumerate(_TENS)
}
_SMALL |= {"oh": 0, "nought": 0, "fourty": 40}
_SCALES = {"hundred": 100, "thousand": 1000, "grand": 1000, "million": 1_000_000, "k": 1000}
_FRACTIONS = {"half": 0.5, "quarter": 0.25, "third": 1 / 3}
_ORDINALS = {
    "first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8, "ninth": 9,
    "tenth": 10, "eleventh": 11, "twelfth": 12, "thirteenth": 13, "fourteenth": 14, "fifteenth": 15, "sixteenth": 16,
    "seventeenth": 17, "eighteenth": 18, "nineteenth": 19, "twentieth": 20, "thirtieth": 30,
}  # fmt: skip
_DIGITS = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?")
_ORDINAL_DIGITS = re.compile(r"(\d{1,4})(?:st|nd|rd|th)")
LONGEST_NUMBER = 12  # words


def is_number_word(word: str) -> bool:
    """Whether a number can begin with this lower-case word."""
    return word in _SMALL or word[:1].isdigit()


def read_number(words: Sequence[str], place: int) -> tuple[float, int] | None:
    """Read the number that begins here.

    Arguments:
        words: lower-case words.
        place: where to begin.
    Returns: the value and the place after its last word, or None. "a" and "an" begin a number only before a scale
        ("a hundred"); "and" continues one only after a scale ("a hundred and five") or before "a half".
        "ten sixty" is two numbers.
    """
    word = words[place]
    if word[:1].isdigit():
        if not _DIGITS.fullmatch(word):
            return None
        value, end = float(word.replace(",", "")), place + 1
        if end < len(words) and words[end] in _SCALES:
            value, end = value * _SCALES[words[end]], end + 1
        return value, end
    if word in ("a", "an"):
        if place + 1 < len(words) and words[place + 1] in ("hundred", "thousand", "grand", "million"):
            return _read_words(words, place + 1, 1.0)
        return None
    if word not in _SMALL or word == "oh":
        return None
    return _read_words(words, place, None)


def _read_words(words: Sequence[str], place: int, begun: float | None) -> tuple[float, int]:
    total, current, end = 0.0, begun or 0.0, place
    last = 1e9 if begun is None else 1.0  # size of the last number word: only a smaller one may follow
    while end < len(words) and end - place < LONGEST_NUMBER:
        word = words[end]
        if word in _SMALL and _fits_after(_SMALL[word], last):
            current += _SMALL[word]
            last = float(_SMALL[word]) or 0.5
        elif word in _SCALES and word != "k" and current:
            scale = _SCALES[word]
            if scale == 100:
                current *= scale
            else:
                total, current = total + current * scale, 0.0
            last = float(scale)
        elif word == "and" and last >= 100 and _begins_below(words, end + 1, last):
            pass
        else:
            break
        end += 1
    value = total + current
    return _with_fraction(words, value, end)


def _fits_after(number: int, last: float) -> bool:
    """Whether this number word continues a number whose last word had that size: "twenty five", "hundred five"."""
    if last >= 100:
        return True
    return last >= 20 and last % 10 == 0 and 0 < number < 10


def _begins_below(words: Sequence[str], place: int, last: float) -> bool:
    return place < len(words) and words[place] in _SMALL and _SMALL[words[place]] < last


def _with_fraction(words: Sequence[str], value: float, end: int) -> tuple[float, int]:
    """Add "and a half", "and three quarters", "point five"."""
    if words[end : end + 3] in (["and", "a", "half"], ["and", "a", "quarter"]):
        return value + _FRACTIONS[words[end + 2]], end + 3
    if words[end : end + 3] == ["and", "three", "quarters"]:
        return value + 0.75, end + 3
    if end + 1 < len(words) and words[end] == "point" and words[end + 1] in _ONES[:10]:
        digits, place = "", end + 1
        while place < len(words) and words[place] in _ONES[:10]:
            digits += str(_ONES.index(words[place]))
            place += 1
        return float(f"{int(value)}.{digits}"), place
    return value, end


def read_ordinal(words: Sequence[str], place: int) -> tuple[int, int] | None:
    """Read the ordinal that begins here ("third", "twenty first", "3rd"): its value and the place after it."""
    word = words[place]
    if match := _ORDINAL_DIGITS.fullmatch(word):
        return int(match.group(1)), place + 1
    if word.isdigit() and place + 1 < len(words) and words[place + 1] in ("st", "nd", "rd", "th"):
        return int(word), place + 2
    if word in _ORDINALS:
        return _ORDINALS[word], place + 1
    if word in ("twenty", "thirty") and place + 1 < len(words) and _ORDINALS.get(words[place + 1], 99) < 10:
        return _SMALL[word] + _ORDINALS[words[place + 1]], place + 2
    return None
