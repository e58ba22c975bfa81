"""Films and files: what is known, what failed, what was heard so far, which links are due."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, fields
from difflib import get_close_matches
from typing import Any

from diaryidx.errors import NotFound
from diaryidx.records import Recording, Word
from diaryidx.store.reading.rows import fetched
from diaryidx.store.words import unpack_words


@dataclass(frozen=True, slots=True)
class RecordingFile:
    """Where a film is and what it was when it was indexed; enough to say "unchanged" without opening it."""

    id: str
    path: str
    size: int
    modified_ns: int
    content_hash: str
    engine: str | None
    reading_key: str | None
    state: str


def recordings(db: sqlite3.Connection, *, month: str | None = None, kind: str | None = None) -> list[Recording]:
    """All films, newest first; only those of a month (``YYYY-MM``) or a kind when given."""
    rows = fetched(
        db,
        """select * from recording_details where (:month is null or month = :month) and (:kind is null or kind = :kind)
           order by date desc, path""",
        {"month": month, "kind": kind},
    )
    return [_recording(row) for row in rows]


def recording(db: sqlite3.Connection, recording_id: str) -> Recording:
    """One film by its id.

    :raises NotFound: no film has this id; the message offers the nearest ones.
    """
    rows = fetched(db, "select * from recording_details where id = ?", (recording_id,))
    if rows:
        return _recording(rows[0])
    known = [row["id"] for row in fetched(db, "select id from recordings")]
    near = get_close_matches(recording_id, known, n=3, cutoff=0.4)
    hint = f"; did you mean {', '.join(near)}?" if near else "; `diaryidx recording` lists them"
    raise NotFound(f"no recording has the id {recording_id!r}{hint}")


def recording_files(db: sqlite3.Connection) -> list[RecordingFile]:
    """Every known film's file, for the index to compare with the folder."""
    columns = ", ".join(field.name for field in fields(RecordingFile))
    return [RecordingFile(**row) for row in fetched(db, f"select {columns} from recordings order by path")]


def copies(db: sqlite3.Connection) -> dict[str, tuple[int, int, str]]:
    """Files that hold the same bytes as a film, as ``{path: (size, modified_ns, recording id)}``."""
    rows = fetched(db, "select path, size, modified_ns, recording_id from copies")
    return {row["path"]: (row["size"], row["modified_ns"], row["recording_id"]) for row in rows}


def failed_files(db: sqlite3.Connection) -> dict[str, str]:
    """The files that could not be indexed, as ``{path: why}``."""
    return {row["path"]: row["error"] for row in fetched(db, "select path, error from failed_files order by path")}


def stretches(db: sqlite3.Connection, content_hash: str, engine: str) -> dict[tuple[int, int], tuple[Word, ...]]:
    """The finished stretches of a film that is being heard, by their first and last-but-one sample at 16 kHz."""
    rows = fetched(
        db,
        "select start_sample, end_sample, words from stretches where content_hash = ? and engine = ?",
        (content_hash, engine),
    )
    return {(row["start_sample"], row["end_sample"]): unpack_words(row["words"]) for row in rows}


def links_due(db: sqlite3.Connection) -> bool:
    """Whether films changed since all were tied to builds together."""
    return bool(db.execute("select exists (select 1 from recordings where links_due)").fetchone()[0])


def film_dates(db: sqlite3.Connection) -> dict[str, str | None]:
    """The date of every film, by its id."""
    return {row["id"]: row["date"] for row in fetched(db, "select id, date from recording_details")}


def _recording(row: Mapping[str, Any]) -> Recording:
    names = {field.name for field in fields(Recording)}
    values = {name: value for name, value in row.items() if name in names}
    return Recording(**{**values, "has_picture": bool(row["has_picture"])})
