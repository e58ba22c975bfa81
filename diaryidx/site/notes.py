"""Notes from the bench through the site: words and photos about a bike, and voice notes sent from a phone."""

from __future__ import annotations

import itertools
import re
import secrets
import shutil
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from datasette.utils.asgi import Forbidden
from sqlite_utils import Database

from diaryidx.errors import MediaError, NotFound, WrongUse
from diaryidx.media.probe import Probe, probe
from diaryidx.noting import keep_note, undo_note
from diaryidx.records import Build, Note
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address
from diaryidx.site.audit import moment_words
from diaryidx.site.deeds import Done, Form
from diaryidx.site.page import Asked, BadAddress
from diaryidx.site.wording import day_words
from diaryidx.staff import may
from diaryidx.store import reading

#: Where voice notes that come through the site are kept, inside the recordings folder.
VOICE_FOLDER = "voice-notes"
#: The suffix that a voice note is kept under, by the container that it really is in, with and without a picture:
#: whatever its sender called it, it is never kept as anything that could be run or shown as a page.
SUFFIXES = {
    "mov": (".m4a", ".mp4"),
    "mp4": (".m4a", ".mp4"),
    "matroska": (".webm", ".webm"),  # libav calls both so; what telephones and browsers record in it is WebM
    "ogg": (".ogg", ".ogv"),
    "mp3": (".mp3", ".mp3"),
    "wav": (".wav", ".wav"),
    "aac": (".aac", ".aac"),
    "flac": (".flac", ".flac"),
    "amr": (".amr", ".amr"),
    "3gp": (".m4a", ".mp4"),
}
#: A voice note is short; a film belongs in the recordings folder. In seconds (our own choice).
LONGEST_VOICE_NOTE = 30 * 60
PHOTO_TYPES = {".jpg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """A note as a bike's page shows it."""

    note: Note
    when: str
    written: str
    can_undo: bool


def written_notes(db: sqlite3.Connection, shop: Shop, build: Build, asked: Asked) -> list[WrittenNote]:
    """The notes in force on a bike, newest first."""
    notes = [note for note in reading.notes(db, build=build.job_number) if note.undone_at is None]
    return [
        WrittenNote(note, day_words(note.date), moment_words(note.written_at, shop), _may_undo(note, asked))
        for note in reversed(notes)
    ]


def waiting_voice_notes(db: sqlite3.Connection, shop: Shop, build: Build) -> list[str]:
    """The voice notes that were sent for a bike and wait for the next index, oldest first, by their file's name."""
    folder = shop.recordings / VOICE_FOLDER
    if not folder.is_dir():
        return []
    known = {Path(file.path).name for file in reading.recording_files(db)}
    mark = f" {_job_words(build)} "
    sent = sorted(path for path in folder.iterdir() if mark in f"{path.stem} " and not path.name.startswith("."))
    return [path.name for path in sent if path.name not in known]


def add_note(db: Database, shop: Shop, form: Form) -> Done:
    """Keep a note with its photos; it is read for what it states behind the answer.

    :raises BadAddress: it has no words, or a photo is none; nothing is kept then.
    """
    build = reading.build(db.conn, form.names["job"])
    try:
        note = keep_note(
            shop, db, build, form.text("text"), photos=form.files.get("photos", ()), date=form.text("date") or None,
            author=form.person.name, visit=form.text("visit") == "yes",
        )  # fmt: skip
    except MediaError as error:
        raise BadAddress(_without_folder(error, form.files.get("photos", ()))) from error
    return Done(build_address(build.job_number) + "#notes", f"Note {note.id} is kept.", follow=True)


def take_back_note(db: Database, _shop: Shop, form: Form) -> Done:
    """Mark a note as undone.

    :raises Forbidden: somebody else wrote it, and the person may not oversee.
    """
    note = reading.note(db.conn, int(form.names["note"]))
    if note.author != form.person.name and not may(form.person, "oversee"):
        raise Forbidden(f"{note.author} wrote this; only they or an owner can take it back.")
    undo_note(db, note.id, form.person.name)
    says = f"Note {note.id} is undone; its words are kept."
    if note.undone_at is not None:
        says = f"Note {note.id} was undone by {note.undone_by} already; nothing was changed."
    return Done(build_address(note.build) + "#notes", says, follow=True)


def send_voice_note(db: Database, shop: Shop, form: Form) -> Done:
    """Keep a recording for a bike, once it was opened and has sound, under a name that ties it to its job.

    :raises BadAddress: nothing was sent, or it is no recording with sound; nothing is kept then.
    """
    build = reading.build(db.conn, form.names["job"])
    sent = form.files.get("recording", ())
    if len(sent) != 1:
        raise WrongUse("choose one recording, or record one, then send it")
    try:
        kept = keep_voice_note(shop, build, form.person.name, sent[0])
    except MediaError as error:
        raise BadAddress(_without_folder(error, sent)) from error
    says = f"Kept as {kept.name}. It waits for the next `diaryidx index`."
    return Done(build_address(build.job_number) + "#notes", says)


def keep_voice_note(shop: Shop, build: Build, person: str, sent: Path) -> Path:
    """Move a recording into the shop's recordings, named by the time, the job and who sent it.

    :raises MediaError: it cannot be opened, has no sound, or is too long.
    """
    suffix = _suffix(probe(sent), sent)
    now = datetime.now(ZoneInfo(shop.settings.timezone))
    folder = shop.recordings / VOICE_FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    stem = f"{now:%Y-%m-%d %H-%M-%S} voice note {_job_words(build)} from {person}"
    try:
        part = Path(shutil.move(sent, folder / f".{secrets.token_hex(8)}.part"))  # the folder may be on another disk
        part.chmod(0o644)
        for number in itertools.count(1):
            target = folder / f"{stem}{f' {number}' if number > 1 else ''}{suffix}"
            with suppress(FileExistsError):
                target.touch(exist_ok=False)  # the name is ours now, so nothing is ever overwritten
                return part.replace(target)
    except OSError as error:
        raise MediaError(f"{sent.name}: cannot be kept ({error.strerror})") from error
    raise AssertionError("there is always a next number")


def photo_of(shop: Shop, name: str) -> tuple[bytes, str]:
    """A photo's bytes and content type.

    :raises NotFound: there is none of this name.
    """
    path = shop.photos / name
    if not re.fullmatch(r"[0-9a-f]{40}\.(?:jpg|png|webp)", name) or not path.is_file() or path.is_symlink():
        raise NotFound("this photo is not there")
    return path.read_bytes(), PHOTO_TYPES[path.suffix]


def _suffix(found: Probe, sent: Path) -> str:
    if not found.has_sound:
        raise MediaError(f"{sent.name}: has no sound; send a recording of what you say")
    if found.duration > LONGEST_VOICE_NOTE:
        raise MediaError(
            f"{sent.name}: is longer than {LONGEST_VOICE_NOTE // 60} minutes; put it into the recordings folder"
        )
    suffixes = next((SUFFIXES[name] for name in found.container.split(",") if name in SUFFIXES), None)
    if suffixes is None:
        raise MediaError(f"{sent.name}: is a kind of recording that this site does not take ({found.container})")
    return suffixes[found.has_picture]


def _job_words(build: Build) -> str:
    """A job as a file's name says it, so that the index knows it again: ``job 17-b``."""
    return "job " + re.sub(r"[^\w-]+", "-", build.job_number).strip("-_")


def _may_undo(note: Note, asked: Asked) -> bool:
    return asked.may("write") and (
        asked.may("oversee") or (asked.person is not None and asked.person.name == note.author)
    )


def _without_folder(error: MediaError, files: Sequence[Path]) -> str:
    """What is wrong with a file, by the name that its sender gave it."""
    said = str(error)
    for file in files:
        said = said.replace(str(file), file.name)
    return said
