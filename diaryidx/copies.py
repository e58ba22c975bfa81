"""A copy of a shop in one file, made while others work in it, and putting it back whole or not at all.

In it are the database, the photos and voice notes, the settings, the words and the job book. Films are not: they are
large, and files that everybody knows how to copy. The file is a zip (ZIP64 where needed) with a list of its contents
and their hashes, so that anybody can look inside without this program.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import IO

from diaryidx import __version__
from diaryidx.alone import alone_in
from diaryidx.errors import DiaryidxError, StoreError, WrongUse
from diaryidx.shop import Settings, Shop, load_shop
from diaryidx.store import backup as database_copies
from diaryidx.store import reading
from diaryidx.store.database import open_store

#: The list of contents, and the database's name, in the file.
CONTENTS, DATABASE = "contents.json", "shop.db"
#: What the list of contents says that the file is; a later layout gets a higher number.
KIND, FORMAT = "diaryidx copy", 1
#: What a copy may hold beside single files of the shop folder.
FOLDERS = ("photos", "recordings")
SINGLE = (DATABASE, "shop.toml", "words.yaml")
JOB_BOOKS = (".csv", ".tsv", ".txt", ".xlsx")
#: Where voice notes that are sent through the site are kept.
VOICE_NOTES = "recordings/voice-notes"
_BLOCK = 1 << 20
_SQLITE, _ZIP = b"SQLite format 3\0", b"PK\x03\x04"


@dataclass(frozen=True, slots=True)
class Held:
    """What a copy holds: every file by its name in the shop folder, with its SHA-256 and its size in bytes."""

    files: Mapping[str, tuple[str, int]]
    made_at: str = ""

    def count(self, folder: str) -> int:
        """How many files of a folder."""
        return sum(name.startswith(f"{folder}/") for name in self.files)


@dataclass(frozen=True, slots=True)
class PutBack:
    """What came of putting a copy back. ``kept`` are the places where what it replaced lies now."""

    files: tuple[str, ...]
    kept: tuple[Path, ...] = field(default=())


# --- making one ------------------------------------------------------------------------------------------------------


def make_copy(shop: Shop, file: Path) -> Held:
    """Copy a shop into one file; an index or the site may be at work meanwhile.

    The database comes first, of one moment; what it names lies under names that never change. The file is read back
    and checked before it gets its name, and only its owner may read it, since it holds customers' names.

    :raises WrongUse: there is such a file already.
    :raises StoreError: there is no database, it is damaged, or the copy cannot be written.
    """
    database_copies.refuse_existing(file)
    with _said(file), tempfile.TemporaryDirectory(dir=_folder_of(file), prefix=".copy-") as folder:
        database, unfinished = Path(folder) / DATABASE, Path(folder) / "copy.zip"
        database_copies.backup(shop.database, database)
        unfinished.touch(mode=0o600)
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as parts:
            files = {DATABASE: _add(parts, DATABASE, database)}
            files |= {name: _add(parts, name, shop.folder / name) for name in _beside(shop, database)}
            held = Held(files, datetime.now(UTC).isoformat(timespec="seconds"))
            parts.writestr(CONTENTS, _list_of(held))
        with zipfile.ZipFile(unfinished) as parts:
            _check_all(file, parts, _contents(file, parts))
        database_copies.give_name(unfinished, file)
    return held


def _folder_of(file: Path) -> Path:
    if not file.parent.is_dir():
        raise StoreError(f"{file}: cannot be written; there is no folder {file.parent}")
    return file.parent


def _beside(shop: Shop, database: Path) -> list[str]:
    """The files of a shop that belong into a copy beside its database, by their names in its folder."""
    with closing(open_store(database)) as db:
        photos = [f"photos/{photo.file}" for note in reading.notes(db.conn) for photo in note.photos]
        voice = [f"recordings/{film.path}" for film in reading.recordings(db.conn, kind="bench note")]
    sent = shop.folder / VOICE_NOTES
    voice += [f"{VOICE_NOTES}/{path.name}" for path in sent.iterdir() if path.name[:1] != "."] if sent.is_dir() else []
    names = ["shop.toml", "words.yaml", *_job_book(shop), *photos, *voice]
    return sorted({name for name in names if _is_ours(name) and (shop.folder / name).is_file()})


def _job_book(shop: Shop) -> list[str]:
    """The job book's name in the shop folder; none where it is not watched or lies elsewhere."""
    with suppress(ValueError):
        return [shop.job_book.resolve().relative_to(shop.folder).as_posix()] if shop.watches_job_book else []
    return []


def _add(parts: zipfile.ZipFile, name: str, path: Path) -> tuple[str, int]:
    """Put a file into the copy; its hash and size as they were read."""
    with path.open("rb") as source, parts.open(zipfile.ZipInfo.from_file(path, name), "w", force_zip64=True) as target:
        return _through(source, target)


def _through(source: IO[bytes], target: IO[bytes] | None, most: int | None = None) -> tuple[str, int]:
    """Read all of a file, into another one if there is one; its SHA-256 and size.

    :param most: stop once more than this many bytes came.
    """
    read, size = hashlib.sha256(), 0
    while (block := source.read(_BLOCK)) and (most is None or size <= most):
        read.update(block)
        size += len(block)
        if target is not None:
            target.write(block)
    return read.hexdigest(), size


def _list_of(held: Held) -> str:
    files = {name: {"sha256": sha, "bytes": size} for name, (sha, size) in held.files.items()}
    about = {"kind": KIND, "format": FORMAT, "made_at": held.made_at, "version": __version__, "files": files}
    return json.dumps(about, indent=1, ensure_ascii=False)


# --- putting one back ------------------------------------------------------------------------------------------------


def put_back(file: Path, folder: Path, *, overwrite: bool = False) -> PutBack:
    """Put a copy back into a shop folder, or a copy of a database alone as earlier versions made them.

    Everything is unpacked and checked before anything is touched: every hash, the database's integrity. What it would
    replace is kept under another name; the database is put in its place last and in one step, and where anything fails
    what was replaced before comes back. Files that the copy does not have stay as they are.

    :param folder: the shop folder; it may be new.
    :param overwrite: also where files of the shop would be replaced.
    :raises WrongUse: they would, and ``overwrite`` was not said.
    :raises StoreError: the copy is damaged or none, or another program has the database open.
    """
    if not file.is_file():
        raise StoreError(f"{file}: there is no such file")
    with _said(file):
        with file.open("rb") as opened:
            begins = opened.read(len(_SQLITE))
        if not begins.startswith(_ZIP):
            return _put_database_back(file, folder, overwrite=overwrite)
        folder.mkdir(parents=True, exist_ok=True)
        with alone_in(_shop_in(folder)), tempfile.TemporaryDirectory(dir=folder, prefix=".restore-") as staged:
            held = _unpacked(file, Path(staged))
            database_copies.refuse_unsound(Path(staged) / DATABASE, file)
            changed = [name for name in held.files if not _is_same(folder / name, held.files[name])]
            _refuse_overwriting(folder, changed, overwrite=overwrite)
            kept = _exchange(Path(staged), folder, changed)
    return PutBack(tuple(sorted(changed)), kept)


def _shop_in(folder: Path) -> Shop:
    """The shop of a folder, also where it has no settings, or broken ones."""
    try:
        return load_shop(folder)
    except WrongUse:
        return Shop(folder.resolve(), Settings())


def _put_database_back(file: Path, folder: Path, *, overwrite: bool) -> PutBack:
    shop = load_shop(folder)
    with alone_in(shop):
        _refuse_overwriting(folder, [DATABASE], overwrite=overwrite)
        kept = database_copies.restore(file, shop.database)
    return PutBack((DATABASE,), () if kept is None else (kept,))


def _refuse_overwriting(folder: Path, names: Sequence[str], *, overwrite: bool) -> None:
    there = [name for name in names if (folder / name).exists()]
    if there and not overwrite:
        shown = ", ".join(sorted(there)[:4]) + (f" and {len(there) - 4} more" if len(there) > 4 else "")
        raise WrongUse(
            f"{folder}: has {shown}, which would be replaced; say --overwrite if that is meant, it is kept beside"
        )


def _unpacked(file: Path, folder: Path) -> Held:
    """Unpack a copy and hold every file against its hash."""
    with zipfile.ZipFile(file) as parts:
        held = _contents(file, parts)
        if sum(size for _sha, size in held.files.values()) > shutil.disk_usage(folder).free:
            raise StoreError(f"{file}: there is no room for it on the disk of {folder.parent}; nothing was changed")
        _check_all(file, parts, held, folder)
    return held


def _contents(file: Path, parts: zipfile.ZipFile) -> Held:
    """The list of contents of a copy, if it is one that may be put back."""
    try:
        about = json.loads(parts.read(CONTENTS))
        files = {str(name): (str(one["sha256"]), int(one["bytes"])) for name, one in about["files"].items()}
        kind, layout, made_at = about["kind"], int(about["format"]), str(about["made_at"])
    except (KeyError, ValueError, TypeError, AttributeError) as error:
        raise StoreError(f"{file}: this is no copy that `diaryidx backup` made; nothing was changed") from error
    if kind != KIND or DATABASE not in files or not all(map(_is_ours, files)):
        raise StoreError(f"{file}: this is no copy that `diaryidx backup` made; nothing was changed")
    if layout > FORMAT:
        raise StoreError(f"{file}: made by a newer version of diaryidx; upgrade diaryidx to put it back")
    return Held(files, made_at)


def _is_ours(name: str) -> bool:
    """Whether a name is that of a file that a copy may hold: nothing outside the shop folder, no hidden files."""
    path = PurePosixPath(name)
    plain = "\\" not in name and ":" not in name and not path.is_absolute() and path.as_posix() == name
    if not plain or any(part == ".." or part.startswith(".") for part in path.parts):
        return False
    return name in SINGLE or path.suffix.lower() in JOB_BOOKS or (len(path.parts) > 1 and path.parts[0] in FOLDERS)


def _check_all(file: Path, parts: zipfile.ZipFile, held: Held, folder: Path | None = None) -> None:
    """Read every file of a copy, into a folder if there is one, and refuse it where one is not what it was."""
    for name, (sha, size) in held.files.items():
        try:
            with parts.open(name) as source, _target(folder, name) as target:
                found = _through(source, target, size)
        except (KeyError, zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as error:
            raise StoreError(f"{file}: damaged ({name} cannot be read); nothing was changed") from error
        if found != (sha, size):
            raise StoreError(f"{file}: damaged ({name} is not what it was); nothing was changed")


@contextmanager
def _target(folder: Path | None, name: str) -> Iterator[IO[bytes] | None]:
    if folder is None:
        yield None
        return
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    with (folder / name).open("wb") as target:
        yield target


def _is_same(path: Path, known: tuple[str, int]) -> bool:
    """Whether a file has the same content; the database, which others may write to, is always put back."""
    if path.name == DATABASE or not path.is_file() or path.stat().st_size != known[1]:
        return False
    with path.open("rb") as source:
        return _through(source, None) == known


def _exchange(staged: Path, folder: Path, names: Sequence[str]) -> tuple[Path, ...]:
    """Put files in their places, what was there aside; all, or none where anything fails."""
    aside = folder / f"before-restore-{datetime.now():%Y%m%d-%H%M%S}"
    database_copies.refuse_existing(aside)
    done: list[str] = []
    try:
        for name in names:
            if name == DATABASE:
                continue
            mode = 0o600 if name == "shop.toml" else 0o644  # settings hold the hashes of passwords
            if (folder / name).exists():
                mode = (folder / name).stat().st_mode & 0o777
                (aside / name).parent.mkdir(parents=True, exist_ok=True)
                (folder / name).replace(aside / name)
            done.append(name)
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (staged / name).replace(folder / name)
            (folder / name).chmod(mode)
        kept = database_copies.restore(staged / DATABASE, folder / DATABASE)
    except BaseException:
        for name in done:
            with suppress(OSError):
                (folder / name).unlink(missing_ok=True)
            if (aside / name).exists():
                (aside / name).replace(folder / name)
        shutil.rmtree(aside, ignore_errors=True)
        raise
    return tuple(path for path in (kept, aside) if path is not None and path.exists())


@contextmanager
def _said(file: Path) -> Iterator[None]:
    """Turn errors of the disk and of zip files into one line."""
    try:
        yield
    except DiaryidxError:
        raise
    except (OSError, zipfile.BadZipFile, zipfile.LargeZipFile) as error:
        why = getattr(error, "strerror", None) or error
        raise StoreError(f"{file}: the copy cannot be written or read ({why}); nothing was changed") from error
