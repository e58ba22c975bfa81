"""What is in the recordings folder and what of it is new: the index's first look, by names, sizes and times alone."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from sqlite_utils import Database

from diaryidx.errors import MediaError
from diaryidx.media.identity import content_hash, find_recordings, stat_key
from diaryidx.shop import Shop
from diaryidx.store import reading, writing
from diaryidx.store.reading import RecordingFile


@dataclass(frozen=True, slots=True)
class Film:
    """A file to index. ``known`` is what the database has under its path or content; ``why`` says what must be done.

    "unchanged": nothing. "understand": the words are stored, but the vocabulary changed since. "hear": everything.
    """

    path: Path
    name: str
    size: int
    modified_ns: int
    why: Literal["unchanged", "understand", "hear"]
    known: RecordingFile | None = None
    content_hash: str | None = None


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A file that could not even be looked at, and the one line that says why."""

    name: str
    error: str


def survey(
    shop: Shop, db: Database, paths: Sequence[Path], reading_key: str, engine: str | None
) -> list[Film | Unreadable]:
    """Compare the films with what is stored; renamed and copied films are settled on the way.

    :param paths: the files and folders to look at; none means the shop's recordings folder.
    :param reading_key: the key of all that shapes a reading; films stored under another are to be understood again.
    :param engine: the engine the person named; films heard by another one are heard again. None takes any.
    :returns: one item a file, in the order of their names.
    """
    look = _Look.at(shop, db, reading_key, engine)
    found: list[Film | Unreadable] = []
    closed: list[str] = []
    for path in _files(shop, paths, closed.append):
        name = stored_name(shop, path)
        try:
            found.append(look.at_file(path, name))
        except UnicodeEncodeError:
            found.append(
                Unreadable(_printable(name), f"{_printable(name)}: the file's name is no text; rename the file")
            )
        except (MediaError, OSError) as error:
            found.append(Unreadable(name, _one_line(error, name)))
    return [*found, *(Unreadable(line.split(":")[0], line) for line in closed)]


def stored_name(shop: Shop, path: Path) -> str:
    """How a file is called in the database: relative to the recordings folder where it is inside it."""
    absolute = path.absolute()
    try:
        return absolute.relative_to(shop.recordings).as_posix()
    except ValueError:
        return absolute.as_posix()


def new_id(db: Database, name: str) -> str:
    """A short name for a film that people can type, made of its file name, unlike every other film's."""
    plain = unicodedata.normalize("NFKD", Path(name).stem).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60].rstrip("-") or "film"
    taken = {file.id for file in reading.recording_files(db.conn)}
    number, candidate = 2, slug
    while candidate in taken:
        candidate, number = f"{slug}-{number}", number + 1
    return candidate


def _files(shop: Shop, paths: Sequence[Path], on_problem: Callable[[str], None]) -> Iterable[Path]:
    if not paths:
        return find_recordings(shop.recordings, on_problem) if shop.recordings.is_dir() else []
    chosen: dict[Path, None] = {}
    for path in paths:
        for file in find_recordings(path, on_problem) if path.is_dir() else [path]:
            chosen[file.absolute()] = None
    return list(chosen)


@dataclass(frozen=True, slots=True)
class _Look:
    """What the database knew when the survey began; one file after the other is held against it."""

    shop: Shop
    db: Database
    reading_key: str
    engine: str | None
    by_name: dict[str, RecordingFile]
    by_id: dict[str, RecordingFile]
    by_hash: dict[str, RecordingFile]
    copies: dict[str, tuple[int, int, str]]

    @classmethod
    def at(cls, shop: Shop, db: Database, reading_key: str, engine: str | None) -> _Look:
        files = reading.recording_files(db.conn)
        return cls(
            shop,
            db,
            reading_key,
            engine,
            by_name={file.path: file for file in files},
            by_id={file.id: file for file in files},
            by_hash={file.content_hash: file for file in files},
            copies=reading.copies(db.conn),
        )

    def at_file(self, path: Path, name: str) -> Film:
        name.encode()  # the database keeps text only
        stat = stat_key(path)
        stored, copy = self.by_name.get(name), self.copies.get(name)
        if stored is not None and (stored.size, stored.modified_ns) == stat:
            return self._known_film(path, name, stat, stored)
        if copy is not None and copy[:2] == stat:
            return self._unchanged(path, name, stat, self.by_id[copy[2]])
        digest = content_hash(path)
        same = stored if stored is not None and stored.content_hash == digest else self.by_hash.get(digest)
        if same is None or (stored is not None and same is not stored):
            return Film(path, name, stat[0], stat[1], "hear", stored, digest)
        if same is not stored and (self.shop.recordings / same.path).exists():
            writing.save_copy(self.db, name, stat[0], stat[1], same.id)
            return self._unchanged(path, name, stat, same)
        writing.move_recording(self.db, same.id, name, stat[0], stat[1])
        return self._known_film(path, name, stat, same)

    def _known_film(self, path: Path, name: str, stat: tuple[int, int], stored: RecordingFile) -> Film:
        heard_by = (stored.engine or "").split(":")[0]
        why: Literal["unchanged", "understand", "hear"] = "unchanged"
        if stored.state != "indexed" or (self.engine not in (None, "auto", heard_by)):
            why = "hear"
        elif stored.reading_key != self.reading_key:
            why = "understand"
        return Film(path, name, stat[0], stat[1], why, stored, stored.content_hash)

    def _unchanged(self, path: Path, name: str, stat: tuple[int, int], same: RecordingFile) -> Film:
        return Film(path, name, stat[0], stat[1], "unchanged", same)


def _printable(name: str) -> str:
    """A file name that is no text, with a mark for each byte that is none."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def _one_line(error: Exception, name: str) -> str:
    if isinstance(error, OSError) and not isinstance(error, MediaError):
        return f"{name}: cannot be read ({error.strerror or error}); check that it exists and its permissions"
    return str(error)
