from __future__ import annotations

from film_store import fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.relinking import relink
from diaryidx.records import Build
from diaryidx.store import reading, writing

BOOK = [
    Build("201", "Ada Quill", "Tarnbeck", "Otter 500", asked_for="tan seat, satin black rims"),
    Build("202", "Bram Thistle", "Orrin", "Heron 900", nickname="Bramble", asked_for="red tank"),
    Build("203", "Cleo Wainfleet", "Fell & Moss", "Stoat", asked_for="service"),
]
YOKES = line("the yokes are polished", fact("done", "yokes", task="polish"))
CARBS = line("carbs are rebuilt", fact("in progress", "carburettor", task="rebuild"))


def builds_of(store: Database, film: str) -> list[str | None]:
    return [segment.build for segment in reading.segments(store.conn, recording_id=film)]


def test_segments_and_their_statements_are_tied_and_habits_are_not(store: Database) -> None:
    writing.save_builds(store, BOOK)
    habit = line("we always grease them", fact("usual practice", "wheel bearings"))
    save_film(store, "nov", "2025-11-03", [topic(line("bramble next"), YOKES, habit)])
    relink(store)
    assert builds_of(store, "nov") == ["202"]
    tied = {one.part: one.build for one in reading.statements(store.conn)}
    assert tied == {"yokes": "202", "wheel bearings": None}


def test_an_older_film_is_read_first_so_that_a_later_one_knows_what_it_said(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "a-late", "2025-12-03", [topic(line("this one here"), YOKES, CARBS)])
    save_film(store, "z-early", "2025-11-03", [topic(line("the stoat"), YOKES, CARBS)])
    relink(store)
    assert builds_of(store, "z-early") == ["203"]
    assert builds_of(store, "a-late") == ["203"]


def test_films_of_one_day_and_without_a_day_know_nothing_of_each_other(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "a", "2025-11-03", [topic(line("the stoat"), YOKES, CARBS)])
    save_film(store, "b", "2025-11-03", [topic(line("this one here"), YOKES, CARBS)])
    save_film(store, "c", None, [topic(line("this one here"), YOKES, CARBS)])
    relink(store)
    assert (builds_of(store, "b"), builds_of(store, "c")) == ([None], [None])


def test_a_second_time_changes_nothing_and_a_new_job_row_is_taken_in(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(
        store, "nov", "2025-11-03", [topic(line("bramble next"), YOKES), topic(line("and the petrel"), line("hello"))]
    )
    relink(store)
    before = reading.segments(store.conn)
    changes = store.conn.total_changes
    relink(store)
    assert reading.segments(store.conn) == before
    assert store.conn.total_changes == changes
    writing.save_builds(store, [Build("204", make="Alder", model="Petrel")])
    relink(store)
    assert builds_of(store, "nov") == ["202", "204"]


def test_links_go_when_their_reason_goes(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "nov", "2025-11-03", [topic(line("bramble next"), YOKES)])
    relink(store)
    writing.save_builds(store, [Build("202", "Bram Thistle", "Orrin", "Heron 900")])
    relink(store)
    assert builds_of(store, "nov") == [None]
    assert [one.build for one in reading.statements(store.conn)] == [None]
