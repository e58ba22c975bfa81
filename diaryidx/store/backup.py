"""A copy of the shop's database while others write to it, and putting one back; `copies.py` copies the whole shop."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from diaryidx.errors import StoreError, WrongUse
from diaryidx.store.database import APPLICATION_ID, open_store
from diaryidx.store.migrations import migrations

#: What SQLite keeps beside a database file (https://www.sqlite.org/wal.html, https://www.sqlite.org/tempfiles.html).
BESIDE = ("-wal", "-shm", "-journal")


def backup(database: Path, file: Path) -> None:
    """Copy the database as it is at this moment, by SQLite's online backup (https://www.sqlite.org/backup.html).

    All pages are copied in one go: others may go on writing, what they write after this moment is not in the copy. The
    copy is checked before it gets its name.

    :raises WrongUse: the file is there already; nothing is overwritten.
    :raises StoreError: the database is missing or damaged, or the copy cannot be written.
    """
    if not database.is_file():
        raise StoreError(f"{database}: there is no database to copy; run `diaryidx index` first")
    refuse_existing(file)
    unfinished = file.with_name(f"{file.name}.part")
    try:
        _copy(database, unfinished)
        refuse_unsound(unfinished)
        give_name(unfinished, file)
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)


def restore(file: Path, database: Path) -> Path | None:
    """Put a copy in the place of the database, which is kept beside it under another name.

    The copy is checked before anything is touched, and takes the database's place in one step. To be called by a
    program that is alone in the shop.

    :returns: where the database as it was is now; None if there was none.
    :raises StoreError: the copy is no sound database of ours, or another program has the database open.
    """
    if not file.is_file():
        raise StoreError(f"{file}: there is no such file")
    unfinished = database.with_name(f"{database.name}.part")
    try:
        _copy(file, unfinished)
        refuse_unsound(unfinished, file)
        kept = _kept_aside(database) if database.exists() else None
        unfinished.replace(database)
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
    open_store(database).close()
    return kept


def _copy(source: Path, target: Path) -> None:
    """Copy a database into one file that needs no other beside it."""
    with _said(source, f" to {target.parent}"):
        target.unlink(missing_ok=True)
        with closing(sqlite3.connect(source)) as present, closing(sqlite3.connect(target)) as copy:
            present.backup(copy)
            copy.execute("pragma journal_mode=delete")


def refuse_unsound(copy: Path, name: Path | None = None) -> None:
    """Refuse what is no database of ours, damaged, or made by a newer version."""
    name = name or copy
    with _said(name), closing(sqlite3.connect(copy)) as connection:
        if connection.execute("pragma application_id").fetchone()[0] != APPLICATION_ID:
            raise StoreError(f"{name}: this is no database of diaryidx; nothing was changed")
        problems = [row[0] for row in connection.execute("pragma integrity_check(3)") if row[0] != "ok"]
        orphans = connection.execute("pragma foreign_key_check").fetchall()
        if problems or orphans:
            what = problems[0] if problems else f"{len(orphans)} rows without their parent"
            raise StoreError(f"{name}: this database is damaged ({' '.join(what.split())}); nothing was changed")
        known = {migration.name for migration in migrations._migrations}
        applied = connection.execute("select name from _sqlite_migrations where migration_set = 'diaryidx'")
        newer = [row[0] for row in applied if row[0] not in known]
    if newer:
        raise StoreError(f"{name}: made by a newer version of diaryidx ({newer[0]}); upgrade diaryidx to open it")


def _kept_aside(database: Path) -> Path:
    """Keep the present database under another name too; it stays in its place until it is replaced."""
    aside = database.with_name(f"{database.stem}.before-restore-{datetime.now():%Y%m%d-%H%M%S}{database.suffix}")
    refuse_existing(aside)
    _close_log(database)
    _link_or_copy(database, aside)
    for ending in BESIDE:  # only where it is too damaged to be closed; they would be taken for the copy's own
        beside = database.with_name(database.name + ending)
        if beside.exists():
            beside.replace(aside.with_name(aside.name + ending))
    return aside


def _close_log(database: Path) -> None:
    """Bring the write-ahead log home into the file. SQLite does that only for the last one who has it open."""
    with closing(sqlite3.connect(database, timeout=1.0)) as connection:
        try:
            mode = connection.execute("pragma journal_mode=delete").fetchone()[0]
        except sqlite3.OperationalError as error:
            mode = "wal" if "locked" in str(error) else None
        except sqlite3.DatabaseError:
            return  # damaged, which is why somebody restores
    if mode == "wal":
        raise StoreError(f"{database}: another program has it open; close the site and every index, then restore again")


def give_name(unfinished: Path, file: Path) -> None:
    """Name a finished copy, in one step and never over another file."""
    try:
        os.link(unfinished, file)
    except FileExistsError:
        refuse_existing(file)
    except OSError:  # a disk without hard links
        refuse_existing(file)
        unfinished.replace(file)


def _link_or_copy(source: Path, target: Path) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)


def refuse_existing(file: Path) -> None:
    """Refuse to write where a file is.

    :raises WrongUse: there is one, or a link.
    """
    if file.exists() or file.is_symlink():
        raise WrongUse(f"{file}: there is such a file already and nothing is overwritten; give another name")


@contextmanager
def _said(path: Path, where: str = "") -> Iterator[None]:
    """Turn errors of SQLite and of the disk into one line."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        raise StoreError(f"{path}: cannot be copied{where} ({error}); nothing was changed") from error
    except OSError as error:
        raise StoreError(f"{path}: cannot be copied{where} ({error.strerror or error}); nothing was changed") from error
