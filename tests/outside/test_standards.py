"""Codes, dates and weeks against the standards, by libraries that know them and not us."""

from __future__ import annotations

import datetime

from dateutil.parser import isoparse
from dateutil.relativedelta import FR, MO, SA, SU, TH, TU, WE, relativedelta
from hypothesis import given
from hypothesis import strategies as st
from iso4217 import Currency

from diaryidx.language.dates import resolve
from diaryidx.roundup.render import CURRENCY_SYMBOLS
from diaryidx.shop import Settings
from diaryidx.transcript.numbers.forms import money_signs

DAYS = st.dates(datetime.date(1990, 1, 1), datetime.date(2060, 12, 31))
WEEKDAYS = (MO, TU, WE, TH, FR, SA, SU)


def test_currencies_are_codes_of_iso_4217_and_those_that_are_spoken_have_hundredths() -> None:
    """ISO 4217 with its minor units, from the maintenance agency's list as the package iso4217 carries it.

    Talk is read as pounds and pence, so a currency whose minor unit is no hundredth must not be among the spoken ones.
    """
    minor_units = {currency.code: currency.exponent for currency in Currency}
    assert minor_units.keys() >= {*CURRENCY_SYMBOLS, Settings().currency}
    spoken = money_signs()
    assert {code: minor_units.get(code) for code in spoken} == dict.fromkeys(spoken, 2)
    assert minor_units["JPY"] == 0


@given(DAYS, st.integers(0, 6))
def test_weekdays_fall_where_dateutil_has_them(day: datetime.date, weekday: int) -> None:
    """python-dateutil's relativedelta: the first such day on or after, and the last one before."""
    said_on = day.isoformat()
    coming, past = WEEKDAYS[weekday](+1), WEEKDAYS[weekday](-1)
    assert resolve({"weekday": weekday}, said_on) == (day + relativedelta(weekday=coming)).isoformat()
    before = day + relativedelta(days=-1, weekday=past)
    assert resolve({"weekday": weekday, "relative": "last"}, said_on) == before.isoformat()


@given(DAYS, st.sampled_from([("next", 1), ("this", 0), ("last", -1)]))
def test_months_and_years_fall_where_dateutil_has_them(day: datetime.date, step: tuple[str, int]) -> None:
    relative, number = step
    month = day + relativedelta(months=number)
    assert resolve({"span": "month", "relative": relative}, day.isoformat()) == f"{month:%Y-%m}"
    year = day + relativedelta(years=number)
    assert resolve({"span": "year", "relative": relative}, day.isoformat()) == f"{year:%Y}"


@given(DAYS)
def test_a_week_is_in_the_month_of_its_thursday(day: datetime.date) -> None:
    """ISO 8601 has a week belong to the year of its Thursday (Python's isocalendar); we do the same with months."""
    year, week, _ = day.isocalendar()
    thursday = datetime.date.fromisocalendar(year, week, 4)
    assert resolve({"span": "week", "relative": "this"}, day.isoformat()) == f"{thursday:%Y-%m}"


@given(DAYS, st.integers(1, 12), st.one_of(st.none(), st.integers(1, 31)))
def test_every_date_that_is_made_out_is_iso_8601(day: datetime.date, month: int, of_month: int | None) -> None:
    """Read by python-dateutil's parser of ISO 8601, which takes no other form; also the 31st of a shorter month."""
    made = resolve({"month": month, "day": of_month}, day.isoformat())
    assert made is not None
    read = isoparse(made).date()
    assert read.month == month
    assert len(made) == len("YYYY-MM") or read.day == of_month
    first = datetime.date(day.year, day.month, 1)
    assert first <= read < first + relativedelta(years=1, months=1)
