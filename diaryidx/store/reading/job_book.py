"""The job book, the notes on its builds, and the films about them."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from diaryidx.errors import NotFound
from diaryidx.records import Build, Note, Photo, Statement, Subject
from diaryidx.store.reading.rows import fetched


def builds(db: sqlite3.Connection) -> list[Build]:
    """Every row of the job book, by job number."""
    rows = fetched(db, "select * from builds order by length(job_number), job_number")
    return [_build(row) for row in rows]


def build(db: sqlite3.Connection, job_number: str) -> Build:
    """One build by its exact job number.

    :raises NotFound: the job book has none.
    """
    rows = fetched(db, "select * from builds where job_number = ?", (job_number,))
    if not rows:
        raise NotFound(f"the job book has no job {job_number!r}; `diaryidx jobs list` shows what it has")
    return _build(rows[0])


def job_columns(db: sqlite3.Connection) -> dict[str, str | None]:
    """What the headings of the job book fill, as a person confirmed it: ``{plain heading: field or None}``."""
    return {row["heading"]: row["field"] for row in fetched(db, "select heading, field from job_columns")}


def films_of_builds(db: sqlite3.Connection) -> list[tuple[str, str]]:
    """Every pair of a job number and a film with a stretch about it."""
    rows = fetched(db, "select distinct build, recording_id from segments where build is not null")
    return [(row["build"], row["recording_id"]) for row in rows]


def notes(db: sqlite3.Connection, *, build: str | None = None) -> list[Note]:
    """What people wrote about builds, undone notes too, by the day they are of; of one build when given."""
    return _notes(db, "(:build is null or n.build = :build)", {"build": build})


def note(db: sqlite3.Connection, note_id: int) -> Note:
    """One note.

    :raises NotFound: there is none of this number.
    """
    found = _notes(db, "n.id = :id", {"id": note_id})
    if not found:
        raise NotFound(f"there is no note number {note_id}; `diaryidx note list` shows them")
    return found[0]


def photo(db: sqlite3.Connection, file: str) -> Photo:
    """A photo of a note in force, by its name in the shop's photos folder.

    :raises NotFound: no note has it, or only undone ones.
    """
    rows = fetched(
        db,
        """select p.file, p.name, p.width, p.height from note_photos p join notes n on n.id = p.note_id
           where p.file = ? and n.undone_at is null limit 1""",
        (file,),
    )
    if not rows:
        raise NotFound("no note has this photo")
    return Photo(**rows[0])


def note_statements(db: sqlite3.Connection, *, build: str | None = None) -> list[Statement]:
    """What notes in force state, by the day they are of; of one build when given."""
    rows = fetched(
        db,
        """select s.*, n.build, n.date as said_on, n.id as note from note_statements s join notes n on n.id = s.note_id
           where n.undone_at is null and (:build is null or n.build = :build) order by n.date, n.id, s.id""",
        {"build": build},
    )
    names = {field.name for field in fields(Statement)}
    return [
        Statement(
            **{name: value for name, value in row.items() if name in names},
            source="note",
            subject=Subject("build", row["build"]),
        )
        for row in rows
    ]


def _notes(db: sqlite3.Connection, condition: str, parameters: Mapping[str, Any]) -> list[Note]:
    rows = fetched(
        db,
        f"""select n.*, r.reading_key from notes n left join note_readings r on r.note_id = n.id
            where {condition} order by n.date, n.id""",
        parameters,
    )
    photos: dict[int, list[Photo]] = {}
    for photo in fetched(db, "select * from note_photos order by note_id, place") if rows else ():
        photos.setdefault(photo["note_id"], []).append(
            Photo(photo["file"], photo["name"], photo["width"], photo["height"])
        )
    return [Note(**{**row, "visit": bool(row["visit"])}, photos=tuple(photos.get(row["id"], ()))) for row in rows]


def _build(row: Mapping[str, Any]) -> Build:
    return Build(**{**row, "public": bool(row["public"])})
