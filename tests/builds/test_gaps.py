from __future__ import annotations

import random
import time
from datetime import date

import pytest
from film_store import Topic, fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.gaps import Gaps, gaps
from diaryidx.records import Build, Statement, Status
from diaryidx.store import writing

TODAY = date(2025, 12, 31)
BOOK = [
    Build("101", make="Tarnbeck", date_in="2025-08-01", state="in the workshop"),
    Build("102", make="Orrin", date_in="2025-08-01", state="in the workshop"),
    Build("103", make="Wren", date_in="2025-11-20", state="in the workshop"),
    Build("104", make="Heron", date_in="2025-08-01", state="delivered", date_out="2025-11-01"),
    Build("105", make="Stoat", date_in="2025-08-01", state="Finished"),
]


def said(job: str | None, text: str, status: Status, part: str | None = None, **slots: str) -> Topic:
    return topic(line(text, fact(status, part, **slots)), build=job)


def found(store: Database, *films: tuple[str, list[Topic]]) -> Gaps:
    writing.save_builds(store, BOOK)
    for day, topics in films:
        save_film(store, f"diary-{day}", day, topics)
    return gaps(store.conn, TODAY)


def seen(*jobs: str) -> list[Topic]:
    return [said(job, f"job {job} has its seat on", "done", "seat") for job in jobs]


def test_a_bike_that_two_diaries_left_out_is_named_with_the_last_word_of_it(store: Database) -> None:
    told = found(
        store,
        ("2025-09-01", seen("101", "102")),
        ("2025-10-01", seen("102")),
        ("2025-11-01", []),
        ("2025-12-01", seen("102")),
    )
    assert [(one.build.job_number, one.diaries) for one in told.left_out] == [("101", 3)]
    last = told.left_out[0].last
    assert last is not None
    assert (last.date, last.recording, last.text) == ("2025-09-01", "diary-2025-09-01", "job 101 has its seat on")


def test_a_bike_that_has_only_come_in_or_has_left_is_not_missed(store: Database) -> None:
    """Job 3 came in before one diary only, 4 and 5 are finished; 1 and 2 were never shown at all."""
    told = found(store, ("2025-10-01", []), ("2025-11-01", []), ("2025-12-01", []))
    assert [one.build.job_number for one in told.left_out] == ["101", "102"]
    assert told.left_out[0].last is None


def test_films_that_are_no_diary_do_not_count(store: Database) -> None:
    writing.save_builds(store, BOOK)
    for number in range(3):
        save_film(store, f"t{number}", f"2025-1{number}-01", [], kind="tutorial")
    assert gaps(store.conn, TODAY).left_out == ()


def test_what_waits_longest_comes_first_with_whom_and_since_when(store: Database) -> None:
    told = found(
        store,
        ("2025-10-01", [said("101", "waiting for the loom", "waiting", "wiring loom", supplier="Brackwater")]),
        ("2025-11-01", [said("101", "loom still not here", "waiting", "wiring loom"),
                        said("102", "the tank's at the painter", "waiting", "tank")]),
        ("2025-12-01", [said("101", "no loom yet", "waiting", "wiring loom")]),
    )  # fmt: skip
    assert [(one.build.job_number, one.on, one.since, one.days) for one in told.waiting] == [
        ("101", "Brackwater", "2025-10-01", 91),
        ("102", "painter", "2025-11-01", 60),
    ]
    assert [one.text for one in told.waiting[0].evidence] == ["waiting for the loom", "no loom yet"]


def test_what_came_and_is_waited_for_again_waits_since_then(store: Database) -> None:
    told = found(
        store,
        ("2025-09-01", [said("101", "waiting for the loom", "waiting", "wiring loom")]),
        ("2025-10-01", [said("101", "the loom is in", "done", "wiring loom")]),
        ("2025-11-01", [said("101", "sent it back, waiting for another", "waiting", "wiring loom")]),
        ("2025-12-01", [said("102", "new seat is on", "done", "seat"), said("102", "maybe waiting", "waiting")]),
    )  # fmt: skip
    assert [(one.build.job_number, one.since) for one in told.waiting] == [("101", "2025-11-01")]


def test_a_bike_that_no_job_fits_is_told_of_and_one_that_could_be_several_is_left_to_review(store: Database) -> None:
    told = found(
        store,
        ("2025-11-01", [said(None, "job one four zero has a new clutch", "done", "clutch"),
                        said(None, "this sidecar wants a new chain", "planned", "chain")]),
    )  # fmt: skip
    first, second = told.unknown_bikes
    assert (first.why, second.why) == (
        "says job 140, which the job book does not have", "nothing in the job book fits what was said"
    )  # fmt: skip
    assert (second.evidence[0].recording, second.evidence[0].start) == ("diary-2025-11-01", 5.0)
    store.execute("update segments set evidence = '[\"could be job 101 or job 102\"]'")
    store.conn.commit()
    assert gaps(store.conn, TODAY).unknown_bikes == ()


def test_a_job_that_left_counts_as_open_only_by_what_was_said_after_it_left(store: Database) -> None:
    before = ("2025-10-20", [said("104", "its forks leak", "in progress", "forks")])
    assert found(store, before).finished_but_open == ()
    (one,) = found(
        store, before, ("2025-12-01", [said("104", "still to do its seat", "planned", "seat")])
    ).finished_but_open
    assert (one.build.job_number, one.book) == ("104", "delivered, out 2025-11-01")
    assert [evidence.text for evidence in one.evidence] == ["still to do its seat"]


def test_a_finished_job_without_a_day_counts_by_what_was_said_last(store: Database) -> None:
    told = found(
        store, ("2025-10-20", [said("105", "its forks leak", "in progress", "forks")]), ("2025-11-20", seen("105"))
    )
    assert told.finished_but_open == ()
    (one,) = found(store, ("2025-12-01", [said("105", "tank is off again", "in progress", "tank")])).finished_but_open
    assert (one.build.job_number, one.book) == ("105", "Finished")


def test_a_job_still_here_whose_last_word_is_finished_is_told_of(store: Database) -> None:
    done = ("2025-11-01", [said("101", "this one is finished", "done", task="finish")])
    (one,) = found(store, done).open_but_finished
    assert (one.build.job_number, one.book) == ("101", "in the workshop")
    again = found(store, done, ("2025-12-01", [said("101", "it's back, forks are off", "in progress", "forks")]))
    assert again.open_but_finished == ()


def test_a_note_counts_as_something_said(store: Database) -> None:
    writing.save_builds(store, BOOK)
    note = writing.save_note(store, "102", "waiting for pistons", "2025-12-20", "Wes", [])
    writing.save_note_reading(
        store, note.id, [Statement("waiting", "waiting for pistons", "pistons", certainty=0.9)], "k"
    )
    (one,) = gaps(store.conn, TODAY).waiting
    assert (one.since, one.evidence[0].note, one.evidence[0].source) == ("2025-12-20", note.id, "note")


@pytest.fixture
def two_years(store: Database) -> Database:
    chance = random.Random(7)
    writing.save_builds(
        store, [Build(str(n), make="Tarnbeck", date_in="2023-12-01", state="in the workshop") for n in range(60)]
    )
    statuses: list[Status] = ["done", "in progress", "waiting", "planned"]
    for month in range(24):
        topics = [
            topic(
                *(line(f"the {part} of this one, month {month}", fact(chance.choice(statuses), part))
                  for part in chance.sample(["tank", "seat", "frame", "forks", "loom", "exhaust", "yokes"], 5)),
                build=str(job) if chance.random() < 0.8 else None,
            )
            for job in range(60) if chance.random() < 0.7
        ]  # fmt: skip
        save_film(store, f"m{month}", f"{2024 + month // 12}-{month % 12 + 1:02d}-03", topics)
    return store


def test_two_years_of_sixty_builds_take_well_under_two_seconds(two_years: Database) -> None:
    began = time.perf_counter()
    told = gaps(two_years.conn, TODAY)
    assert time.perf_counter() - began < 2.0
    assert told.waiting and told.unknown_bikes
