"""What the shop develops itself."""

from __future__ import annotations

import sqlite3

from diaryidx.store.reading.rows import fetched


def development_names(db: sqlite3.Connection) -> list[str]:
    """What films called a development, by name."""
    rows = fetched(
        db,
        """select distinct subject_id as name from segments
           where subject_kind = 'development' and subject_id is not null order by subject_id""",
    )
    return [row["name"] for row in rows]


def development_records(db: sqlite3.Connection) -> list[tuple[str, str | None, bool]]:
    """Name and state of every development, and whether the name is the shop's own."""
    rows = fetched(db, "select name, state, by_name from developments order by name")
    return [(row["name"], row["state"], bool(row["by_name"])) for row in rows]


def films_about(db: sqlite3.Connection, name: str, *, by_name: bool) -> list[tuple[str, str | None, str]]:
    """Id, date and title of the films with a stretch about a development, or with its name if asked, oldest first."""
    rows = fetched(
        db,
        """select r.id, r.date, r.title from recording_details r where r.id in (
             select recording_id from segments where subject_kind in ('development', 'product') and subject_id = :name
             union select s.recording_id from mentions m join sentences s on s.id = m.sentence_id
               where :by_name and m.label in ('PART', 'PRODUCT') and m.canonical = :name)
           order by r.date, r.id""",
        {"name": name, "by_name": by_name},
    )
    return [(row["id"], row["date"], row["title"]) for row in rows]


def sentences_naming(db: sqlite3.Connection, recording_id: str, name: str) -> list[int]:
    """The places of a film's sentences that name a part or product."""
    rows = fetched(
        db,
        """select distinct s.place from mentions m join sentences s on s.id = m.sentence_id
           where m.label in ('PART', 'PRODUCT') and m.canonical = ? and s.recording_id = ? order by s.place""",
        (name, recording_id),
    )
    return [row["place"] for row in rows]
