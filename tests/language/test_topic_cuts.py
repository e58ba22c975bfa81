"""Where topics begin and what they are called, on films invented here; and dates, promises, goods."""

from __future__ import annotations

import pytest
from film_reader import Reader

from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Reading, Sentence
from diaryidx.vocabulary import load_vocabulary


def stretches(reading: Reading) -> list[tuple[int, int]]:
    return [(one.first, one.last) for one in reading.segments]


@pytest.mark.parametrize(
    "opening",
    [
        "and last of all the bronze tourer", "now the dipper", "the dipper's frame is back",
        "this came in last thursday", "and these two are both here for tyres", "next to it we've got a scrambler",
        "then there's this one",
        "what about the dipper", "one more thing the rally bike", "first of all some good news",
    ],
)  # fmt: skip
def test_a_walk_round_turns_to_another_bike(read: Reader, opening: str) -> None:
    told = read(["first up is the lapwing", "the tank is painted", "the seat is in", opening, "it needs a clutch"])
    assert stretches(told) == [(0, 2), (3, 4)]


@pytest.mark.parametrize("going_on", ["one more thing on it the bars are in", "these are the new bars", "and the seat"])
def test_a_walk_round_stays_with_its_bike(read: Reader, going_on: str) -> None:
    assert stretches(read(["first up is the lapwing", "the tank is painted", "the seat is in", going_on])) == [(0, 3)]


def test_an_opening_that_names_people_is_no_build(read: Reader) -> None:
    told = read(
        [
            "hello and welcome", "i'm moss and with me is tilly who looks after the wheels",
            "first up is the lapwing", "the tank is painted",
        ]
    )  # fmt: skip
    assert [(one.title, one.first, one.last) for one in told.segments] == [("Opening", 0, 1), ("Lapwing 650", 2, 3)]


def test_a_bike_named_in_the_greeting_is_spoken_of_at_once(read: Reader) -> None:
    assert stretches(read(["hello all this is the lapwing", "the frame is painted", "the wheels are in"])) == [(0, 2)]


def test_a_step_begins_with_a_new_action_and_not_with_every_sentence(read: Reader) -> None:
    told = read(
        """
        hello in this video we're changing the rear pads
        slacken the spindle nut
        not too much just a turn
        undo the two bolts on the caliper
        they can be tight
        slide the caliper off
        clean the pistons with brake cleaner
        push the pistons back
        thanks for watching
        """,
        "tutorial",
    )
    assert stretches(told) == [(0, 0), (1, 2), (3, 5), (6, 7), (8, 8)]


# --- models that share a word ----------------------------------------------------------------------------------------


def film_of(lines: list[str], *models: str) -> Reading:
    vocabulary = load_vocabulary(None, [Build(str(number), model=model) for number, model in enumerate(models)])
    told = [Sentence(2.0 * at, 2.0 * at + 1.8, text, text) for at, text in enumerate(lines)]
    return read_recording(build_pipeline(vocabulary), told, "diary", None, vocabulary)


def test_a_word_that_models_share_names_none_of_them(read: Reader) -> None:
    shared = film_of(["first up is the plover", "the tank is painted"], "Plover 500", "Plover 750")
    assert [one.title for one in shared.segments] == ["Plover"]
    full = film_of(["first up is the plover seven fifty", "the plover is painted"], "Plover 500", "Plover 750")
    assert [(one.title, one.first, one.last) for one in full.segments] == [("Plover 750", 0, 1)]
    alone = film_of(["first up is the plover", "the tank is painted"], "Plover 500", "Dunlin")
    assert [one.title for one in alone.segments] == ["Plover 500"]


# --- promises, dates, goods ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("imogen is going to make a seat pan for it", None), ("wendel is going to wire the loom", None),
        ("i'll have one by the next diary", "2025-11"), ("we'll be doing that in november", "2025-11"),
        ("next month we'll make you a film about setting up forks", "2025-11"),
    ],
)  # fmt: skip
def test_what_the_shop_will_do_is_a_promise(read: Reader, text: str, due: str | None) -> None:
    told = read(["hello all", "first up is the lapwing", "the tank is painted", text]).promises
    assert [(one.text, one.due) for one in told] == [(text, due)]


@pytest.mark.parametrize("text", ["the owner is going to fit a rack", "wendel has made a seat pan"])
def test_what_is_done_or_others_do_is_no_promise(read: Reader, text: str) -> None:
    assert read(["hello all", "first up is the lapwing", "the tank is painted", text]).promises == ()


@pytest.mark.parametrize("names", ["the open day", "before we go the open day"])
def test_a_date_told_after_its_event_belongs_to_it(read: Reader, names: str) -> None:
    told = read(["first up is the lapwing", "the tank is painted", names, "it'll be the tenth of april we think"])
    assert [(one.name, one.date, one.tentative) for one in told.events] == [("Open day", "2026-04-10", True)]
    assert [one.part for one in told.statements] == ["fuel tank"]


@pytest.mark.parametrize(
    ("text", "availability"),
    [
        ("the leather tool rolls are back", "available"), ("we've got plenty of the filler caps", "available"),
        ("we're expecting some canvas panniers", "coming"), ("the short levers have sold out", "sold out"),
        ("the new panniers should be in the shop before christmas", "coming"),
    ],
)  # fmt: skip
def test_whether_goods_can_be_had(read: Reader, text: str, availability: str) -> None:
    told = read(["hello here's the news", text], "product news").products
    assert [one.availability for one in told] == [availability]
