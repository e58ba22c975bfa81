"""Notes from the bench: what a person writes about a build, kept as it is, and read for what it states."""

from __future__ import annotations

import getpass
import hashlib
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date as day
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from diaryidx.builds.dates import iso_date
from diaryidx.errors import WrongUse
from diaryidx.media.photos import keep_photo
from diaryidx.records import Build, Note, Sentence, Statement, Subject
from diaryidx.shop import Shop
from diaryidx.store import reading, writing
from diaryidx.store.names import names_of

if TYPE_CHECKING:
    from spacy.language import Language

#: The longest note, in characters, and the most photos (our own choice).
LONGEST_NOTE = 8_000
MOST_PHOTOS = 20
#: What a note of a visit says that was given no words.
VISIT_WORDS = "The customer came by."
_SENTENCE_ENDS = re.compile(r"(?<=[.!?;])\s+|\n+")


def add_note(
    shop: Shop,
    db: Database,
    build: Build,
    text: str,
    *,
    photos: Sequence[Path] = (),
    date: str | None = None,
    author: str | None = None,
    visit: bool = False,
) -> Note:
    """Keep a note about a build and read it for what it states; arguments and errors are those of `keep_note`.

    :raises VocabularyError: the shop's words are wrong; nothing is kept then.
    """
    nlp = _pipeline(shop, reading.builds(db.conn))
    note = keep_note(shop, db, build, text, photos=photos, date=date, author=author, visit=visit)
    read_notes(shop, db, lambda: nlp)
    return note


def keep_note(
    shop: Shop,
    db: Database,
    build: Build,
    text: str,
    *,
    photos: Sequence[Path] = (),
    date: str | None = None,
    author: str | None = None,
    visit: bool = False,
) -> Note:
    """Keep a note about a build, with its photos, without reading it: no pipeline is loaded, the next index reads it.

    :param photos: JPEG, PNG or WebP files; they are copied into the shop folder.
    :param date: the day it is of, as people type it; today in the shop's time zone if not given.
    :param author: who wrote it; the name of the account on this machine if not given.
    :param visit: the customer came by that day and saw the bike; needs no words.
    :raises WrongUse: there are no words, too many, or the date is none or in the future.
    :raises MediaError: a photo is no picture; nothing is kept then.
    """
    text = text.strip() or (VISIT_WORDS if visit else "")
    if not text:
        raise WrongUse('a note needs words: diaryidx note BUILD "what was done"')
    if len(text) > LONGEST_NOTE or len(photos) > MOST_PHOTOS:
        raise WrongUse(f"a note has at most {LONGEST_NOTE} characters and {MOST_PHOTOS} photos; make two of it")
    written_on = _day_of(shop, date)
    kept = [keep_photo(photo, shop.photos) for photo in photos]
    return writing.save_note(
        db, build.job_number, text, written_on, (author or account_name()).strip(), kept, visit=visit
    )


def undo_note(db: Database, note_id: int, by: str | None = None) -> Note:
    """Mark a note as undone: it is kept and shows as undone, and what it stated counts no more.

    :raises NotFound: there is no note of this number.
    """
    note = reading.note(db.conn, note_id)
    if note.undone_at is None:
        writing.undo_note(db, note_id, (by or account_name()).strip())
    return reading.note(db.conn, note_id)


def read_notes(shop: Shop, db: Database, language: Callable[[], Language] | None = None) -> int:
    """Read every note that has not been read with today's rules and words; what was written is never changed.

    :param language: gives the pipeline where it is loaded already; it is made here otherwise, when it is needed.
    :returns: how many were read.
    """
    from diaryidx.indexing import reading_key

    builds = reading.builds(db.conn)
    names = hashlib.sha256(repr([names_of(build) for build in builds]).encode()).hexdigest()[:16]
    key = f"{reading_key(shop)} {names}"
    unread = [note for note in reading.notes(db.conn) if note.undone_at is None and note.reading_key != key]
    if unread:
        nlp = language() if language else _pipeline(shop, builds)
        for note in unread:
            writing.save_note_reading(db, note.id, statements_of(nlp, note), key)
    return len(unread)


def statements_of(nlp: Language, note: Note) -> list[Statement]:
    """What a note states of its build, in its order; source "note", without times."""
    from diaryidx.language.reading import read_written

    sentences = [Sentence(0.0, 0.0, text, text) for text in _SENTENCE_ENDS.split(note.text) if text.strip()]
    return [
        replace(
            statement, subject=Subject("build", note.build), build=note.build, source="note", segment=None,
            start=None, end=None, note=note.id, said_on=note.date,
        )
        for statement in read_written(nlp, sentences, note.date)
    ]  # fmt: skip


def _pipeline(shop: Shop, builds: Sequence[Build]) -> Language:
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary.loader import load_vocabulary

    return build_pipeline(load_vocabulary(shop.words, builds, shop.settings.currency))


def _day_of(shop: Shop, date: str | None) -> str:
    today = datetime.now(ZoneInfo(shop.settings.timezone)).date()
    if date is None:
        return today.isoformat()
    read = iso_date(date, month_first=shop.settings.month_first)
    if read is None or len(read) < len("YYYY-MM-DD"):
        raise WrongUse(f"{date!r} is no day; write it as year, month and day, such as {today.isoformat()}")
    if day.fromisoformat(read) > today + timedelta(days=1):
        raise WrongUse(f"{read} is in the future; a note is of a day that has been")
    return read


def account_name() -> str:
    """The name of whoever runs this program."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # an account without a name, as in some containers
        return "somebody"
