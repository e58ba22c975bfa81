from __future__ import annotations

from film_store import fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.history import history
from diaryidx.builds.telling import describe_history
from diaryidx.records import Build, Statement
from diaryidx.store import reading, writing

JOB = Build("31", make="Tarnbeck", model="Otter", public=True)


def noted(db: Database, day: str, text: str, *facts: Statement, author: str = "Wes") -> int:
    note = writing.save_note(db, "31", text, day, author, [])
    writing.save_note_reading(
        db, note.id, [Statement(one.status, text, one.part, finish=one.finish) for one in facts], "k"
    )
    return note.id


def test_films_and_notes_come_in_the_order_of_days_and_a_note_settles_what_a_film_left_open(store: Database) -> None:
    writing.save_builds(store, [JOB])
    save_film(
        store,
        "oct",
        "2025-10-03",
        [topic(line("the frame is at the painter", fact("in progress", "frame")), build="31")],
    )
    save_film(store, "dec", "2025-12-01", [topic(line("the seat is next", fact("planned", "seat")), build="31")])
    noted(store, "2025-11-10", "frame is back", fact("done", "frame"))
    told = history(store.conn, JOB)
    assert [one.recording or one.said_on for one in told.statements] == ["oct", "2025-11-10", "dec"]
    assert [one.part for one in told.open] == ["seat"]
    lines = describe_history(told, reading.recordings(store.conn))
    headings = [text for text in lines if text.startswith(("oct,", "Note", "dec,"))]
    assert headings == ["oct, 3 October 2025", "Note 1 by Wes, 10 November 2025", "dec, 1 December 2025"]


def test_a_note_against_a_film_is_a_conflict_with_both_sources_and_neither_is_overwritten(store: Database) -> None:
    writing.save_builds(store, [JOB])
    save_film(
        store,
        "oct",
        "2025-10-03",
        [topic(line("tank is satin black", fact("done", "tank", finish="satin black")), build="31")],
    )
    number = noted(store, "2025-11-10", "the tank is gloss black", fact("done", "tank", finish="gloss black"))
    told = history(store.conn, JOB)
    ((first, second),) = told.conflicts
    assert (first.recording, second.note) == ("oct", number)
    assert len(told.statements) == 2


def test_a_film_that_is_read_again_leaves_notes_as_they_are(store: Database) -> None:
    writing.save_builds(store, [JOB])
    for text in ("tank is off", "tank is back on"):
        save_film(store, "oct", "2025-10-03", [topic(line(text, fact("done", "tank")), build="31")])
        if not reading.notes(store.conn):
            noted(store, "2025-10-04", "seat cover is split", fact("in progress", "seat"))
    assert [one.part for one in history(store.conn, JOB).statements] == ["tank", "seat"]
