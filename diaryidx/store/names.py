"""Which names of the job book films know, and which films are to be put right or read again for other ones."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence

from sqlite_utils import Database

from diaryidx.records import Build, Sentence
from diaryidx.store.database import writing
from diaryidx.store.reading import as_indexed
from diaryidx.store.writing import repairs_packed

#: What is to be done with a film whose ``names_due`` says so: put right again, and read again where that changes it; or
#: read again in any case.
PUT_RIGHT, READ = 1, 2
_FIELDS = ("job_number", "make", "model", "nickname", "customer", "date_in")
#: So many phrases are looked for at a time; SQLite limits how deep an expression of its full-text index may be.
_PHRASES_AT_A_TIME = 200


def names_of(build: Build) -> Build:
    """A row of the job book with its names alone, and since when they are known."""
    return Build(**{name: getattr(build, name) for name in _FIELDS})


def known(db: sqlite3.Connection) -> list[Build]:
    """The names that films know, in the order of the job book."""
    rows = db.execute(f"select {', '.join(_FIELDS)} from known_names order by length(job_number), job_number")
    return [Build(**dict(zip(_FIELDS, row, strict=True))) for row in rows]


def know(db: Database, builds: Sequence[Build], to_put_right: Iterable[str], to_read: Iterable[str]) -> None:
    """Keep the names that films know from now on, and mark the films that do not yet."""
    with writing(db):
        db.execute("delete from known_names")
        db.conn.executemany(
            f"insert into known_names ({', '.join(_FIELDS)}) values ({', '.join('?' * len(_FIELDS))})",
            [tuple(getattr(build, name) for name in _FIELDS) for build in builds],
        )
        for films, due in ((to_put_right, PUT_RIGHT), (to_read, READ)):
            marks = [(due, film) for film in films]
            db.conn.executemany("update recordings set names_due = max(names_due, ?) where id = ?", marks)


def follow(db: Database, recording_id: str, sentences: Iterable[Sentence]) -> None:
    """Say that a film knows the names, which left its texts as they are.

    :param sentences: those stored ones whose repairs are surer or less sure now.
    """
    with writing(db):
        for one in sentences:
            db.execute("update sentences set repairs = ? where id = ?", (repairs_packed(one), one.id))
        db.execute("update recordings set names_due = 0 where id = ?", (recording_id,))


def films_due(db: sqlite3.Connection, reading_key: str) -> dict[str, int]:
    """The films to be put right or read again for their names alone, with what is to be done, oldest first."""
    rows = db.execute(
        """select id, names_due from recordings where names_due and state = 'indexed' and reading_key = ?
           order by date, id""",
        (reading_key,),
    )
    return dict(rows.fetchall())


def films_meaning(db: sqlite3.Connection, phrases: Iterable[str]) -> set[str]:
    """The films in which any of some phrases is among the words that are meant."""
    wanted = [words for phrase in sorted(phrases) if (words := as_indexed(phrase))]
    found: set[str] = set()
    for start in range(0, len(wanted), _PHRASES_AT_A_TIME):
        match = " OR ".join(f'"{words}"' for words in wanted[start : start + _PHRASES_AT_A_TIME])
        rows = db.execute(
            """select distinct s.recording_id from sentences_fts f join sentences s on s.id = f.rowid
               where sentences_fts match ?""",
            (f"text : ({match})",),
        )
        found |= {row[0] for row in rows}
    return found
