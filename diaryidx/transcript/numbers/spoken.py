"""What number words can mean: every way of reading the words that begin at a place, each with where it ends.

"one twenty" may be 1 and 20, or 120; "two three oh four" 2304 digit by digit; "nineteen ninety eight" 1998. Which of
them is meant depends on what stands around, and is decided by the forms (``forms.yaml``), not here. Number words are
data in ``words.yaml``. Half-formatted text is read the same way: "1 20 70" is "one twenty seventy".
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Literal, NamedTuple

from diaryidx.vocabulary.yaml_files import read_shipped

How = Literal["whole", "paired", "digits", "short", "row", "decimal", "fraction", "ordinal", "plural"]
LONGEST_ROW = 14  # groups of one number read digit by digit


class Number(NamedTuple):
    """One reading: its value, the place behind its last word, how it was read, and its figures as written."""

    value: float
    end: int
    how: How
    figures: str


@cache
def number_words() -> dict[str, Any]:
    """``words.yaml``; all scalars are text."""
    return read_shipped(Path(__file__).with_name("words.yaml").read_text(encoding="utf-8"))


def _values(name: str) -> dict[str, int]:
    return {word: int(value) for word, value in number_words()[name].items()}


def _in_order(name: str, first: int = 0, step: int = 1) -> dict[str, int]:
    words = number_words()[name]
    return {word: first + step * place for place, word in enumerate(words.split() if isinstance(words, str) else words)}


_SMALL = _in_order("ones") | _in_order("tens", 20, 10) | _values("misspelt")
_DIGITS = {word: value for word, value in _SMALL.items() if value < 10} | dict.fromkeys(number_words()["zeros"], 0)
_SCALES = _values("scales")
_REPEATS = _values("repeats")
_ORDINALS = _in_order("ordinals") | _in_order("ordinal_tens", 20, 10)
_ORDINAL_SCALES = _values("ordinal_scales")
_FRACTIONS = {tuple(name.split()): int(parts) for parts, names in number_words()["fractions"].items() for name in names}
_FRACTION_SIGNS = {sign: (int(over), int(under)) for sign, (over, under) in number_words()["fraction_signs"].items()}
_ALPHABET = {word: word[0] for word in number_words()["spelling_alphabet"].split()}
_FIGURES = re.compile(r"\d{1,3}(?:,\d{3})+|\d{1,15}")
_DECIMAL_FIGURES = re.compile(r"(?:\d{1,3}(?:,\d{3})+|\d{1,15})\.\d{1,6}")
_ORDINAL_ENDINGS = ("st", "nd", "rd", "th")
_PLURALS = {
    **{f"{word}s": word for word in _SMALL if word != "six"}, "sixes": "six",
    **{f"{word.removesuffix('y')}ies": word for word in _SMALL if word.endswith("y")},
}  # fmt: skip
_STARTS = frozenset(
    (
        *_SMALL,
        *_PLURALS,
        *_DIGITS,
        *_REPEATS,
        *_ORDINALS,
        *_ORDINAL_SCALES,
        *_FRACTION_SIGNS,
        "half",
        "quarter",
        "hundred",
    )
)


def is_number_word(word: str) -> bool:
    """Whether a number can begin with this lower-case word; "a" and "an" begin one only before a scale."""
    return word in _STARTS or word[:1].isdecimal()


def is_letter(word: str) -> bool:
    """Whether this word is a letter, by itself or in the spelling alphabet."""
    return (len(word) == 1 and word.isascii() and word.isalpha()) or word in _ALPHABET


def letter(word: str) -> str:
    """The capital that a spelled word stands for."""
    capital: str = _ALPHABET.get(word, word).upper()
    return capital


def goes_on(words: Sequence[str], place: int) -> bool:
    """Whether the word here is the second half of a number such as "twenty five"."""
    return 0 < _SMALL.get(words[place], 0) < 10 and _SMALL.get(words[place - 1], 0) >= 20


def is_digit(word: str) -> bool:
    """Whether this word is a single figure, said or written."""
    return _digit(word) is not None


def readings(words: Sequence[str], place: int) -> list[Number]:
    """Every way of reading the number that begins here.

    Arguments:
        words: lower-case words, as ``split_words`` cuts them.
        place: where to begin.
    Returns: the readings, those that take most words first. "and" is read inside a number only where a hundred or more
        stands before it; a comma only in "one thousand, two hundred".
    """
    wholes = [Number(value, end, "whole", _plain(value)) for value, end in _whole(words, place)]
    pairs = list(_paired(words, place))
    rows = list(_rows(words, place))
    found = [*wholes, *pairs, *rows]
    found += _decimals(words, place, [*wholes, *pairs, *rows])
    found += _fractions(words, place, wholes)
    found += _ordinals(words, place, wholes)
    found += _plurals(words, place)
    return sorted(set(found), key=lambda one: -one.end)


def read_number(words: Sequence[str], place: int) -> tuple[float, int] | None:
    """The plainest reading of the number that begins here: its value and the place behind it, or None."""
    plain = [one for one in readings(words, place) if one.how in ("whole", "decimal", "fraction")]
    return (plain[0].value, plain[0].end) if plain else None


def read_ordinal(words: Sequence[str], place: int) -> tuple[int, int] | None:
    """The ordinal that begins here ("third", "twenty first", "3rd"): its value and the place behind it, or None."""
    found = next((one for one in readings(words, place) if one.how == "ordinal"), None)
    return (int(found.value), found.end) if found else None


# --- whole numbers ---------------------------------------------------------------------------------------------------


def _whole(words: Sequence[str], place: int) -> Iterator[tuple[int, int]]:
    """Whole numbers and all their beginnings: "two", "two hundred", "two hundred and nine", "two hundred thousand"."""
    for value, end in _below_scale(words, place):
        yield value, end
        if end < len(words) and words[end] in _SCALES and 0 < value < 1_000_000:
            yield from _scaled(words, value, end)


def _scaled(words: Sequence[str], value: int, end: int) -> Iterator[tuple[int, int]]:
    scale = _SCALES[words[end]]
    if scale == 1000 and value >= 10_000 and not _figures(words[end - 1]):
        return
    total = value * scale
    yield total, end + 1
    rest = end + 1
    joined = words[rest : rest + 1] == ["and"]
    comma = words[rest : rest + 1] == [","]
    for more, stop in _whole(words, rest + 1 if joined or comma else rest):
        group = words[stop - 1] == "hundred" or "hundred" in words[rest:stop] or "thousand" in words[rest:stop]
        if 0 < more < scale and not (comma and not group) and not _figures(words[stop - 1]):
            yield total + more, stop


def _below_scale(words: Sequence[str], place: int) -> Iterator[tuple[int, int]]:
    """Up to "ninety nine hundred and ninety nine", or a number in figures; "a" only before a hundred or more."""
    if place >= len(words):
        return
    if words[place] in ("a", "an"):
        after = words[place + 1] if place + 1 < len(words) else ""
        if after == "hundred":
            yield from _hundreds(words, 1, place + 1)
        elif after in _SCALES and after != "k":
            yield 1, place + 1
        return
    if words[place] == "hundred":  # "hundred and five"
        yield from (one for one in _hundreds(words, 1, place) if one[0] > 100)
        return
    if _figures(words[place]):
        value = int(words[place].replace(",", ""))
        yield value, place + 1
        if 0 < value < 100:
            yield from _hundreds(words, value, place + 1)
        return
    for value, end in _below_hundred(words, place):
        yield value, end
        if value:
            yield from _hundreds(words, value, end)


def _hundreds(words: Sequence[str], value: int, end: int) -> Iterator[tuple[int, int]]:
    if end >= len(words) or words[end] != "hundred":
        return
    yield value * 100, end + 1
    rest = end + 2 if words[end + 1 : end + 2] == ["and"] else end + 1
    for more, stop in _below_hundred(words, rest):
        if more:
            yield value * 100 + more, stop


def _below_hundred(words: Sequence[str], place: int) -> Iterator[tuple[int, int]]:
    """ "seven", "seventeen", "seventy", "seventy seven"; nobody means 70 and 7 by that."""
    value = _SMALL.get(words[place]) if place < len(words) else None
    if value is None:
        return
    ones = _SMALL.get(words[place + 1], 0) if place + 1 < len(words) else 0
    together = value >= 20 and 0 < ones < 10 and _part_name(words, place + 2) is None
    yield (value + ones, place + 2) if together else (value, place + 1)


def _figures(word: str) -> bool:
    return word[:1].isdecimal() and word.isascii() and _FIGURES.fullmatch(word) is not None


# --- read in groups --------------------------------------------------------------------------------------------------


def _paired(words: Sequence[str], place: int) -> Iterator[Number]:
    """Hundreds as people say them: "one twenty", "nineteen oh five", "twelve fifty", in figures "1 20"."""
    for first, end in _two_figures(words, place):
        if not first or end >= len(words):
            continue
        if _DIGITS.get(words[end]) == 0:
            ones = _digit(words[end + 1]) if end + 1 < len(words) else None
            if ones is not None and ones != "0":
                yield _number(first * 100 + int(ones), end + 2, "paired")
            continue
        for second, stop in _two_figures(words, end):
            if second > 9 or (words[end].isdecimal() and len(words[end]) == 2 and second):
                yield _number(first * 100 + second, stop, "paired")


def _two_figures(words: Sequence[str], place: int) -> Iterator[tuple[int, int]]:
    if place < len(words) and words[place].isdecimal() and words[place].isascii():
        if len(words[place]) <= 2:
            yield int(words[place]), place + 1
        return
    yield from _below_hundred(words, place)


def _rows(words: Sequence[str], place: int) -> Iterator[Number]:
    """Figures one after the other: "oh five" (short), "two three oh four" (digits), "twelve oh five" (row)."""
    yield from _row_on(words, place, "", 0, True)


def _row_on(words: Sequence[str], place: int, figures: str, groups: int, single: bool) -> Iterator[Number]:
    if groups >= LONGEST_ROW:
        return
    for more, end, one in _row_groups(words, place):
        said, all_single = figures + more, single and one
        if len(said) > 18:
            return
        if groups or len(more) > 1:
            single_how: How = "digits" if len(said) > 2 else "short"
            yield Number(float(said), end, single_how if all_single else "row", said)
        yield from _row_on(words, end, said, groups + 1, all_single)
        if not one:
            return  # only the longest group goes on, or rows would multiply


def _row_groups(words: Sequence[str], place: int) -> Iterator[tuple[str, int, bool]]:
    """The group of figures that begins here, whether it is a single digit or one repeated."""
    word = words[place] if place < len(words) else ""
    if word in _REPEATS and place + 1 < len(words):
        digit = _digit(words[place + 1])
        if digit is not None:
            yield digit * _REPEATS[word], place + 2, True
    elif (digit := _digit(word)) is not None:
        yield digit, place + 1, True
    elif word.isdecimal() and word.isascii() and len(word) <= 8:
        yield word, place + 1, False
    else:
        groups = list(_below_hundred(words, place))
        if groups:
            yield str(groups[-1][0]), groups[-1][1], False


def _digit(word: str) -> str | None:
    if len(word) == 1 and word.isdecimal() and word.isascii():
        return word
    return str(_DIGITS[word]) if word in _DIGITS else None


# --- parts of one ----------------------------------------------------------------------------------------------------


def _decimals(words: Sequence[str], place: int, whole: Sequence[Number]) -> Iterator[Number]:
    """ "one point five", "two point oh five", "point eight", "1.5"."""
    word = words[place] if place < len(words) else ""
    if word[:1].isdecimal() and word.isascii() and _DECIMAL_FIGURES.fullmatch(word):
        value = float(word.replace(",", ""))
        yield Number(value, place + 1, "decimal", word.replace(",", ""))
        if place + 1 < len(words) and words[place + 1] in _SCALES:
            yield _number(value * _SCALES[words[place + 1]], place + 2, "whole")
    nought = place + 1 if word in _DIGITS and _DIGITS[word] == 0 else place
    before = [*whole, Number(0.0, nought, "whole", "0")] if nought > place or word == "point" else whole
    for one in before:
        if one.how == "row" or words[one.end : one.end + 1] != ["point"]:
            continue
        for figures, end in _figures_after_point(words, one.end + 1):
            value = float(f"{one.figures}.{figures}")
            yield Number(value, end, "decimal", f"{one.figures}.{figures}")
            if end < len(words) and words[end] in _SCALES and words[end] != "k":
                yield _number(value * _SCALES[words[end]], end + 1, "whole")


def _figures_after_point(words: Sequence[str], place: int) -> Iterator[tuple[str, int]]:
    """ "five", "oh five", "two five", "twenty five", "25"."""
    figures, end = "", place
    while end < len(words) and len(figures) < 6 and (digit := _digit(words[end])) is not None:
        figures, end = figures + digit, end + 1
    if figures:
        yield figures, end
    elif place < len(words) and words[place].isdecimal() and words[place].isascii() and len(words[place]) <= 6:
        yield words[place], place + 1
    else:
        groups = list(_below_hundred(words, place))
        if groups:
            yield str(groups[-1][0]), groups[-1][1]


def _fractions(words: Sequence[str], place: int, wholes: Sequence[Number]) -> Iterator[Number]:
    """ "three eighths", "half", "two and a half", "one and three quarters", "3/8", "1 3/8", "1½"."""
    starts = [(0, place), *((int(one.value), one.end) for one in wholes)]
    for whole, end in starts:
        joined = whole or end > place
        at = end + 1 if joined and words[end : end + 1] == ["and"] else end
        if joined and at == end and not (end < len(words) and (words[end] in _FRACTION_SIGNS or _figures(words[end]))):
            continue
        for over, under, stop in _fraction(words, at):
            if not joined and over == 1 and words[at] in ("a", "an"):
                continue  # "a half" is read by the forms that know what it is half of
            figures = f"{over}/{under}"
            yield Number(whole + over / under, stop, "fraction", f"{whole} {figures}" if joined else figures)
            if stop < len(words) and words[stop] in _SCALES and words[stop] != "k":  # "three and a half thousand"
                yield _number((whole + over / under) * _SCALES[words[stop]], stop + 1, "whole")


def _fraction(words: Sequence[str], at: int) -> Iterator[tuple[int, int, int]]:
    word = words[at] if at < len(words) else ""
    if word in _FRACTION_SIGNS:
        over, under = _FRACTION_SIGNS[word]
        yield over, under, at + 1
        return
    if _figures(word) and words[at + 1 : at + 2] == ["/"] and at + 2 < len(words) and _figures(words[at + 2]):
        over, under = int(word.replace(",", "")), int(words[at + 2].replace(",", ""))
        if 0 < over < under and under in _FRACTIONS.values():
            yield over, under, at + 3
        return
    over, count_end = 1, at + 1 if word in ("a", "an") else at
    for value, end in _below_hundred(words, at):
        if _part_name(words, end):
            over, count_end = value, end
    part = _part_name(words, count_end)
    if part is not None and 0 < over < part[0] and (count_end > at or part[0] in (2, 4)):
        yield over, part[0], part[1]


def _part_name(words: Sequence[str], place: int) -> tuple[int, int] | None:
    for length in (2, 1):
        parts = _FRACTIONS.get(tuple(words[place : place + length]))
        if parts is not None and place + length <= len(words):
            return parts, place + length
    return None


# --- ordinals --------------------------------------------------------------------------------------------------------


def _ordinals(words: Sequence[str], place: int, wholes: Sequence[Number]) -> Iterator[Number]:
    """ "third", "twenty first", "one hundred and tenth", "two thousandth", "3rd"."""
    if place >= len(words):
        return
    if words[place] in _ORDINALS:
        yield _number(_ORDINALS[words[place]], place + 1, "ordinal")
    if words[place] in _ORDINAL_SCALES:
        yield _number(_ORDINAL_SCALES[words[place]], place + 1, "ordinal")
    for one in wholes:
        value, end = int(one.value), one.end
        if _figures(words[end - 1]):
            if end == place + 1 and words[end : end + 1] and words[end] in _ORDINAL_ENDINGS:
                yield _number(value, end + 1, "ordinal")
            continue
        after = words[end] if end < len(words) else ""
        if after in _ORDINAL_SCALES and 0 < value < 1000:
            yield _number(value * _ORDINAL_SCALES[after], end + 1, "ordinal")
        at = end + 1 if after == "and" and value % 100 == 0 and value else end
        last = _ORDINALS.get(words[at], 0) if at < len(words) else 0
        if last and ((value and value % 100 == 0) or (value % 100 >= 20 and value % 10 == 0 and last < 10)):
            yield _number(value + last, at + 1, "ordinal")
        elif value and value % 100 == 0 and at + 1 < len(words):
            yield from (
                Number(value + more.value, more.end, "ordinal", _plain(value + more.value))
                for more in _ordinals(words, at, _tens(words, at))
                if more.value < 100
            )


def _plurals(words: Sequence[str], place: int) -> Iterator[Number]:
    """Things called by a number: "four eights", "a pair of seven fifties", "two nineteens"."""
    for end in range(place, min(place + 3, len(words))):
        single = _PLURALS.get(words[end])
        if single is not None:
            for one in (*_tens([*words[place:end], single], 0), *_paired([*words[place:end], single], 0)):
                if one.end == end + 1 - place:
                    yield one._replace(end=end + 1, how="plural")
            return
        if _figures(words[end]) and end == place and words[end + 1 : end + 2] == ["s"]:
            yield Number(float(words[end].replace(",", "")), end + 2, "plural", words[end])
            return
        if words[end] not in _SMALL:
            return


def _tens(words: Sequence[str], place: int) -> list[Number]:
    return [_number(value, end, "whole") for value, end in _below_hundred(words, place)]


def _number(value: float, end: int, how: How) -> Number:
    return Number(float(value), end, how, _plain(value))


def _plain(value: float) -> str:
    return str(int(value)) if value == int(value) else f"{round(value, 6):.6f}".rstrip("0")
