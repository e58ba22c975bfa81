"""No migration changes a row that a person made: hashed before and after every step from the first schema on."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx.store import migrations as schema
from diaryidx.store.database import open_store

STEPS = [step.name for step in schema.migrations._migrations]
SAMPLES = {"INTEGER": 7, "TEXT": "said by a person", "REAL": 1.25, "FLOAT": 1.25, "BLOB": b"\x00sound"}


def made_with(path: Path, steps: int) -> Database:
    """A database as the program made it when it knew only the first so many migrations."""
    db = Database(sqlite3.connect(path))
    for step in schema.migrations._migrations[:steps]:
        step.fn(db)
    db.table("_sqlite_migrations").insert_all(
        {"migration_set": "diaryidx", "name": name, "applied_at": "2026-01-01"} for name in STEPS[:steps]
    )
    db.execute(f"pragma application_id={0x44494458}")
    db.conn.commit()
    return db


def fill(db: Database) -> None:
    """A row in every human table that there is."""
    db.execute("pragma foreign_keys=off")
    for table in schema.HUMAN_TABLES:
        if table in db.table_names():
            row = {column.name: SAMPLES.get(column.type, "said by a person") for column in db.table(table).columns}
            db.table(table).insert(row)
    builds = [row["job_number"] for row in db.table("builds").rows] if "builds" in db.table_names() else []
    for table, column in (("notes", "build"),):
        if table in db.table_names():
            db.execute(f"update {table} set {column} = ?", builds[:1])
    if "note_photos" in db.table_names():
        db.execute("update note_photos set note_id = 7")
    db.conn.commit()


def human_rows(
    db: Database, columns: dict[str, list[str]] | None = None
) -> tuple[dict[str, str], dict[str, list[str]]]:
    """A hash of the rows of each human table, and the columns that it was made of."""
    columns = columns or {
        table: [column.name for column in db.table(table).columns]
        for table in schema.HUMAN_TABLES
        if table in db.table_names()
    }
    hashes = {}
    for table, names in columns.items():
        quoted = ", ".join(f'"{name}"' for name in names)
        rows = db.execute(f"select {quoted} from {table} order by 1").fetchall()
        hashes[table] = hashlib.sha256(json.dumps(rows, default=bytes.hex).encode()).hexdigest()
    return hashes, columns


@pytest.mark.parametrize("steps", range(1, len(STEPS)))
def test_upgraded_from_any_schema_human_rows_are_what_they_were(tmp_path: Path, steps: int) -> None:
    path = tmp_path / "shop.db"
    old = made_with(path, steps)
    fill(old)
    before, columns = human_rows(old)
    assert before
    old.close()
    upgraded = open_store(path)
    assert not schema.migrations.pending(upgraded)
    assert human_rows(upgraded, columns)[0] == before
    upgraded.close()


def test_the_hash_would_tell_a_changed_row(tmp_path: Path) -> None:
    db = made_with(tmp_path / "shop.db", len(STEPS))
    fill(db)
    before, columns = human_rows(db)
    db.execute("update decisions set actor = 'somebody else'")
    after, _ = human_rows(db, columns)
    assert {table for table in before if before[table] != after[table]} == {"decisions"}
