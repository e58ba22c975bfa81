from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.builds.spoken import job_numbers_said, spelled_signs, tokens

DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("job two oh nine is next", "209"),
        ("so this is job number two hundred and nine", "209"),
        ("job 209", "209"),
        ("this one is two zero nine", "209"),
        ("job twelve oh five two rims to do", "1205"),
        ("number double two seven", "227"),
        ("job twenty one", "21"),
        ("job card one twenty five", "125"),
        ("order four thousand and twelve", "4012"),
    ],
)
def test_job_numbers_are_heard_however_they_are_said(said: str, number: str) -> None:
    assert number in set(job_numbers_said(tokens(said)))


@pytest.mark.parametrize("said", ["the otter five hundred", "two of them", "about forty quid", "the front ones", ""])
def test_other_numbers_are_not_job_numbers(said: str) -> None:
    assert not set(job_numbers_said(tokens(said)))


@given(st.integers(0, 99_999))
def test_any_number_said_digit_by_digit_after_job_is_heard(number: int) -> None:
    said = " ".join(DIGITS[int(digit)] for digit in str(number))
    assert str(number) in set(job_numbers_said(tokens(f"now job {said} then")))


@pytest.mark.parametrize(
    ("said", "plate"),
    [
        ("plate is k l nineteen x y z on it", "KL19XYZ"),
        ("kilo lima one nine xray yankee zulu", "KL19XYZ"),
        ("reg kl19 xyz", "KL19XYZ"),
        ("a b c one two three", "ABC123"),
    ],
)
def test_spelled_registrations_are_put_together(said: str, plate: str) -> None:
    assert any(plate in signs for signs in spelled_signs(tokens(said)))


@given(st.text(max_size=80))
def test_any_text_can_be_listened_to(text: str) -> None:
    words = tokens(text)
    assert all(number.isdecimal() for number in job_numbers_said(words))
    assert all(signs == signs.upper() for signs in spelled_signs(words))
