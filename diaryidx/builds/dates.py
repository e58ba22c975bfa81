"""Dates as people type them into a table, as ISO 8601."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta
from functools import lru_cache

from diaryidx.transcript.numbers import is_number_word, readings

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})(?:[T ].*)?")
_NUMBERS = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})(?:[T ]\d.*)?")
_ALL_DIGITS = re.compile(r"((?:19|20)\d\d)(\d\d)(\d\d)")
_YEAR_AND_MONTH = re.compile(r"(\d{4})-(\d{1,2})")
_DAY_NAME = re.compile(r"^(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? +", re.IGNORECASE)
_SERIAL = re.compile(r"(\d{5})(?:\.\d+)?")
#: Day numbers of spreadsheets count from here (Office Open XML, ECMA-376 part 1, 18.17.4.1, the 1900 date base).
_SERIAL_START = date(1899, 12, 30)
#: Day numbers outside 1955 to 2064 are some other number: a part's, a mileage (our own choice).
_SERIALS = range(20_090, 60_266)
#: The year of a bike may lie in these: from the first motorcycles on (our own choice).
_YEARS = range(1880, 2100)
_YEAR_IN_TEXT = re.compile(r"(?<!\d)(?:1[89]|20)\d\d(?!\d)")
#: How long before a bike comes in and after it leaves a film may still speak of it, in days (our own choice).
GRACE_DAYS = 31
#: Two-digit years up to this one are of this century; strptime's own rule (POSIX) has the same pivot.
_LAST_YEAR_OF_THIS_CENTURY = 68


def iso_date(text: str, *, month_first: bool = False) -> str | None:
    """A typed date as ``YYYY-MM-DD``, a month alone as ``YYYY-MM``; None where it is no date.

    :param month_first: read 3/11/2025 as March the 11th; where only one order makes a date, that one is taken anyway.
    """
    text = _DAY_NAME.sub("", " ".join(text.split()))
    if match := _YEAR_FIRST.fullmatch(text):
        return _date(int(match[1]), int(match[2]), int(match[3]))
    if match := _ALL_DIGITS.fullmatch(text):
        return _date(int(match[1]), int(match[2]), int(match[3]))
    if match := _NUMBERS.fullmatch(text):
        first, second, year = int(match[1]), int(match[2]), _full_year(match[3])
        day_first, other = _date(year, second, first), _date(year, first, second)
        return (other or day_first) if month_first else (day_first or other)
    if match := _YEAR_AND_MONTH.fullmatch(text):
        return f"{match[1]}-{int(match[2]):02d}" if 1 <= int(match[2]) <= 12 else None
    if match := _SERIAL.fullmatch(text):
        days = int(match[1])
        return (_SERIAL_START + timedelta(days=days)).isoformat() if days in _SERIALS else None
    return _with_month_name(text)


def plain_year(text: str) -> str | None:
    """The year of a bike as a person typed it, as digits where it is one year; None where it is no year.

    "78" and "'78" are 1978, a date is its year, "nineteen seventy-eight" is 1978; "c. 1978" and "1978/79" stay as they
    are, since they say more than one number would.
    """
    text = text.strip()
    if match := re.fullmatch(r"['’‘]?(\d\d)", text):
        year = int(match[1])
        return str(year + (2000 if year <= date.today().year % 100 + 1 else 1900))
    if day := iso_date(text):
        return day[:4] if int(day[:4]) in _YEARS else None
    if match := re.fullmatch(r"(?:\d{1,2}[-/. ])?(\d{4})(?:\.0+)?", text):
        return match[1] if int(match[1]) in _YEARS else None
    if any(int(year) in _YEARS for year in _YEAR_IN_TEXT.findall(text)):
        return text
    words = re.findall(r"[a-z]+", text.lower())
    said = [one for one in readings(words, 0) if one.end == len(words)] if words and is_number_word(words[0]) else []
    return next((one.figures for one in said if len(one.figures) == 4 and int(one.figures) in _YEARS), None)


def month_comes_first(texts: Iterable[str]) -> bool | None:
    """Whether a column of dates is written month first: some can only be read so, and none only the other way.

    :returns: None where nothing tells, or the dates contradict each other.
    """
    firsts, seconds = [0], [0]
    for text in texts:
        if match := _NUMBERS.fullmatch(_DAY_NAME.sub("", text.strip())):
            firsts.append(int(match[1]))
            seconds.append(int(match[2]))
    month_first, day_first = max(seconds) > 12, max(firsts) > 12
    return None if month_first == day_first else month_first


def _with_month_name(text: str) -> str | None:
    """ "3 Nov 2025", "3rd of November, 25", "Nov 3 2025", "November 2025"."""
    words = [word for word in re.findall(r"\d+|[a-z]+", text.lower()) if word not in ("st", "nd", "rd", "th", "of")]
    names = [word for word in words if word.isalpha()]
    numbers = [word for word in words if word.isdigit()]
    if len(names) != 1 or len(names[0]) < 3 or names[0][:3] not in _MONTHS:
        return None
    month = _MONTHS.index(names[0][:3]) + 1
    if len(numbers) == 1 and len(numbers[0]) == 4:
        return f"{numbers[0]}-{month:02d}"
    if len(numbers) != 2 or len(numbers[1]) not in (2, 4) or len(numbers[0]) > 2:
        return None
    return _date(_full_year(numbers[1]), month, int(numbers[0]))


def _full_year(digits: str) -> int:
    year = int(digits)
    if len(digits) == 4:
        return year
    return year + (2000 if year <= _LAST_YEAR_OF_THIS_CENTURY else 1900)


def _date(year: int, month: int, day: int) -> str | None:
    try:
        return date(year, month, day).isoformat()
    except ValueError:
        return None


@lru_cache(maxsize=20_000)
def first_day(day: str | None) -> date | None:
    """A date of a record (``YYYY-MM-DD``, or the first of ``YYYY-MM``); None where it is none."""
    try:
        return date.fromisoformat(day if len(day) > len("YYYY-MM") else f"{day}-01") if day else None
    except ValueError:
        return None


def met_from(date_in: str | None) -> date:
    """The first day on which people of the shop may speak of a bike by name: shortly before it comes in."""
    came = first_day(date_in)
    return came - timedelta(days=GRACE_DAYS) if came else date.min
