"""What films say beside statements, kept and given back; and which film each reference to another one means."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, fields
from typing import Any

from sqlite_utils import Database

from diaryidx.film_records import FilmReference, Remarks
from diaryidx.store.database import writing

#: The tables, each with the field of `Remarks` that it keeps. Lists and mappings are kept as JSON.
REMARKS = {
    "film_references": "references",
    "pointings": "pointings",
    "steps": "steps",
    "customer_parts": "customer_parts",
    "asides": "asides",
}


def insert_remarks(db: Database, recording_id: str, remarks: Remarks) -> None:
    """Insert what was found in a film, within a transaction."""
    for table, field in REMARKS.items():
        rows = [_row(asdict(record)) for record in getattr(remarks, field)]
        db.table(table).insert_all({"recording_id": recording_id, **row} for row in rows)


def save_references(db: Database, references: Iterable[FilmReference]) -> None:
    """Say of stored references (by their ``id``) which film they mean, in one transaction."""
    with writing(db):
        db.conn.executemany(
            "update film_references set film = ?, likely = ?, film_certainty = ? where id = ?",
            [(one.film, json.dumps(one.likely), one.film_certainty, one.id) for one in references],
        )


def _row(values: dict[str, Any]) -> dict[str, Any]:
    return {
        name: json.dumps(value, ensure_ascii=False) if isinstance(value, (tuple, list, dict)) else value
        for name, value in values.items()
        if name not in ("id", "recording")
    }


assert {field.name for field in fields(Remarks)} == set(REMARKS.values())
