from __future__ import annotations

from dataclasses import replace

import pytest
from film_store import fact, line, save_film, topic
from hypothesis import assume, given
from hypothesis import strategies as st
from sqlite_utils import Database

from diaryidx.builds.private import without_private
from diaryidx.builds.word_lists import word_list
from diaryidx.records import Build, Event, ProductLine, Promise, RoundUp
from diaryidx.roundup.month import round_up
from diaryidx.roundup.render import as_markdown, money
from diaryidx.store import reading, writing

SHOWN = Build("31", "Ada Quill", "Tarnbeck", "Otter 500", registration="KL19 XYZ", vin="1M8GDM9AXKP042788", public=True)
HIDDEN = Build("32", "Bram Thistle", "Orrin", "Heron 900", nickname="Bramble")
OTHER = Build("33", "Cleo Wainfleet", public=True)


@pytest.fixture
def text(store: Database) -> str:
    writing.save_builds(store, [SHOWN, HIDDEN, OTHER])
    save_film(
        store,
        "nov",
        "2025-11-25",
        [
            topic(
                line("ada's seat is back", fact("done", "seat", task="upholster", finish="tan")),
                line("more talk of it"),
                line("rims off", fact("in progress", "rim", task="powder coat", finish="satin black", side="both")),
                build="31",
                title="Ada's Otter",
            ),
            topic(
                line("bramble has a new loom", fact("done", "wiring loom")),
                line("and more talk of that"),
                build="32",
                title="Bramble",
            ),
        ],
        title="November diary",
        promises=[
            Promise(
                "we will have mrs wainfleet's bike done, ring oh one six three two nine six oh double one",
                5,
                10,
                "2025-12",
                0.8,
            )
        ],
        events=[Event("open day", 10, 15, "2026-05-04", "at the barn", True)],
        products=[ProductLine("tail tidy", 0, 5, "y", "our own", "all Otters", 39.99, "GBP", True, "coming", 0.8)],
    )
    return as_markdown(round_up(store.conn, "2025-11"), "Fell Road Cycles", builds=reading.builds(store.conn))


def test_the_text_has_headings_sentences_prices_and_moments(text: str) -> None:
    assert "# Fell Road Cycles: November 2025" in text
    assert "### Tarnbeck Otter 500" in text
    assert "The seat is upholstered tan (November diary, 0:00)." in text
    assert "The rim on both sides is being powder coated satin black (November diary, 0:10)." in text
    assert (
        "- **Tail tidy** from our own, fits all Otters, about £39.99, as said on 25 November 2025, coming soon" in text
    )
    assert "- 4 May 2026: open day, at the barn, to be confirmed (as said on 25 November 2025)" in text
    assert "by December 2025 (November diary, 0:05)" in text


def test_each_thing_is_a_line_of_its_own_and_no_two_blank_lines_follow_each_other(text: str) -> None:
    assert "\n- The seat is upholstered tan" in text and "\n\n\n" not in text
    assert "This month: 1 bike on the benches and 1 thing new in the shop." in text


@pytest.fixture
def month_with_a_note(store: Database) -> str:
    writing.save_builds(store, [replace(SHOWN, nickname="Fern")])
    removed = [fact("done", part, task="remove") for part in ("engine", "frame", "seat")]
    save_film(store, "note", "2025-11-03", [topic(line("it is all off", *removed), line("more"), build="31")],
              kind="bench note", title="Recording 0042")  # fmt: skip
    strange = topic(line("tank done", fact("done", "fuel tank")), line("more"), build=None, title="A build: fuel tank")
    save_film(store, "diary", "2025-11-25", [strange], title="November diary")
    return as_markdown(round_up(store.conn, "2025-11"), "Shop", builds=reading.builds(store.conn))


def test_things_of_which_the_same_is_said_share_a_line(month_with_a_note: str) -> None:
    said = "- The engine, the frame and the seat are removed (note from the bench of 3 November 2025, 0:00)."
    assert said in month_with_a_note
    assert "### Fern (Tarnbeck Otter 500)" in month_with_a_note


def test_a_note_from_the_bench_is_no_clip_nor_is_a_bike_that_may_be_anybodys(month_with_a_note: str) -> None:
    assert "Worth watching" not in month_with_a_note and "Recording 0042" not in month_with_a_note
    assert "A build" not in month_with_a_note


def test_what_is_only_new_is_not_told_twice(shop_of_two_months: str) -> None:
    assert "Since last time: the seat: waiting in October 2025, now done." in shop_of_two_months
    assert "new on the list" not in shop_of_two_months and "The tyre is to be replaced" in shop_of_two_months


@pytest.fixture
def shop_of_two_months(store: Database) -> str:
    writing.save_builds(store, [SHOWN])
    save_film(store, "oct", "2025-10-25", [topic(line("seat is away", fact("waiting", "seat")), build="31")])
    save_film(
        store,
        "nov",
        "2025-11-25",
        [topic(line("seat", fact("done", "seat")), line("tyre", fact("planned", "tyre", task="replace")), build="31")],
    )
    return as_markdown(round_up(store.conn, "2025-11"), "Shop", reading.recordings(store.conn))


def test_a_product_told_twice_is_listed_once_with_its_price() -> None:
    lines = [ProductLine("tail tidy", 0, 5, "x", price=39.0, currency="GBP"), ProductLine("Tail tidy", 5, 9, "y")]
    text = as_markdown(RoundUp("2025-11", products=tuple(lines)), "Shop")
    assert text.count("ail tidy") == 1 and "£39" in text


def test_nobodys_name_plate_or_number_is_in_the_text(text: str) -> None:
    for private in ("Quill", "Ada", "Thistle", "Wainfleet", "wainfleet", "KL19", "1M8", "six three two"):
        assert private not in text


def test_bikes_that_may_not_be_shown_are_only_in_the_note_for_staff(text: str) -> None:
    note, rest = text.split("\n", 1)
    assert note.startswith("> For staff, delete before sending") and note.endswith("job 32.")
    assert "Bramble" not in rest and "Heron" not in rest and "loom" not in rest


def test_an_empty_month_says_so(store: Database) -> None:
    assert "There are no films of this month." in as_markdown(round_up(store.conn, "2025-11"), "Shop")


@pytest.mark.parametrize(
    ("price", "currency", "shown"),
    [
        (39.99, "GBP", "£39.99"),
        (40.0, "EUR", "€40"),
        (1250.5, "USD", "$1,250.50"),
        (40.0, "CHF", "40 CHF"),
        (5.0, None, "5"),
    ],
)
def test_prices_have_their_currency(price: float, currency: str | None, shown: str) -> None:
    assert money(price, currency) == shown


@pytest.mark.parametrize(
    ("said", "left"),
    [
        ("this is mrs quill's otter", "this is the customer's otter"),
        ("ada quill and ADA", "the customer and the customer"),
        ("the quilled edge", "the quilled edge"),
        ("reg kl 19 xyz is on", "reg [number] is on"),
        ("vin 1M8GDM9AXKP042788", "vin [number]"),
        ("ring 01632 960 123 now", "ring [number] now"),
        ("mail ada@example.org", "mail [address]"),
        ("two hundred and nine pounds", "two hundred and nine pounds"),
        ("on 2025-11-24", "on 2025-11-24"),
    ],
)
def test_what_belongs_to_the_customer_is_taken_out(said: str, left: str) -> None:
    assert without_private(said, [SHOWN]) == left


def test_everyday_first_names_stay_and_surnames_go() -> None:
    will = replace(SHOWN, customer="Will Marsh", registration=None, vin=None)
    assert without_private("we will see marsh on friday", [will]) == "we will see the customer on friday"


#: Words of a customer's cell that are no name: "Our own", "and", "Mrs".
NOBODY = {word for kind in ("no_names", "between_customers", "titles") for word in word_list(kind)}
NAME = st.text(st.characters(categories=["Lu", "Ll"]), min_size=3, max_size=9)


@given(NAME, NAME, st.text(max_size=30), st.text(max_size=30))
def test_no_whole_name_is_ever_left(first: str, last: str, before: str, after: str) -> None:
    assume(not {first.lower(), last.lower()} <= NOBODY)
    build = Build("1", customer=f"{first} {last}")
    left = without_private(f"{before} {first} {last} {after}", [build])
    assert f" {first} {last} ".casefold() not in f" {left} ".casefold()
