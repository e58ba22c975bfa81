"""What films say beside statements: other films referred to, pointing, steps, customers' parts, digressions."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Mapping
from typing import Any, TypeVar

from diaryidx.film_records import (
    Aside,
    CustomerPart,
    FilmLink,
    FilmReference,
    Need,
    Pointing,
    Remarks,
    Step,
    StepWarning,
    Torque,
)
from diaryidx.store.reading.rows import fetched, given

Record = TypeVar("Record")


def film_references(
    db: sqlite3.Connection, *, recording_id: str | None = None, film: str | None = None
) -> list[FilmReference]:
    """What refers to other films, in the order of films and time; said in one film, or meaning one, when given."""
    conditions = given({"f.recording_id = :recording": recording_id, "f.film = :film": film})
    rows = fetched(
        db,
        f"""select f.* from film_references f join recording_details r on r.id = f.recording_id {conditions}
            order by r.date, f.recording_id, f.start, f.id""",
        {"recording": recording_id, "film": film},
    )
    return [_reference(row) for row in rows]


def film_links(db: sqlite3.Connection, recording_id: str, start: float = 0.0, end: float = 1e9) -> list[FilmLink]:
    """The films that a film refers to between two seconds, with their titles; only those that are settled."""
    rows = fetched(
        db,
        """select f.film, r.title, r.date, f.text, f.start, f.film_certainty as certainty
           from film_references f join recording_details r on r.id = f.film
           where f.recording_id = ? and f.start >= ? and f.start < ? order by f.start, f.id""",
        (recording_id, start, end),
    )
    return [FilmLink(**row) for row in rows]


def remarks(db: sqlite3.Connection, recording_id: str) -> Remarks:
    """All that a film says beside statements."""
    return Remarks(
        references=tuple(film_references(db, recording_id=recording_id)),
        pointings=tuple(pointings(db, recording_id)),
        steps=tuple(steps(db, recording_id)),
        customer_parts=tuple(customer_parts(db, recording_id=recording_id)),
        asides=tuple(asides(db, recording_id)),
    )


def pointings(db: sqlite3.Connection, recording_id: str) -> list[Pointing]:
    """When somebody points in a film, in order."""
    return [_of_recording(Pointing, row) for row in _of_film(db, "pointings", "at", recording_id)]


def steps(db: sqlite3.Connection, recording_id: str) -> list[Step]:
    """The steps of a tutorial in order; number 0 is what is needed before the first."""
    return [_step(row) for row in _of_film(db, "steps", "first", recording_id)]


def asides(db: sqlite3.Connection, recording_id: str) -> list[Aside]:
    """The digressions in a film, in order."""
    return [_of_recording(Aside, row) for row in _of_film(db, "asides", "first", recording_id)]


def aside_places(db: sqlite3.Connection, recording_id: str) -> frozenset[int]:
    """The places of a film's sentences that are digressions."""
    return frozenset(place for one in asides(db, recording_id) for place in range(one.first, one.last + 1))


def customer_parts(
    db: sqlite3.Connection, *, build: str | None = None, recording_id: str | None = None
) -> list[CustomerPart]:
    """What customers supplied or want copied, in the order it was said; of one build or film when given."""
    tied = """exists (select 1 from segments g where g.recording_id = c.recording_id and g.build = :build
              and c.sentence between g.first and g.last)"""
    conditions = given({"c.recording_id = :recording": recording_id, tied: build})
    rows = fetched(
        db,
        f"""select c.* from customer_parts c join recording_details r on r.id = c.recording_id {conditions}
            order by r.date, c.recording_id, c.start, c.id""",
        {"recording": recording_id, "build": build},
    )
    return [_of_recording(CustomerPart, row) for row in rows]


def film_titles(db: sqlite3.Connection) -> dict[str, tuple[str, ...]]:
    """What each film says that it is about, beside its title: the topics of one that teaches or answers, by its id."""
    rows = fetched(
        db,
        """select g.recording_id, g.title from segments g join recording_details r on r.id = g.recording_id
           where g.subject_kind in ('tutorial', 'product', 'development') and r.kind != 'diary'
           union all select recording_id, question from entries""",
    )
    found: dict[str, tuple[str, ...]] = {}
    for row in rows:
        found[row["recording_id"]] = (*found.get(row["recording_id"], ()), row["title"])
    return found


def term_shares(db: sqlite3.Connection, terms: Collection[str]) -> dict[str, dict[str, float]]:
    """How often films name some terms: mentions for each sentence of a film, by film and canonical term."""
    rows = fetched(
        db,
        """select s.recording_id, m.canonical, count(*) * 1.0 /
             (select count(*) from sentences c where c.recording_id = s.recording_id) as share
           from mentions m join sentences s on s.id = m.sentence_id
           where m.label in ('PART', 'TASK', 'FINISH', 'PRODUCT', 'MAKE', 'MODEL', 'NICKNAME')
             and m.canonical in (select value from json_each(?)) group by s.recording_id, m.canonical""",
        (json.dumps(sorted(terms)),),
    )
    found: dict[str, dict[str, float]] = {}
    for row in rows:
        found.setdefault(row["recording_id"], {})[row["canonical"]] = row["share"]
    return found


def _of_film(db: sqlite3.Connection, table: str, order: str, recording_id: str) -> list[dict[str, Any]]:
    return fetched(db, f"select * from {table} where recording_id = ? order by {order}, id", (recording_id,))


def _of_recording(record: type[Record], row: Mapping[str, Any]) -> Record:
    """A record whose fields are the row's columns, but for ``recording``."""
    return record(**{("recording" if name == "recording_id" else name): value for name, value in row.items()})


def _reference(row: Mapping[str, Any]) -> FilmReference:
    lists = {name: tuple(json.loads(row[name])) for name in ("about", "terms", "around", "likely")}
    when = None if row["when"] is None else json.loads(row["when"])
    return _of_recording(FilmReference, {**row, **lists, "when": when, "coming": bool(row["coming"])})


def _step(row: Mapping[str, Any]) -> Step:
    kinds: Mapping[str, Any] = {"tools": Need, "needed": Need, "torques": Torque, "warnings": StepWarning}
    lists = {name: tuple(kind(**one) for one in json.loads(row[name])) for name, kind in kinds.items()}
    return _of_recording(Step, {**row, **lists, "parts": tuple(json.loads(row["parts"]))})
