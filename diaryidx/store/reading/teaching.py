"""What people taught, and which films do not follow it yet."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from diaryidx.store.reading.rows import fetched


@dataclass(frozen=True, slots=True)
class Taught:
    """A correction that a person taught: ``heard`` as typed, and what is meant by it.

    ``made_number`` and ``undone_number`` number people's decisions in the order they were made; times are ISO 8601 in
    UTC. Undone ones are kept.
    """

    id: int
    heard: str
    meant: str
    made_number: int
    made_at: str
    made_by: str | None = None
    undone_number: int | None = None
    undone_at: str | None = None
    undone_by: str | None = None

    @property
    def last_number(self) -> int:
        """The number of the last decision on it."""
        return self.undone_number or self.made_number


def taught(db: sqlite3.Connection) -> list[Taught]:
    """Every correction that was ever taught, those undone too, in the order they were made."""
    return [Taught(**row) for row in fetched(db, "select * from taught order by id")]


def taught_words(db: sqlite3.Connection) -> dict[str, str]:
    """The taught corrections that hold, as ``{heard: meant}``."""
    return {one.heard: one.meant for one in taught(db) if one.undone_number is None}


def last_decision(db: sqlite3.Connection) -> int:
    """The number of the last decision on what was misheard; 0 before the first."""
    found = db.execute("select max(max(made_number, coalesce(undone_number, 0))) from taught").fetchone()
    return found[0] or 0


def films_behind(db: sqlite3.Connection, decision: int) -> dict[str, int]:
    """Indexed films that do not follow all decisions up to this one, as ``{id: last one that they follow}``."""
    rows = fetched(db, "select id, decision from recordings where state = 'indexed' and decision < ?", (decision,))
    return {row["id"]: row["decision"] for row in rows}
