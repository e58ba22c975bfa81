"""Opening the shop's database: its migrations, its safety settings, and the one way to write to it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlite_utils import Database

from diaryidx.errors import StoreError
from diaryidx.store.migrations import migrations

#: Marks the file as ours ("DIDX" in ASCII), see https://www.sqlite.org/pragma.html#pragma_application_id.
APPLICATION_ID = 0x44494458
#: How long a writer waits for another one, in seconds.
BUSY_SECONDS = 30.0


def open_store(path: Path) -> Database:
    """Open the shop's database for reading and writing, making or upgrading it first.

    :param path: the file, usually ``shop.db`` in the shop folder; its folder must exist.
    :returns: a ``sqlite_utils.Database`` with foreign keys on and a write-ahead log.
    :raises StoreError: the file is damaged, locked, not ours, or newer than this program.
    """
    with said_plainly(path):
        _migrate(path)
        return _connect(path)


def open_existing(path: Path) -> Database:
    """Open a database that must already be there; nothing is created.

    :raises StoreError: as `open_store`, and when the file is missing.
    """
    if not path.is_file():
        raise StoreError(f"{path}: no films have been indexed here yet; run `diaryidx index` first")
    return open_store(path)


@contextmanager
def writing(db: Database) -> Iterator[Database]:
    """One transaction that takes the write lock at once and is all kept or all undone.

    ``BEGIN IMMEDIATE``, because a deferred transaction that reads first and writes later fails at once, without
    waiting, when another connection wrote in between (https://www.sqlite.org/lang_transaction.html).

    :raises StoreError: another program holds the lock for too long, or the disk is full.
    """
    path = _path_of(db)
    with said_plainly(path):
        db.conn.execute("begin immediate")
        try:
            yield db
        except BaseException:
            if db.conn.in_transaction:
                db.conn.rollback()
            raise
        db.conn.commit()


def _migrate(path: Path) -> None:
    """Bring the schema up to date on a connection of its own with foreign keys off, then check every reference."""
    with closing(_raw_connection(path)) as connection:
        db = Database(connection, execute_plugins=False)
        _refuse_foreign_file(db, path)
        if not migrations.pending(db):
            return
        # Two programs may start at the same moment: the second waits for the first here and then finds nothing to do.
        connection.execute("pragma journal_mode=wal")
        connection.execute("begin immediate")
        try:
            connection.execute(f"pragma application_id={APPLICATION_ID}")
            migrations.apply(db)
            broken = connection.execute("pragma foreign_key_check").fetchall()
            if broken:
                raise StoreError(f"{path}: the upgrade would leave {len(broken)} rows without their parent; not done")
        except BaseException:
            connection.rollback()
            raise
        connection.commit()


def _refuse_foreign_file(db: Database, path: Path) -> None:
    """Never write into somebody else's database, nor into one that a newer version of this program made."""
    application_id = db.execute("pragma application_id").fetchone()[0]
    tables = db.table_names()
    if tables and application_id != APPLICATION_ID:
        raise StoreError(f"{path}: this is another program's database; move it away or choose another shop folder")
    known = {migration.name for migration in migrations._migrations}
    newer = [applied.name for applied in migrations.applied(db) if applied.name not in known]
    if newer:
        raise StoreError(f"{path}: made by a newer version of diaryidx ({newer[0]}); upgrade diaryidx to open it")


def _connect(path: Path) -> Database:
    connection = _raw_connection(path)
    connection.execute("pragma foreign_keys=on")
    connection.execute("pragma journal_mode=wal")  # a database that was put back from a copy has no log yet
    connection.execute("pragma synchronous=normal")
    return Database(connection, execute_plugins=False)


def _raw_connection(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, timeout=BUSY_SECONDS, check_same_thread=False)


def _path_of(db: Database) -> Path:
    return Path(db.execute("select file from pragma_database_list where name = 'main'").fetchone()[0] or ":memory:")


@contextmanager
def said_plainly(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into one line that says what to do."""
    try:
        yield
    except sqlite3.Error as error:
        raise StoreError(f"{path}: {_advice(error, path)}") from error


def _advice(error: sqlite3.Error, path: Path) -> str:
    code = getattr(error, "sqlite_errorname", "") or ""
    if code.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return "another program is writing to this database; close it, or try again in a minute"
    if code.startswith("SQLITE_FULL"):
        return "the disk is full; make room and run the command again, what was stored is kept"
    if code.startswith("SQLITE_READONLY"):
        return "the database may not be written to; check the permissions of the file and its folder"
    if code.startswith("SQLITE_CANTOPEN"):
        return f"cannot be opened; check that {path.parent} exists and may be written to"
    if code.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT")):
        return "damaged or no SQLite database; `diaryidx restore FILE` puts a copy back, or move it away and index"
    return f"the database failed ({error})"
