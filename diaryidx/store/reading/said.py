"""What was said: sentences and their repairs, topics, statements, questions, promises, dates, prices."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from diaryidx.errors import NotFound
from diaryidx.records import Entry, Event, Mention, ProductLine, Promise, Repair, Segment, Sentence, Statement
from diaryidx.store.reading.rows import entry_of, fetched, given, segment_of, sentence_of, statement_of

Record = TypeVar("Record")


@dataclass(frozen=True, slots=True)
class SpokenLine:
    """A sentence without its words. ``near_trade``: a term of the trade or the shop is in it; ``start`` in seconds."""

    id: int
    recording: str
    place: int
    start: float
    text: str
    near_trade: bool


def sentences(db: sqlite3.Connection, recording_id: str) -> list[Sentence]:
    """The sentences of a film in order, with their words and repairs."""
    rows = fetched(db, "select * from sentences where recording_id = ? order by place", (recording_id,))
    return [sentence_of(row) for row in rows]


def repairs(db: sqlite3.Connection, recording_id: str, start: float, end: float) -> list[Repair]:
    """What was put right in the sentences of a film that begin within some seconds, in the order of speech."""
    rows = fetched(
        db,
        """select repairs from sentences where recording_id = ? and start >= ? and start < ? and repairs != '[]'
           order by place""",
        (recording_id, start, end),
    )
    return [Repair(**repair) for row in rows for repair in json.loads(row["repairs"])]


def spoken_lines(db: sqlite3.Connection) -> Iterator[SpokenLine]:
    """Every sentence of every film without its words, in the order of films and time; read as it is asked for."""
    rows = db.execute(
        """select s.id, s.recording_id, s.place, s.start, s.text, s.terms != '' from recordings r
           join sentences s on s.recording_id = r.id order by r.date, r.id, s.place"""
    )
    return (SpokenLine(line, film, place, start, text, bool(near)) for line, film, place, start, text, near in rows)


def sentences_near(
    db: sqlite3.Connection, recording_id: str, places: Collection[int], margin: int
) -> list[tuple[int, Sentence]]:
    """Some sentences of a film and those around them, in order, each with its place.

    :param margin: how many sentences before and after each are wanted.
    """
    rows = fetched(
        db,
        """select * from sentences where recording_id = :recording and exists (
             select 1 from json_each(:places) p where place between p.value - :margin and p.value + :margin)
           order by place""",
        {"recording": recording_id, "places": json.dumps(sorted(places)), "margin": margin},
    )
    return [(row["place"], sentence_of(row)) for row in rows]


def repairs_by_moment(
    db: sqlite3.Connection, recording_ids: Iterable[str | None]
) -> dict[tuple[str | None, float | None], tuple[Repair, ...]]:
    """What was put right in the sentences of some films, by the film and the second in which the sentence begins."""
    found: dict[tuple[str | None, float | None], tuple[Repair, ...]] = {}
    for recording_id in dict.fromkeys(recording_ids):
        rows = fetched(
            db, "select start, repairs from sentences where recording_id = ? and repairs != '[]'", (recording_id,)
        )
        for row in rows:
            found[recording_id, row["start"]] = tuple(Repair(**repair) for repair in json.loads(row["repairs"]))
    return found


def count_sentences(db: sqlite3.Connection) -> int:
    """How many sentences all films have."""
    return int(db.execute("select count(*) from sentences").fetchone()[0])


def sentences_with(
    db: sqlite3.Connection, match: str, column: Literal["heard", "text"] = "heard"
) -> list[tuple[int, Sentence]]:
    """The sentences in indexed films of which what was heard, or what is meant, matches, by film and time.

    :param match: an FTS5 expression for that column alone.
    :returns: each with its place in its film.
    """
    rows = fetched(
        db,
        """select s.* from sentences_fts f join sentences s on s.id = f.rowid join recordings r on r.id = s.recording_id
           where sentences_fts match ? and r.state = 'indexed' order by r.date, r.id, s.place""",
        (f"{column} : ({match})",),
    )
    return [(row["place"], sentence_of(row)) for row in rows]


def segments(
    db: sqlite3.Connection, *, recording_id: str | None = None, build: str | None = None, month: str | None = None
) -> list[Segment]:
    """Topic stretches, in the order of films and time; of one film, one build or one month when given."""
    conditions = given(
        {"s.recording_id = :recording": recording_id, "s.build = :build": build, "r.month = :month": month}
    )
    rows = fetched(
        db,
        f"""select s.* from segments s join recording_details r on r.id = s.recording_id {conditions}
           order by r.date, s.recording_id, s.place""",
        {"recording": recording_id, "build": build, "month": month},
    )
    return [segment_of(row) for row in rows]


def segments_without_build(db: sqlite3.Connection) -> list[tuple[int, Segment]]:
    """Stretches about a bike that is not known, with their places in their films, latest film first."""
    rows = fetched(
        db,
        """select s.* from segments s join recording_details r on r.id = s.recording_id
           where s.subject_kind = 'build' and s.build is null order by r.date desc, s.recording_id, s.place""",
    )
    return [(row["place"], segment_of(row)) for row in rows]


def mentions(db: sqlite3.Connection, recording_id: str) -> list[Mention]:
    """The terms found in a film, in order."""
    rows = fetched(
        db,
        """select m.*, s.place from mentions m join sentences s on s.id = m.sentence_id
           where s.recording_id = ? order by s.place, m.start_char, m.id""",
        (recording_id,),
    )
    return [_mention(row) for row in rows]


def statements(
    db: sqlite3.Connection,
    *,
    recording_id: str | None = None,
    build: str | None = None,
    month: str | None = None,
    before: str | None = None,
    tied: bool = False,
    builds: Sequence[str] | None = None,
) -> list[Statement]:
    """Statements in the order they were said; of one film, build or month, or said before a date, when given.

    The certainty of one that is tied to a build is that it was heard and understood rightly and is of this build: what
    the language made of it, times that of the link (taken as independent; common practice, no source).

    :param tied: only those that are tied to a build.
    :param builds: only those that are tied to one of these.
    """
    conditions = given({
        "t.recording_id = :recording": recording_id, "t.build = :build": build, "r.month = :month": month,
        "r.date < :before": before, "t.build is not null": tied or None,
        "t.build in (select value from json_each(:builds))": builds,
    })  # fmt: skip
    rows = fetched(
        db,
        f"""select t.*, s.place as sentence_place, g.place as segment_place, r.date as said_on,
             t.follows and g.decision is not null and g.certainty >= 1.0 as decided,
             case when t.build = g.build then g.certainty else 1.0 end as link_certainty
           from statements t join recording_details r on r.id = t.recording_id
             left join sentences s on s.id = t.sentence_id left join segments g on g.id = t.segment_id
           {conditions} order by r.date, t.recording_id, t.start, t.id""",
        {"recording": recording_id, "build": build, "month": month, "before": before,
         "builds": json.dumps(list(builds or ()))},
    )  # fmt: skip
    return [statement_of(row) for row in rows]


def statements_without_build(db: sqlite3.Connection) -> list[Statement]:
    """What was said in stretches about a bike that is not known, in the order of films and time."""
    rows = fetched(
        db,
        """select t.*, s.place as sentence_place, g.place as segment_place
           from statements t join segments g on g.id = t.segment_id left join sentences s on s.id = t.sentence_id
           where g.subject_kind = 'build' and g.build is null order by t.recording_id, t.start, t.id""",
    )
    return [statement_of(row) for row in rows]


def entries(db: sqlite3.Connection, *, recording_id: str | None = None) -> list[Entry]:
    """FAQ entries, by film and time."""
    rows = fetched(
        db,
        """select e.* from entries e join recording_details r on r.id = e.recording_id
           where (:recording is null or e.recording_id = :recording) order by r.date desc, e.recording_id, e.start""",
        {"recording": recording_id},
    )
    return [entry_of(row) for row in rows]


def entry(db: sqlite3.Connection, entry_id: int) -> Entry:
    """One FAQ entry.

    :raises NotFound: there is none of this number.
    """
    rows = fetched(db, "select * from entries where id = ?", (entry_id,))
    if not rows:
        raise NotFound(f"there is no answer number {entry_id}")
    return entry_of(rows[0])


def promises(db: sqlite3.Connection, *, month: str | None = None) -> list[Promise]:
    """What was promised on film, in the order it was said; in one month when given."""
    return [_of_recording(Promise, row) for row in _said_in_month(db, "promises", month)]


def promises_about(db: sqlite3.Connection, build: str) -> list[Promise]:
    """What was promised on film while a build was spoken of, in the order it was said."""
    rows = fetched(
        db,
        """select p.*, r.date as said_on from segments g join promises p on p.recording_id = g.recording_id
             and p.start >= g.start and p.start < g.end join recording_details r on r.id = p.recording_id
           where g.build = ? order by r.date, p.recording_id, p.start, p.id""",
        (build,),
    )
    return [_of_recording(Promise, row) for row in rows]


def events(db: sqlite3.Connection, *, month: str | None = None) -> list[Event]:
    """Dates for the calendar, in the order they were said; said in one month when given."""
    return [_of_recording(Event, row) for row in _said_in_month(db, "events", month)]


def products(db: sqlite3.Connection, *, month: str | None = None) -> list[ProductLine]:
    """Product lines, in the order they were said; said in one month when given."""
    return [_of_recording(ProductLine, row) for row in _said_in_month(db, "products", month)]


def _said_in_month(db: sqlite3.Connection, table: str, month: str | None) -> list[dict[str, Any]]:
    return fetched(
        db,
        f"""select t.*, r.date as said_on from {table} t join recording_details r on r.id = t.recording_id
            where (:month is null or r.month = :month) order by r.date, t.recording_id, t.start, t.id""",
        {"month": month},
    )


def _of_recording(record: type[Record], row: Mapping[str, Any]) -> Record:
    """A record whose fields are the row's columns, but for ``recording``; whole-number flags become booleans."""
    values = dict(row)
    values["recording"] = values.pop("recording_id")
    for flag in ("tentative", "approximate"):
        if flag in values:
            values[flag] = bool(values[flag])
    return record(**values)


def _mention(row: Mapping[str, Any]) -> Mention:
    return Mention(
        label=row["label"],
        text=row["text"],
        canonical=row["canonical"],
        sentence=row["place"],
        start=row["start_char"],
        end=row["end_char"],
        certainty=row["certainty"],
        value=None if row["value"] is None else json.loads(row["value"]),
    )
