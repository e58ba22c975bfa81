from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.builds.vin import check_digit, plain_vin, vin_warning

# Published examples, each with where it stands:
PUBLISHED = [
    ("1G4AH59H45G118341", "4"),  # 49 CFR 565.15(c)(5), Table V, the sample calculation of the rule itself
    ("1J9RP1A36A1644345", "6"),  # NHTSA, "Outline for new manufacturer information", the worked example
    ("1M8GDM9AXKP042788", "X"),  # the worked example of the encyclopedia article on the VIN, remainder ten
    ("11111111111111111", "1"),  # the straight-ones test value of the same article (from memory)
]


@pytest.mark.parametrize(("vin", "digit"), PUBLISHED)
def test_published_examples_have_their_check_digit(vin: str, digit: str) -> None:
    assert check_digit(vin) == digit
    assert vin_warning(vin) is None


@pytest.mark.parametrize(("vin", "digit"), PUBLISHED)
def test_every_single_wrong_sign_of_a_published_example_is_seen_or_has_the_same_value(vin: str, digit: str) -> None:
    changed = [
        vin[:place] + sign + vin[place + 1 :] for place in range(1, 17) for sign in "0123456789" if vin[place] != sign
    ]
    missed = [one for one in changed if vin_warning(one) is None]
    # Letters share values with digits (A and 1, both worth one), so a few swaps cannot be seen by any such sum.
    assert len(missed) <= sum(sign.isalpha() for sign in vin)


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
