from __future__ import annotations

from datetime import date

import pytest
from dateutil.parser import ParserError
from dateutil.parser import parse as parse_with_dateutil
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.builds.dates import iso_date, month_comes_first


@pytest.mark.parametrize(
    ("typed", "iso"),
    [
        ("2025-11-03", "2025-11-03"),
        ("3/11/2025", "2025-11-03"),
        ("03.11.25", "2025-11-03"),
        ("3-11-2025", "2025-11-03"),
        ("3 Nov 2025", "2025-11-03"),
        ("3rd of November, 25", "2025-11-03"),
        ("Nov 3, 2025", "2025-11-03"),
        ("Mon 3 November 2025", "2025-11-03"),
        ("2025-11-03 00:00:00", "2025-11-03"),
        ("3/11/2025 14:30", "2025-11-03"),
        ("November 2025", "2025-11"),
        ("2025-11", "2025-11"),
        ("45964", "2025-11-03"),  # what a spreadsheet shows of a date cell whose format was lost
        ("11/25/2025", "2025-11-25"),  # can only be month first
    ],
)
def test_common_ways_of_typing_a_date(typed: str, iso: str) -> None:
    assert iso_date(typed) == iso


@pytest.mark.parametrize("typed", ["", "soon", "31/31/2025", "30 Feb 2025", "2025-13-01", "tbc", "12", "week 40"])
def test_what_is_no_date_is_none(typed: str) -> None:
    assert iso_date(typed) is None


def test_a_column_is_month_first_only_when_it_can_only_be_read_so() -> None:
    assert month_comes_first(["11/03/2025", "11/25/2025"])
    assert not month_comes_first(["11/03/2025", "25/11/2025", "11/25/2025"])
    assert not month_comes_first(["11/03/2025"])
    assert iso_date("11/03/2025", month_first=True) == "2025-11-03"


# dateutil is an independent reader of dates; both are told that the day comes first.
@given(st.dates(date(1970, 1, 1), date(2067, 12, 31)), st.sampled_from(["%d/%m/%Y", "%d.%m.%Y", "%d %b %Y", "%d %B %Y",
       "%B %d, %Y", "%Y-%m-%d", "%d-%m-%y"]))  # fmt: skip
def test_dates_are_read_as_dateutil_reads_them(day: date, form: str) -> None:
    typed = day.strftime(form)
    read = iso_date(typed)
    assert read is not None
    if form == "%d-%m-%y":
        assert read[4:] == day.isoformat()[4:]
    else:
        yearfirst = form.startswith("%Y")
        assert read == parse_with_dateutil(typed, dayfirst=not yearfirst, yearfirst=yearfirst).date().isoformat()


@given(st.text(max_size=30))
def test_any_text_is_a_date_or_none(text: str) -> None:
    read = iso_date(text)
    if read is not None:
        try:
            parse_with_dateutil(read)
        except ParserError as error:  # pragma: no cover
            raise AssertionError(text) from error
