from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.builds.vin import check_digit, plain_vin, vin_warning


def test_the_check_digit_is_not_asked_of_markets_that_do_not_use_it() -> None:
    # European makers may put any filler in the ninth place (ISO 3779 leaves it to the maker).
    assert vin_warning("ZXX00000000000000") is None


@pytest.mark.parametrize(
    ("vin", "words"),
    [("1M8GDM9A0KP042788", "check digit is 0 and should be X"), ("ZXXI0000000000000", "letter I"),
     ("ZXX000000000000", "15")],
)  # fmt: skip
def test_a_wrong_number_is_warned_of_in_words(vin: str, words: str) -> None:
    assert words in (vin_warning(vin) or "")


def test_old_frame_numbers_are_not_judged() -> None:
    assert vin_warning("KX250-004417") is None
    assert vin_warning("") is None


@given(st.text(max_size=40))
def test_any_text_is_judged_without_error(text: str) -> None:
    warning = vin_warning(text)
    assert warning is None or "\n" not in warning


@given(st.text(alphabet="ABCDEFGHJKLMNPRSTUVWXYZ0123456789", min_size=16, max_size=16), st.sampled_from("12345L"))
def test_a_number_with_its_own_check_digit_is_never_warned_of(body: str, region: str) -> None:
    signs = region + body
    assert vin_warning(signs[:8] + check_digit(signs) + signs[9:]) is None


def test_spaces_and_dashes_do_not_count() -> None:
    assert plain_vin(" 1m8-gdm9a xkp042788 ") == "1M8GDM9AXKP042788"
