"""Spoken numbers, checked against num2words (an independent library that writes numbers in words)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.transcript.numbers import read_number, read_ordinal, readings
from diaryidx.vocabulary.spoken_words import split_words

num2words = pytest.importorskip("num2words").num2words


def plain(text: str) -> list[str]:
    return text.replace("-", " ").replace(",", "").split()


@given(st.integers(0, 99_999))
@settings(max_examples=400, deadline=None)
def test_whole_numbers_round_trip_with_num2words(number: int) -> None:
    words = plain(num2words(number))
    assert read_number(words, 0) == (number, len(words))


@given(st.integers(1, 31))
def test_days_of_the_month_round_trip_with_num2words(number: int) -> None:
    words = plain(num2words(number, to="ordinal"))
    assert read_ordinal(words, 0) == (number, len(words))
    assert read_ordinal([word.word for word in split_words(num2words(number, to="ordinal_num"))], 0) == (number, 2)


@pytest.mark.parametrize(
    ("said", "value", "words"),
    [
        ("thirty nine ninety nine", 39, 2), ("a hundred and twenty pounds", 120, 4), ("two and a half inches", 2.5, 4),
        ("one point five", 1.5, 3), ("1,200 quid", 1200, 1), ("2 thousand", 2000, 2), ("ten sixty", 10, 1),
        ("six fifty", 6, 1), ("twelve hundred", 1200, 2), ("two hundred and the rest", 200, 2),
    ],
)  # fmt: skip
def test_numbers_end_where_people_end_them(said: str, value: float, words: int) -> None:
    assert read_number(said.split(), 0) == (value, words)


@pytest.mark.parametrize("said", ["a tank", "and five", "hundred", "oh well", "12.5.3"])
def test_what_is_no_number_is_none(said: str) -> None:
    assert read_number(said.split(), 0) is None


@pytest.mark.parametrize(
    ("said", "figures"),
    [("two hundred and nine", {"209"}), ("nineteen seventy eight", {"1978"}), ("two oh nine", {"209"}), ("and", set())],
)
def test_a_run_can_be_one_number_or_figures_in_a_row(said: str, figures: set[str]) -> None:
    words = said.split()
    assert {one.figures for one in readings(words, 0) if one.end == len(words)} == figures
