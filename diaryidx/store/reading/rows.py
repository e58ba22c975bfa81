"""Asking the database, and rows into the records that several subjects share."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from diaryidx.records import Candidate, Entry, Repair, Segment, Sentence, Statement, Subject
from diaryidx.store.words import unpack_words


def fetched(
    db: sqlite3.Connection, sql: str, parameters: Sequence[Any] | Mapping[str, Any] = ()
) -> list[dict[str, Any]]:
    """The rows that a query finds, each by the names of its columns."""
    cursor = db.execute(sql, parameters)
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor]


def given(conditions: Mapping[str, object]) -> str:
    """The conditions of which something is given, so that SQLite can use its indexes for them."""
    wanted = [condition for condition, value in conditions.items() if value is not None]
    return f"where {' and '.join(wanted)}" if wanted else ""


def sentence_of(row: Mapping[str, Any]) -> Sentence:
    """A row of ``sentences`` as a record."""
    return Sentence(
        start=row["start"],
        end=row["end"],
        heard=row["heard"],
        text=row["text"],
        words=unpack_words(row["words"]),
        repairs=tuple(Repair(**repair) for repair in json.loads(row["repairs"])),
        certainty=row["certainty"],
        speaker=row["speaker"],
        id=row["id"],
        recording=row["recording_id"],
    )


def segment_of(row: Mapping[str, Any]) -> Segment:
    """A row of ``segments`` as a record."""
    return Segment(
        start=row["start"],
        end=row["end"],
        first=row["first"],
        last=row["last"],
        title=row["title"],
        subject=Subject(row["subject_kind"], row["subject_id"]),
        build=row["build"],
        certainty=row["certainty"],
        evidence=tuple(json.loads(row["evidence"])),
        candidates=tuple(Candidate(**candidate) for candidate in json.loads(row["candidates"] or "[]")),
        decision=row["decision"],
        id=row["id"],
        recording=row["recording_id"],
    )


def statement_of(row: Mapping[str, Any]) -> Statement:
    """A row of ``statements``, with the places of its sentence and segment, as a record."""
    own = {field.name for field in fields(Statement)} & row.keys()
    values = {name: row[name] for name in own}
    values["subject"] = None if row["subject_kind"] is None else Subject(row["subject_kind"], row["subject_id"])
    values["sentence"] = row["sentence_place"] or 0
    values["segment"] = row["segment_place"]
    values["recording"] = row["recording_id"]
    values["decided"] = bool(row.get("decided"))
    values["certainty"] = round(row["certainty"] * row.get("link_certainty", 1.0), 3)
    return Statement(**values)


def entry_of(row: Mapping[str, Any]) -> Entry:
    """A row of ``entries`` as a record."""
    return Entry(
        question=row["question"],
        answer=row["answer"],
        start=row["start"],
        end=row["end"],
        terms=_split_terms(row["terms"]),
        certainty=row["certainty"],
        id=row["id"],
        recording=row["recording_id"],
    )


def _split_terms(terms: str | None) -> tuple[str, ...]:
    return tuple(term for term in (terms or "").split(" | ") if term)


def as_indexed(phrase: str) -> str:
    """Letters and digits alone, as the full-text indexes have them; empty where a phrase has none."""
    return " ".join("".join(sign if sign.isalnum() else " " for sign in phrase).split())
