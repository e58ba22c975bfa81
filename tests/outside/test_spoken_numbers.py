"""Spoken numbers against libraries and tables that know nothing of us.

num2words writes numbers in words (Savoir-faire Linux, LGPL); what it writes must be read back exactly. Unit factors:
NIST Special Publication 811 (2008 edition), appendix B.8. The whole ranges are run by
``python -m tests.bench.spoken_ranges``; here every number to 2,000 and a sample of thousands of the rest.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction

import pytest

from diaryidx.transcript.numbers import Quantity, other_unit, read_quantities
from diaryidx.transcript.numbers.forms import units
from diaryidx.vocabulary.spoken_words import split_words
from tests.bench.spoken_ranges import (
    CURRENCIES,
    misread_numbers,
    misread_ordinals,
    misread_prices,
    misread_years,
)


def one_quantity(text: str) -> Quantity:
    found = read_quantities([word.word for word in split_words(text)])
    assert len(found) == 1, found
    return found[0]


def sample(most: int, count: int, seed: int) -> Iterator[int]:
    """Numbers of every length alike, so that short ones are not lost among long ones."""
    chance = random.Random(seed)
    for _ in range(count):
        yield min(most, chance.randrange(10 ** chance.randrange(1, len(str(most)) + 1)))


def test_whole_numbers_in_words_are_read_back_exactly() -> None:
    assert list(misread_numbers([*range(2_001), *sample(1_000_000, 3_000, 1), 999_999, 1_000_000])) == []


def test_ordinals_to_a_thousand_are_read_back_exactly() -> None:
    assert list(misread_ordinals(range(1, 1_001))) == []


def test_years_from_1900_to_2100_are_read_back_exactly() -> None:
    assert list(misread_years(range(1900, 2101))) == []


@pytest.mark.parametrize("currency", CURRENCIES)
def test_prices_in_words_are_read_back_exactly(currency: str) -> None:
    pence = [*range(0, 10_000, 17), *sample(999_999, 1_000, 2), 999_999]
    assert list(misread_prices(pence, currency)) == []


#: NIST SP 811 (2008), B.8, as printed there; bold figures there (exact ones) are marked True. From memory, and held
#: against pint below where that is installed.
SP_811 = {
    ("foot pound", "newton metre"): (Fraction("1.355818"), False),
    ("inch pound", "newton metre"): (Fraction("0.1129848"), False),
    ("kilogram metre", "newton metre"): (Fraction("9.80665"), True),
    ("inch", "millimetre"): (Fraction("25.4"), True),
    ("foot", "metre"): (Fraction("0.3048"), True),
    ("thou", "millimetre"): (Fraction("0.0254"), True),
    ("mile", "kilometre"): (Fraction("1.609344"), True),
    ("mile per hour", "kilometre per hour"): (Fraction("1.609344"), True),
    ("gallon", "litre"): (Fraction("4.54609"), True),
    ("pound", "kilogram"): (Fraction("0.45359237"), True),
    ("ounce", "gram"): (Fraction("28.34952"), False),
}


@pytest.mark.parametrize(("unit", "other"), SP_811)
def test_unit_factors_are_those_of_nist_sp_811(unit: str, other: str) -> None:
    assert units()[unit]["in"] == other
    assert Fraction(units()[unit]["is"]) == SP_811[unit, other][0]


PINT_NAMES = {
    "newton metre": "newton * meter", "foot pound": "force_pound * foot", "inch pound": "force_pound * inch",
    "kilogram metre": "force_kilogram * meter", "psi": "psi", "bar": "bar", "kilopascal": "kilopascal",
    "millimetre": "millimeter", "centimetre": "centimeter", "metre": "meter", "inch": "inch", "foot": "foot",
    "thou": "thou", "micron": "micrometer", "mile": "mile", "kilometre": "kilometer", "mile per hour": "mile / hour",
    "kilometre per hour": "kilometer / hour", "litre": "liter", "millilitre": "milliliter", "pint": "imperial_pint",
    "gallon": "imperial_gallon", "fluid ounce": "imperial_fluid_ounce", "quart": "quart",
    "cubic inch": "inch ** 3", "cubic centimetre": "centimeter ** 3", "kilogram": "kilogram", "gram": "gram",
    "ounce": "ounce", "pound": "pound", "stone": "stone", "tonne": "tonne", "horsepower": "horsepower",
    "kilowatt": "kilowatt", "degree Celsius": "degree_Celsius", "degree Fahrenheit": "degree_Fahrenheit",
}  # fmt: skip


def test_every_factor_agrees_with_pint() -> None:
    """pint's own unit definitions (CODATA and NIST), an independent library."""
    pint = pytest.importorskip("pint")
    registry = pint.UnitRegistry()
    shown = {name: told for name, told in units().items() if "in" in told}
    assert shown.keys() <= PINT_NAMES.keys()
    for name, told in shown.items():
        ours = 7.0 * float(told["is"]) + float(told.get("plus", 0))
        theirs = registry.Quantity(7.0, PINT_NAMES[name]).to(PINT_NAMES[told["in"]]).magnitude
        assert ours == pytest.approx(theirs, rel=2e-6), name


def test_torque_is_shown_in_both_units() -> None:
    """47 N m are 34.67 lbf ft by SP 811, and 35 lbf ft are 47.45 N m."""
    assert other_unit(one_quantity("forty seven newton metres").value) == {"amount": 35.0, "unit": "foot pound"}
    assert other_unit(one_quantity("thirty five foot pounds").value) == {"amount": 47.0, "unit": "newton metre"}


@pytest.mark.parametrize("number", [0, 7, 15, 40, 99, 100, 101, 512, 999, 1000, 1001, 4096, 70_000, 305_017])
def test_cardinals_agree_with_text2num(number: int) -> None:
    """text2num, another reader of spoken numbers, on what num2words writes."""
    text_to_num = pytest.importorskip("text_to_num")
    words = pytest.importorskip("num2words").num2words(number).replace("-", " ").replace(",", "")
    assert text_to_num.text2num(words, "en") == one_quantity(f"there are {words} of them").value["amount"]
