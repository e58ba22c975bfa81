"""Is everything sound? Looks at the database, the films' files, the job book, the words, the model and the links."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from sqlite_utils import Database

from diaryidx.builds.job_import import read_shops_job_book
from diaryidx.errors import DiaryidxError
from diaryidx.shop import Shop
from diaryidx.speech import home
from diaryidx.store import decisions, reading
from diaryidx.store.migrations import FULL_TEXT
from diaryidx.vocabulary.loader import load_vocabulary


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at. ``sound`` is False where something must be done; ``text`` says what."""

    about: str
    sound: bool
    text: str


def check(shop: Shop, db: Database) -> list[Finding]:
    """Look at everything a shop relies on; nothing is changed.

    :returns: one finding a thing, sound or not.
    """
    return [
        *_database(db),
        *_films(shop, db),
        _job_book(shop, db),
        _words(shop, db),
        *_photos(shop, db),
        _model(shop),
        _links(db),
        _decisions(db),
    ]


def _database(db: Database) -> Iterator[Finding]:
    """SQLite's own checks (https://www.sqlite.org/pragma.html: integrity_check, foreign_key_check) and FTS5's."""
    broken = [row[0] for row in db.execute("pragma integrity_check(5)").fetchall() if row[0] != "ok"]
    yield Finding("database", not broken, "; ".join(broken) or "every page and index is sound")
    orphans = len(db.execute("pragma foreign_key_check").fetchall())
    yield Finding("references", orphans == 0, f"{orphans} rows without their parent" if orphans else "all whole")
    for table in FULL_TEXT:
        try:
            db.execute(f"insert into {table}_fts({table}_fts, rank) values ('integrity-check', 1)")
            yield Finding("search index", True, f"{table} can be searched")
        except sqlite3.DatabaseError:
            yield Finding("search index", False, f"the search index of {table} is out of step; index again")
        finally:
            db.conn.rollback()


def _films(shop: Shop, db: Database) -> Iterator[Finding]:
    files = reading.recording_files(db.conn)
    missing = [file.path for file in files if not (shop.recordings / file.path).is_file()]
    for path in missing:
        yield Finding(
            "films", False, f"{path}: was indexed but the file is gone; put it back or its moments cannot play"
        )
    unfinished = [file.path for file in files if file.state != "indexed"]
    for path in unfinished:
        yield Finding("films", False, f"{path}: not heard to the end; run `diaryidx index` to go on")
    for error in reading.failed_files(db.conn).values():
        yield Finding("films", False, error)
    if not missing and not unfinished:
        yield Finding("films", True, f"{len(files)} indexed, every file in its place")


def _job_book(shop: Shop, db: Database) -> Finding:
    if not shop.watches_job_book:
        kept = len(reading.builds(db.conn))
        return Finding("job book", True, f"{kept} builds; no file is watched (shop.toml has none under jobs.file)")
    if not shop.job_book.is_file():
        return Finding(
            "job book", False, f"{shop.job_book}: not there; `diaryidx jobs import FILE` takes one from elsewhere"
        )
    try:
        book = read_shops_job_book(shop, db, shop.job_book)
    except DiaryidxError as error:
        return Finding("job book", False, str(error))
    problems = f"; {len(book.problems)} rows not taken: {book.problems[0]}" if book.problems else ""
    warnings = f"; {'; '.join(book.warnings[:3])}" if book.warnings else ""
    return Finding("job book", not book.problems, f"{len(book.rows)} builds{problems}{warnings}")


def _words(shop: Shop, db: Database) -> Finding:
    try:
        vocabulary = load_vocabulary(
            shop.words, reading.builds(db.conn), shop.settings.currency, reading.taught_words(db.conn)
        )
    except DiaryidxError as error:
        return Finding("words", False, str(error))
    return Finding("words", True, f"{len(vocabulary.terms)} terms")


def _photos(shop: Shop, db: Database) -> Iterator[Finding]:
    """The photos of notes: whether every file is in its place."""
    kept = [(note.id, photo.file) for note in reading.notes(db.conn) for photo in note.photos]
    missing = [(note, file) for note, file in kept if not (shop.photos / file).is_file()]
    for note, file in missing:
        yield Finding("photos", False, f"{shop.photos / file}: the photo of note {note} is gone; put it back")
    if kept and not missing:
        yield Finding("photos", True, f"{len(kept)} photos of notes, every file in its place")


def _model(shop: Shop) -> Finding:
    status = home.proven(home.status(shop.settings.engine, shop.model))
    if status.problem:
        return Finding("model", False, status.problem)
    return Finding("model", True, f"{status.engine}: {status.model or ''} ({status.why})")


def _decisions(db: Database) -> Finding:
    gone = decisions.of_no_film(db.conn)
    if gone:
        return Finding("decisions", False, f"{gone} are about films that are not here; kept until the film is back")
    return Finding("decisions", True, f"{len(decisions.decisions(db.conn))} kept, each about a film that is here")


def _links(db: Database) -> Finding:
    segments = [segment for segment in reading.segments(db.conn) if segment.subject.kind == "build"]
    linked = sum(segment.build is not None for segment in segments)
    return Finding("links", True, f"{linked} of {len(segments)} stretches about a bike are tied to a build")
