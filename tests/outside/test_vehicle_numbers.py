"""VINs and registrations against what is published about them.

Nothing here is a rule of ours: the tables and formats are those of the sources named beside them, and "from memory"
says where a source was not at hand when the test was written.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from diaryidx.builds.finding import find_build, plain_registration
from diaryidx.builds.vin import check_digit, vin_warning
from diaryidx.records import Build
from diaryidx.store import writing
from diaryidx.store.database import open_store

# --- vehicle identification numbers ----------------------------------------------------------------------------------

#: Published numbers with their check digit.
EXAMPLES = [
    ("1G4AH59H45G118341", "4"),  # 49 CFR 565.15(c)(5), Table V: the sample calculation of the rule itself
    ("1J9RP1A36A1644345", "6"),  # NHTSA, "Outline for New Manufacturer Information", page 18: the worked example
    ("1M8GDM9AXKP042788", "X"),  # the encyclopedia article on the VIN: the worked example, remainder ten (from memory)
    ("11111111111111111", "1"),  # the same article: straight ones suffice the check (from memory)
]
#: 49 CFR 565.15(c)(5), Table V: assigned values times weights of 1G4AH59H?5G118341, place by place, and their sum.
TABLE_V_PRODUCTS = (8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2)
TABLE_V_SUM, TABLE_V_REMAINDER = 411, 4
#: 49 CFR 565.15(c)(4): remainder to sign; NHTSA's outline repeats it.
SIGNS = "0123456789X"
ALLOWED = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


@pytest.mark.parametrize(("vin", "digit"), EXAMPLES)
def test_published_vins_have_their_check_digit(vin: str, digit: str) -> None:
    assert check_digit(vin) == digit
    assert vin_warning(vin) is None


def test_the_sample_calculation_of_the_rule_adds_up_as_printed() -> None:
    assert sum(TABLE_V_PRODUCTS) == TABLE_V_SUM
    assert TABLE_V_SUM % 11 == TABLE_V_REMAINDER
    assert check_digit("1G4AH59H05G118341") == SIGNS[TABLE_V_REMAINDER]


@pytest.mark.parametrize("vin", [vin for vin, digit in EXAMPLES if vin[0] in "12345"])
def test_every_other_sign_in_the_ninth_place_is_warned_of(vin: str) -> None:
    others = [vin[:8] + sign + vin[9:] for sign in SIGNS if sign != vin[8]]
    assert all(vin_warning(other) for other in others)


@given(st.text(ALLOWED, min_size=17, max_size=17))
def test_the_check_digit_is_that_of_a_second_way_of_working_it_out(vin: str) -> None:
    """The values of the letters are the low half of their EBCDIC code (so the encyclopedia article on the VIN), and
    Python's codec cp037 knows EBCDIC; the weights as the rule's Table IV prints them."""
    values = [int(sign) if sign.isdigit() else sign.encode("cp037")[0] & 0x0F for sign in vin]
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    total = sum(value * weight for value, weight in zip(values, weights, strict=True))
    assert check_digit(vin) == SIGNS[total % 11]


@pytest.mark.parametrize("letter", "IOQ")
def test_letters_that_no_vin_has_are_warned_of(letter: str) -> None:
    """ISO 3779 (from memory); 49 CFR 565.15, Table III has no value for I, O and Q."""
    assert letter in (vin_warning(f"SAA{letter}0000000000000") or "")


def test_markets_that_do_not_use_the_check_digit_are_not_judged_by_it() -> None:
    """ISO 3779 leaves the ninth place to the maker; North America, regions 1 to 5 of ISO 3780, demands the digit
    (both from memory)."""
    assert vin_warning("WXX00000000000000") is None
    assert vin_warning("SXX00000900000000") is None
    assert vin_warning("1XX00000900000000") is not None


# --- registrations ---------------------------------------------------------------------------------------------------

#: Published formats of registration marks. United Kingdom: DVLA leaflet INF104, "Vehicle registration numbers and
#: number plates" (current format: two letters, two numbers, a space, three letters); for the older ones and for the
#: letters that are not used (I, Q and, but for the last three of the current format, Z; of the year letters also O and
#: U): the histories at drivearchive.co.uk and nationalnumbers.co.uk. Numbers have no zero in front.
FORMATS = {
    "UK current, since 2001": r"[A-HJ-PR-Y]{2}[0-9]{2} [A-HJ-PR-Z]{3}",
    "UK prefix, 1983 to 2001": r"[A-HJ-NPR-TV-Y][1-9][0-9]{0,2} [A-HJ-PR-Y]{3}",
    "UK suffix, 1963 to 1982": r"[A-HJ-PR-Y]{3} [1-9][0-9]{0,2}[A-HJ-NPR-TV-Y]",
    "UK dateless, letters first": r"(?:[A-HJ-PR-Y]{1,2} [1-9][0-9]{0,3}|[A-HJ-PR-Y]{3} [1-9][0-9]{0,2})",
    "UK dateless, numbers first": r"(?:[1-9][0-9]{0,3} [A-HJ-PR-Y]{1,2}|[1-9][0-9]{0,2} [A-HJ-PR-Y]{3})",
    "Northern Ireland": r"[A-HJ-PR-Y](?:I[A-HJ-PR-Z]|[A-HJ-PR-Y]Z) [1-9][0-9]{0,3}",  # I or Z among the letters
    "France, since 2009": r"[A-HJ-NP-TV-Z]{2}-[0-9]{3}-[A-HJ-NP-TV-Z]{2}",  # no I, O, U: from memory
    "Ireland, since 2013": r"[1-9][0-9][12]-(?:C|D|G|KK|KY|L|LH|RN|SO|T|W|WW)-[1-9][0-9]{0,5}",  # from memory
    "Spain, since 2000": r"[0-9]{4} [BCDFGHJKLMNPRSTVWXYZ]{3}",  # no vowels, no Q: from memory
    "Italy, motorcycles since 1999": r"[A-HJ-NPR-TV-Z]{2} [0-9]{5}",  # no I, O, Q, U: from memory
}
#: One of each, of our own invention, in the form that the sources print.
MARKS = {
    "UK current, since 2001": "OO11 OXO",
    "UK prefix, 1983 to 2001": "G110 OJO",
    "UK suffix, 1963 to 1982": "OLO 101R",
    "UK dateless, letters first": "OB 1001",
    "UK dateless, numbers first": "101 OX",
    "Northern Ireland": "OIL 1010",
    "France, since 2009": "GT-010-XC",
    "Ireland, since 2013": "101-SO-1001",
    "Spain, since 2000": "0110 LBK",
    "Italy, motorcycles since 1999": "DX 01101",
}
#: How people type a mark. Common practice, no source.
HANDS = {
    "as it stands": str,
    "small letters": str.lower,
    "without spaces": lambda mark: re.sub(r"[ -]", "", mark),
    "with dashes": lambda mark: mark.replace(" ", "-"),
    "spaced out": lambda mark: "  ".join(mark),
    "with dots": lambda mark: re.sub(r"[ -]", ".", mark),
    "nothing for the letter": lambda mark: mark.replace("O", "0"),
    "letter for nothing": lambda mark: mark.replace("0", "O"),
    "one for the letter": lambda mark: mark.replace("I", "1"),
    "letter for one": lambda mark: mark.replace("1", "I"),
    "small and all wrong": lambda mark: mark.lower().replace("0", "o").replace("1", "i").replace(" ", ""),
}


@pytest.fixture(scope="module")
def marks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """A job book with one bike of each format."""
    folder: Path = tmp_path_factory.mktemp("marks")
    db = open_store(folder / "shop.db")
    writing.save_builds(
        db, [Build(f"J{place}", registration=mark) for place, mark in enumerate(MARKS.values(), start=5001)]
    )
    yield db
    db.conn.close()


@pytest.mark.parametrize("name", FORMATS)
def test_the_marks_here_are_of_their_published_formats(name: str) -> None:
    assert re.fullmatch(FORMATS[name], MARKS[name])


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("name", FORMATS)
def test_a_bike_is_found_by_its_mark_however_it_is_typed(marks: Database, name: str, hand: str) -> None:
    typed = HANDS[hand](MARKS[name])
    found = find_build(marks.conn, typed)
    assert isinstance(found, Build), found
    assert found.registration == MARKS[name]


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@pytest.mark.parametrize("name", FORMATS)
@given(data=st.data())
def test_forgiving_o_and_i_never_takes_one_mark_of_a_format_for_another(name: str, data: st.DataObject) -> None:
    """Which places hold letters and which digits is fixed within a format, so nothing is lost by the forgiveness."""
    one = data.draw(st.from_regex(FORMATS[name], fullmatch=True))
    other = data.draw(st.from_regex(FORMATS[name], fullmatch=True))
    assume(re.sub(r"[ -]", "", one) != re.sub(r"[ -]", "", other))
    assert plain_registration(one) != plain_registration(other)


def test_marks_of_two_formats_that_look_alike_are_told_apart_as_typed_and_else_asked_about(tmp_path: Path) -> None:
    """AI 1 (a county's letters and one number) and A 11 look alike; so do some German marks, B-IO 10 and BI-O 10."""
    db = open_store(tmp_path / "shop.db")
    writing.save_builds(
        db,
        [Build("J1", registration="AI 1"), Build("J2", registration="A 11"), Build("J3", registration="B-IO 10"),
         Build("J4", registration="BI-O 10")],
    )  # fmt: skip
    assert [getattr(find_build(db.conn, typed), "job_number", None) for typed in ("ai1", "a 11")] == ["J1", "J2"]
    asked = find_build(db.conn, "bio10")
    assert isinstance(asked, list)
    assert [candidate.job_number for candidate in asked] == ["J3", "J4"]
    db.conn.close()


def test_dates_are_read_month_first_in_the_time_zones_of_the_united_states() -> None:
    """The zones of the country US in zone1970.tab of the IANA time zone database, where the system or tzdata has it."""
    from importlib import resources

    from diaryidx.shop import Settings

    tables = [Path("/usr/share/zoneinfo/zone1970.tab"), resources.files("tzdata").joinpath("zoneinfo/zone1970.tab")]
    lines = next(table for table in tables if table.is_file()).read_text(encoding="utf-8").splitlines()
    rows = [line.split("\t") for line in lines if line and not line.startswith("#")]
    assert len(rows) > 200
    for countries, _place, zone, *_note in rows:
        american = countries.split(",")[0] == "US"
        assert Settings(timezone=zone).month_first is american, zone
