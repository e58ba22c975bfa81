"""Prices, dates, measures and quantities as people say them; days after ISO 8601."""

from __future__ import annotations

import datetime

import pytest
from film_reader import Reader
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.language.dates import resolve


def values(read: Reader, text: str, label: str) -> list[dict[str, object]]:
    return [one.value or {} for one in read([text]).mentions if one.label == label]


@pytest.mark.parametrize(
    ("text", "amount", "currency", "approximate"),
    [
        ("they're thirty nine ninety nine", 39.99, "GBP", False),
        ("it's forty quid", 40.0, "GBP", False),
        ("a hundred and twenty pounds a pair", 120.0, "GBP", False),
        ("about two hundred and fifty pounds", 250.0, "GBP", True),
        ("twenty nine pounds ninety nine", 29.99, "GBP", False),
        ("£1,249.50 all in", 1249.5, "GBP", False),
        ("fifty euros", 50.0, "EUR", False),
        ("around 400 dollars or so", 400.0, "USD", True),
        ("eighty to ninety pounds", 80.0, "GBP", True),
        ("fifty pence each", 0.5, "GBP", False),
        ("two grand pounds", 2000.0, "GBP", False),
        ("priced at 39.99", 39.99, "GBP", False),
    ],
)
def test_prices(read: Reader, text: str, amount: float, currency: str, approximate: bool) -> None:
    found = values(read, text, "PRICE")
    assert [(one["amount"], one["currency"], one["approximate"]) for one in found] == [(amount, currency, approximate)]


@pytest.mark.parametrize(
    "text",
    ["the twenty first of may", "a two into one exhaust", "nineteen inch wheel", "page forty two", "one of these"],
)
def test_other_numbers_are_no_prices(read: Reader, text: str) -> None:
    assert values(read, text, "PRICE") == []


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("to thirty newton metres", 30.0, "newton metre"), ("10mm of slack", 10.0, "millimetre"),
        ("two and a half inches", 2.5, "inch"), ("at thirty six psi", 36.0, "psi"), ("two litres of oil", 2.0, "litre"),
        ("every four thousand miles", 4000.0, "mile"),
    ],
)  # fmt: skip
def test_measures_with_their_units(read: Reader, text: str, amount: float, unit: str) -> None:
    """Units of NIST SP 811 by their names; values are kept as said, nothing is converted."""
    assert [(one["amount"], one["unit"]) for one in values(read, text, "MEASURE")] == [(amount, unit)]


@pytest.mark.parametrize(
    ("text", "quantity"), [("two new tyres", "2"), ("a pair of mirrors", "2"), ("a set of pads", "set")]
)
def test_quantities(read: Reader, text: str, quantity: str) -> None:
    assert [one.canonical for one in read([text]).mentions if one.label == "QUANTITY"] == [quantity]


SUNDAY = "2025-10-05"


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("on the third of october twenty twenty six", "2026-10-03"), ("on october the third", "2026-10-03"),
        ("on july 12th", "2026-07-12"), ("by the twenty third of december", "2025-12-23"), ("next month", "2025-11"),
        ("last month", "2025-09"), ("in the spring", "2026-03"), ("on friday", "2025-10-10"),
        ("tomorrow", "2025-10-06"),
        ("yesterday", "2025-10-04"), ("in three weeks", "2025-10-26"), ("at the end of the month", "2025-10"),
        ("in november", "2025-11"), ("last october", "2024-10"), ("this weekend", "2025-10-11"),
        ("next year", "2026"),
        ("two weeks ago", "2025-09-21"), ("in a couple of months", "2025-12"), ("on 3 October 2025", "2025-10-03"),
    ],
)  # fmt: skip
def test_days_are_reckoned_from_the_day_it_was_said(read: Reader, text: str, iso: str) -> None:
    assert [resolve(one, SUNDAY) for one in values(read, f"we'll do it {text}", "DATE")] == [iso]


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("it came back on friday", "2025-10-03"), ("it comes back on friday", "2025-10-10"),
        ("he took it on the fourteenth of june", "2025-06-14"), ("he takes it on the fourteenth of june", "2026-06-14"),
        ("we had it in november", "2024-11"), ("it left on the twenty ninth", "2025-09-29"),
        ("it was promised by friday", "2025-10-10"), ("it was made in nineteen ninety eight", "1998"),
    ],
)  # fmt: skip
def test_what_was_done_was_done_before(read: Reader, text: str, iso: str) -> None:
    assert [resolve(one, SUNDAY) for one in values(read, text, "DATE")] == [iso]


def test_a_day_that_cannot_be_known_is_unknown() -> None:
    assert resolve({"relative": "next", "span": "month"}, None) is None
    assert resolve({"day": 3, "month": 10}, "not a date") is None
    assert resolve({}, SUNDAY) is None


@pytest.mark.parametrize("text", ["you may paint it", "march on", "the second one", "the third bike is done"])
def test_words_that_only_look_like_dates(read: Reader, text: str) -> None:
    assert values(read, text, "DATE") == []


@given(
    st.dates(datetime.date(2000, 1, 1), datetime.date(2090, 12, 31)),
    st.sampled_from(
        [{"days": n} for n in (-400, -1, 0, 1, 40)]
        + [{"relative": r, "span": s} for r in ("next", "last", "this") for s in ("week", "month", "year", "weekend")]
        + [{"month": m, "day": d} for m in (1, 2, 12) for d in (1, 29, 31)]
        + [{"weekday": w, "relative": r} for w in (0, 6) for r in ("next", "last", "this")]
        + [{"day": 31}]
    ),
)
def test_every_day_comes_out_as_iso_8601(said_on: datetime.date, value: dict[str, object]) -> None:
    """Outside check: Python's own ISO 8601 reader takes every whole day; months and years have their plain form."""
    found = resolve(dict(value), said_on.isoformat())
    assert found is not None
    parts = found.split("-")
    assert len(parts[0]) == 4
    if len(parts) == 3:
        assert datetime.date.fromisoformat(found)
    elif len(parts) == 2:
        assert 1 <= int(parts[1]) <= 12
