"""How films sound, kept for good, and which recording a film is that is known again by it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlite_utils import Database

from diaryidx.store.database import writing


@dataclass(frozen=True, slots=True)
class KnownFilm:
    """How a film sounds: its content hash, its length in seconds, and its packed landmarks."""

    film: str
    duration: float
    sound: bytes


def known_films(db: sqlite3.Connection, method: str) -> Iterator[KnownFilm]:
    """How every film sounds that was ever heard, by one method; one after the other, so that memory stays small."""
    for row in db.execute("select film, duration, sound from known_films where method = ? order by film", (method,)):
        yield KnownFilm(*row)


def save_known_film(db: Database, known: KnownFilm, title: str, method: str) -> None:
    """Keep how a film sounds; what is kept of it by this method stays as it is."""
    now = datetime.now(UTC).isoformat(timespec="seconds")
    with writing(db):
        db.execute(
            """insert into known_films (film, title, duration, heard_at, method, sound) values (?, ?, ?, ?, ?, ?)
               on conflict (film) do update set method = excluded.method, sound = excluded.sound
               where method != excluded.method""",
            (known.film, title, known.duration, now, method, known.sound),
        )


def recordings_without_sound(db: sqlite3.Connection, method: str) -> list[str]:
    """Recordings about which people decided or corrected something and whose sound is not kept yet."""
    rows = db.execute(
        """select id from recordings r where state = 'indexed'
             and not exists (select 1 from known_films k where k.film = r.content_hash and k.method = ?)
             and (exists (select 1 from decisions d where d.film = r.content_hash)
               or exists (select 1 from recording_corrections c where c.recording_id = r.id)) order by id""",
        (method,),
    )
    return [row[0] for row in rows]


def take_over(db: Database, new_id: str, old_id: str) -> None:
    """Let a film that is just being heard be the recording that it was known as, whose file is gone.

    What people said about that recording holds for it; what was understood of it before goes.
    """
    with writing(db):
        db.execute("delete from recordings where id = ?", (old_id,))
        db.execute("update recordings set id = ? where id = ?", (old_id, new_id))


def copy_corrections(db: Database, new_id: str, old_id: str, fields: Sequence[str]) -> None:
    """Let a film have what a person said about another of the same sound, where nobody said anything about it yet."""
    marks = ", ".join("?" * len(fields))
    with writing(db):
        db.execute(
            f"""insert or ignore into recording_corrections (recording_id, field, value, decided_at)
                select ?, field, value, decided_at from recording_corrections
                where recording_id = ? and field in ({marks})""",
            (new_id, old_id, *fields),
        )
