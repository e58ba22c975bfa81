"""Raw footage and the cut made of it: the same words count once, and both films are named."""

from __future__ import annotations

from datetime import date

import pytest
from film_store import LINE_SECONDS, fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.gaps import gaps
from diaryidx.builds.history import history
from diaryidx.builds.telling import describe_history
from diaryidx.records import Build, ProductLine, Promise
from diaryidx.roundup.month import round_up
from diaryidx.store import decisions, reading, writing
from diaryidx.store.decisions import Piece

BIKE = Build("31", "Ada Quill", "Tarnbeck", "Otter 500", date_in="2025-09-01", state="in the workshop", public=True)


@pytest.fixture
def twice(store: Database) -> Database:
    """A diary's footage of seven lines, and its cut of the lines from the third on, with a greeting of its own."""
    writing.save_builds(store, [BIKE])
    about_bike = (
        line("the seat is at the trimmer", fact("waiting", "seat")),
        line("the tank is painted red", fact("done", "fuel tank", task="paint", finish="red")),
        line("new loom next", fact("planned", "wiring loom")),
    )
    footage = [
        topic(line("is it on"), line("the rims are off", fact("done", "rim", task="remove")), build="31"),
        topic(*about_bike, build="31"),
    ]
    cut = [topic(line("hello"), kind="shop"), topic(*about_bike, build="31")]
    for film, day, topics, first in (("footage", "2025-10-28", footage, 2), ("cut", "2025-10-31", cut, 1)):
        start = LINE_SECONDS * (first + 2)
        save_film(
            store, film, day, topics, month="2025-10", title=f"The {film}",
            promises=[Promise("new loom next", start, start + 5, "2025-11", 0.9)],
            products=[ProductLine("bar end mirrors", start, start + 5, "mirrors", price=38.0, certainty=0.9)],
        )  # fmt: skip
    decisions.save_pieces(store, "hash of cut", [Piece(5.0, 20.0, "hash of footage", 10.0)])
    return store


def test_a_history_has_the_words_once_and_names_both_films(twice: Database) -> None:
    found = history(twice.conn, BIKE)
    assert [(one.part, one.recording) for one in found.statements] == [
        ("rim", "footage"),
        ("seat", "footage"),
        ("fuel tank", "footage"),
        ("wiring loom", "footage"),
    ]
    assert [one.also for one in found.statements] == [(), (("cut", 5.0),), (("cut", 10.0),), (("cut", 15.0),)]
    assert [one.start for one in found.promises] == [20.0]
    lines = describe_history(found, reading.recordings(twice.conn))
    both = "The footage, 28 October 2025, 0:10; also The cut, 31 October 2025, 0:05"
    assert f"  seat: waiting on upholsterer since 28 October 2025 ({both}) (we think)" in lines


def test_the_published_cut_is_named_first(twice: Database) -> None:
    writing.correct_recording(twice, "cut", {"address": "https://films.example/october"})
    said = history(twice.conn, BIKE).statements
    assert [(one.part, one.recording) for one in said if one.part == "seat"] == [("seat", "cut")]
    assert {one.recording for one in said if one.part == "rim"} == {"footage"}, "what the cut leaves out stays"


def test_what_is_said_again_in_another_stretch_is_said_twice(twice: Database) -> None:
    twice.execute("update film_pieces set end = start + 5")
    parts = [one.part for one in history(twice.conn, BIKE).statements]
    assert sorted(part for part in parts if part) == sorted(
        ["rim", "seat", "fuel tank", "wiring loom", "fuel tank", "wiring loom"]
    )


def test_gaps_count_footage_and_cut_as_one_diary_and_name_both(twice: Database) -> None:
    found = gaps(twice.conn, date(2025, 12, 31))
    (waiting,) = found.waiting
    assert [(one.recording, [also.recording for also in one.also]) for one in waiting.evidence] == [
        ("footage", ["cut"])
    ]
    writing.save_builds(twice, [Build("32", make="Orrin", date_in="2025-08-01", state="in the workshop")])
    assert gaps(twice.conn, date(2025, 12, 31)).left_out == (), "one diary without it is no gap yet"


def test_a_round_up_tells_everything_once(twice: Database) -> None:
    month = round_up(twice.conn, "2025-10")
    (moved,) = month.builds
    assert [one.part for one in moved.done] == ["rim", "fuel tank"]
    assert [one.part for one in moved.open] == ["seat", "wiring loom"]
    assert len(month.products) == len(month.promises) == 1
    assert sorted((clip.recording, clip.first) for clip in month.clips) == [("footage", 0), ("footage", 2)]


def test_a_bike_that_is_known_in_the_cut_is_not_unknown_in_the_footage(twice: Database) -> None:
    assert gaps(twice.conn, date(2025, 12, 31)).unknown_bikes == ()
    twice.execute("update statements set build = null where recording_id = 'footage'")
    twice.execute("update segments set build = null, certainty = 0 where recording_id = 'footage'")
    (unknown,) = gaps(twice.conn, date(2025, 12, 31)).unknown_bikes
    assert [one.text for one in unknown.evidence] == ["the rims are off"], "what the cut does not hold is still unknown"


def test_an_unnamed_side_in_one_film_is_the_named_one_of_the_other(twice: Database) -> None:
    twice.execute("update statements set side = 'left' where recording_id = 'cut' and part = 'seat'")
    assert [one.part for one in history(twice.conn, BIKE).statements].count("seat") == 1
