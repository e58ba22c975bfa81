"""Job numbers and registrations as they are spelled out on film: "job two oh nine", "kilo lima nineteen"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from diaryidx.builds.word_lists import word_list, word_set

_ONES = {word: number for number, word in enumerate(word_list("ones"))} | dict.fromkeys(word_list("zeros"), 0)
_TENS = {word: 10 * number for number, word in enumerate(word_list("tens"), start=2)}
_SCALES = {"hundred": 100, "thousand": 1000}
_REPEATS = {"double": 2, "triple": 3, "treble": 3}
_ALPHABET = {word: word[0] for word in word_list("spelling_alphabet")}
_TOKEN = re.compile(r"[^\W_]+(?:'[^\W_]+)?")
_LONGEST_RUN = 12


def tokens(text: str) -> list[str]:
    """The words of a text in lower case, "&" as "and"."""
    return _TOKEN.findall(text.lower().replace("&", " and "))


def job_numbers_said(words: Sequence[str]) -> Iterator[str]:
    """The digit strings that may be job numbers: after "job", "number" and the like, or said digit by digit.

    Every way of reading a run of number words is given, and of its beginnings, since what follows may be another
    number ("job two oh nine two rims").
    """
    for start, end in _number_runs(words):
        cue = any(word in word_set("job_cues") for word in words[max(start - 2, 0) : start])
        ends = range(start + 1, end + 1) if cue else [end]
        for stop in ends:
            run = words[start:stop]
            by_digit = len(run) >= 3 and all(_is_digit(word) for word in run)
            if cue or by_digit:
                yield from readings(run)


def readings(words: Sequence[str]) -> set[str]:
    """The digit strings that number words can mean, read one after the other and as one number.

    "two oh nine" is 209, "two hundred and nine" is 209, "twenty one" is 21, "twelve oh five" is 1205.
    """
    return {reading for reading in (_in_a_row(words), _as_number(words)) if reading}


def spelled_signs(words: Sequence[str]) -> Iterator[str]:
    """Runs of spelled letters and numbers as one string each, in upper case: "k l nineteen x y z" is "KL19XYZ"."""
    run: list[str] = []
    for word in [*words, ""]:
        ends_a_code = len(word) <= 3 and bool(run) and _short_code(run[-1])  # "KL19 XYZ", as written
        if word and (_is_number(word) or word in _ALPHABET or len(word) == 1 or _short_code(word) or ends_a_code):
            run.append(word)
            continue
        if len(run) > 1 or (run and _short_code(run[0])):
            yield _joined(run)
        run = []


def _short_code(word: str) -> bool:
    return len(word) <= 8 and any(sign.isdigit() for sign in word)


def _joined(run: Sequence[str]) -> str:
    signs: list[str] = []
    numbers: list[str] = []
    for word in [*run, ""]:
        if word and _is_number(word) and not (word == "o" and not numbers):
            numbers.append(word)
            continue
        if numbers:
            signs.append(_in_a_row(numbers) or _as_number(numbers) or "")
            numbers = []
        signs.append(_ALPHABET.get(word, word))
    return "".join(signs).upper()


def _number_runs(words: Sequence[str]) -> Iterable[tuple[int, int]]:
    start = None
    for place, word in enumerate([*words, ""]):
        number = _is_number(word) or (word == "and" and start is not None and words[place - 1] in _SCALES)
        if number and start is None and word not in _SCALES:
            start = place
        elif start is not None and (not number or place - start >= _LONGEST_RUN):
            yield start, place
            start = None


def _is_number(word: str) -> bool:
    return word.isdecimal() or word in _ONES or word in _TENS or word in _SCALES or word in _REPEATS


def _is_digit(word: str) -> bool:
    return (word.isdecimal() and len(word) == 1) or _ONES.get(word, 10) < 10 or word in _REPEATS


def _in_a_row(words: Sequence[str]) -> str | None:
    """Number words as digits one after the other; None where one is a scale ("hundred")."""
    digits: list[str] = []
    repeat = 1
    tens: int | None = None
    for word in words:
        value = int(word) if word.isdecimal() and len(word) < 3 else _ONES.get(word)
        if word in _REPEATS:
            repeat = _REPEATS[word]
        elif word in _TENS:
            digits.append(str(_TENS[word]))
        elif tens is not None and value is not None and 0 < value < 10:
            digits[-1] = str(tens + value)
        elif value is not None or word.isdecimal():
            digits.append((word if word.isdecimal() else str(value)) * repeat)
            repeat = 1
        else:
            return None
        tens = _TENS.get(word)
    return "".join(digits) or None


def _as_number(words: Sequence[str]) -> str | None:
    """Number words as one number, "two hundred and nine"; None where they are none."""
    if not _SCALES.keys() & set(words):
        return None
    total = part = 0
    for word in words:
        if word in _SCALES:
            part = max(part, 1) * _SCALES[word]
            if word == "thousand":
                total, part = total + part, 0
        elif word in _TENS or word in _ONES or word.isdecimal():
            part += _TENS.get(word) or _ONES.get(word) or (int(word) if word.isdecimal() and len(word) < 7 else 0)
        elif word != "and":
            return None
    return str(total + part)
