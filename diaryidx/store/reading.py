"""Every question to the database, by name, answered in records. Takes a plain connection: the site has its own."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from difflib import get_close_matches
from typing import Any, Literal, TypeVar

from diaryidx.errors import NotFound
from diaryidx.records import (
    Build,
    Candidate,
    Entry,
    Event,
    Mention,
    Note,
    Photo,
    ProductLine,
    Promise,
    Recording,
    Repair,
    Segment,
    Sentence,
    Statement,
    Subject,
    Word,
)
from diaryidx.store.words import unpack_words

Record = TypeVar("Record")
#: How much a match in each full-text column counts, in the order of ``migrations.FULL_TEXT``: what is meant first, then
#: the canonical terms, then what was heard (common practice, no source).
SENTENCE_WEIGHTS = (4.0, 1.0, 3.0)
ENTRY_WEIGHTS = (6.0, 1.0, 4.0)


@dataclass(frozen=True, slots=True)
class RecordingFile:
    """Where a film is and what it was when it was indexed; enough to say "unchanged" without opening it."""

    id: str
    path: str
    size: int
    modified_ns: int
    content_hash: str
    engine: str | None
    reading_key: str | None
    state: str


@dataclass(frozen=True, slots=True)
class SentenceHit:
    """A sentence that matches a search. ``rank`` is BM25 as SQLite gives it: the lower, the better."""

    sentence: Sentence
    place: int
    title: str
    said_on: str | None
    kind: str
    rank: float


@dataclass(frozen=True, slots=True)
class EntryHit:
    """A FAQ entry that matches a search; ``rank`` as in `SentenceHit`."""

    entry: Entry
    title: str
    said_on: str | None
    rank: float


@dataclass(frozen=True, slots=True)
class SpokenLine:
    """A sentence without its words. ``near_trade``: a term of the trade or the shop is in it; ``start`` in seconds."""

    id: int
    recording: str
    place: int
    start: float
    text: str
    near_trade: bool


@dataclass(frozen=True, slots=True)
class Taught:
    """A correction that a person taught: ``heard`` as typed, and what is meant by it.

    ``made_number`` and ``undone_number`` number people's decisions in the order they were made; times are ISO 8601 in
    UTC. Undone ones are kept.
    """

    id: int
    heard: str
    meant: str
    made_number: int
    made_at: str
    made_by: str | None = None
    undone_number: int | None = None
    undone_at: str | None = None
    undone_by: str | None = None

    @property
    def last_number(self) -> int:
        """The number of the last decision on it."""
        return self.undone_number or self.made_number


# --- recordings ------------------------------------------------------------------------------------------------------


def recordings(db: sqlite3.Connection, *, month: str | None = None, kind: str | None = None) -> list[Recording]:
    """All films, newest first; only those of a month (``YYYY-MM``) or a kind when given."""
    rows = _rows(
        db,
        """select * from recording_details where (:month is null or month = :month) and (:kind is null or kind = :kind)
           order by date desc, path""",
        {"month": month, "kind": kind},
    )
    return [_recording(row) for row in rows]


def recording(db: sqlite3.Connection, recording_id: str) -> Recording:
    """One film by its id.

    :raises NotFound: no film has this id; the message offers the nearest ones.
    """
    rows = _rows(db, "select * from recording_details where id = ?", (recording_id,))
    if rows:
        return _recording(rows[0])
    known = [row["id"] for row in _rows(db, "select id from recordings")]
    near = get_close_matches(recording_id, known, n=3, cutoff=0.4)
    hint = f"; did you mean {', '.join(near)}?" if near else "; `diaryidx recording` lists them"
    raise NotFound(f"no recording has the id {recording_id!r}{hint}")


def recording_files(db: sqlite3.Connection) -> list[RecordingFile]:
    """Every known film's file, for the index to compare with the folder."""
    columns = ", ".join(field.name for field in fields(RecordingFile))
    return [RecordingFile(**row) for row in _rows(db, f"select {columns} from recordings order by path")]


def copies(db: sqlite3.Connection) -> dict[str, tuple[int, int, str]]:
    """Files that hold the same bytes as a film, as ``{path: (size, modified_ns, recording id)}``."""
    rows = _rows(db, "select path, size, modified_ns, recording_id from copies")
    return {row["path"]: (row["size"], row["modified_ns"], row["recording_id"]) for row in rows}


def failed_files(db: sqlite3.Connection) -> dict[str, str]:
    """The files that could not be indexed, as ``{path: why}``."""
    return {row["path"]: row["error"] for row in _rows(db, "select path, error from failed_files order by path")}


def stretches(db: sqlite3.Connection, content_hash: str, engine: str) -> dict[tuple[int, int], tuple[Word, ...]]:
    """The finished stretches of a film that is being heard, by their first and last-but-one sample at 16 kHz."""
    rows = _rows(
        db,
        "select start_sample, end_sample, words from stretches where content_hash = ? and engine = ?",
        (content_hash, engine),
    )
    return {(row["start_sample"], row["end_sample"]): unpack_words(row["words"]) for row in rows}


def taught(db: sqlite3.Connection) -> list[Taught]:
    """Every correction that was ever taught, those undone too, in the order they were made."""
    return [Taught(**row) for row in _rows(db, "select * from taught order by id")]


def taught_words(db: sqlite3.Connection) -> dict[str, str]:
    """The taught corrections that hold, as ``{heard: meant}``."""
    return {one.heard: one.meant for one in taught(db) if one.undone_number is None}


def last_decision(db: sqlite3.Connection) -> int:
    """The number of the last decision on what was misheard; 0 before the first."""
    found = db.execute("select max(max(made_number, coalesce(undone_number, 0))) from taught").fetchone()
    return found[0] or 0


def films_behind(db: sqlite3.Connection, decision: int) -> dict[str, int]:
    """Indexed films that do not follow all decisions up to this one, as ``{id: last one that they follow}``."""
    rows = _rows(db, "select id, decision from recordings where state = 'indexed' and decision < ?", (decision,))
    return {row["id"]: row["decision"] for row in rows}


def links_due(db: sqlite3.Connection) -> bool:
    """Whether films changed since all were tied to builds together."""
    return bool(db.execute("select exists (select 1 from recordings where links_due)").fetchone()[0])


# --- what was said ---------------------------------------------------------------------------------------------------


def sentences(db: sqlite3.Connection, recording_id: str) -> list[Sentence]:
    """The sentences of a film in order, with their words and repairs."""
    rows = _rows(db, "select * from sentences where recording_id = ? order by place", (recording_id,))
    return [_sentence(row) for row in rows]


def repairs(db: sqlite3.Connection, recording_id: str, start: float, end: float) -> list[Repair]:
    """What was put right in the sentences of a film that begin within some seconds, in the order of speech."""
    rows = _rows(
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
    rows = _rows(
        db,
        """select * from sentences where recording_id = :recording and exists (
             select 1 from json_each(:places) p where place between p.value - :margin and p.value + :margin)
           order by place""",
        {"recording": recording_id, "places": json.dumps(sorted(places)), "margin": margin},
    )
    return [(row["place"], _sentence(row)) for row in rows]


def repairs_by_moment(
    db: sqlite3.Connection, recording_ids: Iterable[str | None]
) -> dict[tuple[str | None, float | None], tuple[Repair, ...]]:
    """What was put right in the sentences of some films, by the film and the second in which the sentence begins."""
    found: dict[tuple[str | None, float | None], tuple[Repair, ...]] = {}
    for recording_id in dict.fromkeys(recording_ids):
        rows = _rows(
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
    rows = _rows(
        db,
        """select s.* from sentences_fts f join sentences s on s.id = f.rowid join recordings r on r.id = s.recording_id
           where sentences_fts match ? and r.state = 'indexed' order by r.date, r.id, s.place""",
        (f"{column} : ({match})",),
    )
    return [(row["place"], _sentence(row)) for row in rows]


def segments(
    db: sqlite3.Connection, *, recording_id: str | None = None, build: str | None = None, month: str | None = None
) -> list[Segment]:
    """Topic stretches, in the order of films and time; of one film, one build or one month when given."""
    conditions = _given(
        {"s.recording_id = :recording": recording_id, "s.build = :build": build, "r.month = :month": month}
    )
    rows = _rows(
        db,
        f"""select s.* from segments s join recording_details r on r.id = s.recording_id {conditions}
           order by r.date, s.recording_id, s.place""",
        {"recording": recording_id, "build": build, "month": month},
    )
    return [_segment(row) for row in rows]


def mentions(db: sqlite3.Connection, recording_id: str) -> list[Mention]:
    """The terms found in a film, in order."""
    rows = _rows(
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
    conditions = _given({
        "t.recording_id = :recording": recording_id, "t.build = :build": build, "r.month = :month": month,
        "r.date < :before": before, "t.build is not null": tied or None,
        "t.build in (select value from json_each(:builds))": builds,
    })  # fmt: skip
    rows = _rows(
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
    return [_statement(row) for row in rows]


def entries(db: sqlite3.Connection, *, recording_id: str | None = None) -> list[Entry]:
    """FAQ entries, by film and time."""
    rows = _rows(
        db,
        """select e.* from entries e join recording_details r on r.id = e.recording_id
           where (:recording is null or e.recording_id = :recording) order by r.date desc, e.recording_id, e.start""",
        {"recording": recording_id},
    )
    return [_entry(row) for row in rows]


def entry(db: sqlite3.Connection, entry_id: int) -> Entry:
    """One FAQ entry.

    :raises NotFound: there is none of this number.
    """
    rows = _rows(db, "select * from entries where id = ?", (entry_id,))
    if not rows:
        raise NotFound(f"there is no answer number {entry_id}")
    return _entry(rows[0])


def promises(db: sqlite3.Connection, *, month: str | None = None) -> list[Promise]:
    """What was promised on film, in the order it was said; in one month when given."""
    return [_of_recording(Promise, row) for row in _said_in_month(db, "promises", month)]


def promises_about(db: sqlite3.Connection, build: str) -> list[Promise]:
    """What was promised on film while a build was spoken of, in the order it was said."""
    rows = _rows(
        db,
        """select p.* from segments g join promises p on p.recording_id = g.recording_id
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


# --- the job book ----------------------------------------------------------------------------------------------------


def builds(db: sqlite3.Connection) -> list[Build]:
    """Every row of the job book, by job number."""
    rows = _rows(db, "select * from builds order by length(job_number), job_number")
    return [_build(row) for row in rows]


def build(db: sqlite3.Connection, job_number: str) -> Build:
    """One build by its exact job number.

    :raises NotFound: the job book has none.
    """
    rows = _rows(db, "select * from builds where job_number = ?", (job_number,))
    if not rows:
        raise NotFound(f"the job book has no job {job_number!r}; `diaryidx jobs list` shows what it has")
    return _build(rows[0])


def job_columns(db: sqlite3.Connection) -> dict[str, str | None]:
    """What the headings of the job book fill, as a person confirmed it: ``{plain heading: field or None}``."""
    return {row["heading"]: row["field"] for row in _rows(db, "select heading, field from job_columns")}


def notes(db: sqlite3.Connection, *, build: str | None = None) -> list[Note]:
    """What people wrote about builds, undone notes too, by the day they are of; of one build when given."""
    return _notes(db, "(:build is null or n.build = :build)", {"build": build})


def note(db: sqlite3.Connection, note_id: int) -> Note:
    """One note.

    :raises NotFound: there is none of this number.
    """
    found = _notes(db, "n.id = :id", {"id": note_id})
    if not found:
        raise NotFound(f"there is no note number {note_id}; `diaryidx note list` shows them")
    return found[0]


def photo(db: sqlite3.Connection, file: str) -> Photo:
    """A photo of a note in force, by its name in the shop's photos folder.

    :raises NotFound: no note has it, or only undone ones.
    """
    rows = _rows(
        db,
        """select p.file, p.name, p.width, p.height from note_photos p join notes n on n.id = p.note_id
           where p.file = ? and n.undone_at is null limit 1""",
        (file,),
    )
    if not rows:
        raise NotFound("no note has this photo")
    return Photo(**rows[0])


def note_statements(db: sqlite3.Connection, *, build: str | None = None) -> list[Statement]:
    """What notes in force state, by the day they are of; of one build when given."""
    rows = _rows(
        db,
        """select s.*, n.build, n.date as said_on, n.id as note from note_statements s join notes n on n.id = s.note_id
           where n.undone_at is null and (:build is null or n.build = :build) order by n.date, n.id, s.id""",
        {"build": build},
    )
    names = {field.name for field in fields(Statement)}
    return [
        Statement(
            **{name: value for name, value in row.items() if name in names},
            source="note",
            subject=Subject("build", row["build"]),
        )
        for row in rows
    ]


def film_dates(db: sqlite3.Connection) -> dict[str, str | None]:
    """The date of every film, by its id."""
    return {row["id"]: row["date"] for row in _rows(db, "select id, date from recording_details")}


def films_of_builds(db: sqlite3.Connection) -> list[tuple[str, str]]:
    """Every pair of a job number and a film with a stretch about it."""
    rows = _rows(db, "select distinct build, recording_id from segments where build is not null")
    return [(row["build"], row["recording_id"]) for row in rows]


def segments_without_build(db: sqlite3.Connection) -> list[tuple[int, Segment]]:
    """Stretches about a bike that is not known, with their places in their films, latest film first."""
    rows = _rows(
        db,
        """select s.* from segments s join recording_details r on r.id = s.recording_id
           where s.subject_kind = 'build' and s.build is null order by r.date desc, s.recording_id, s.place""",
    )
    return [(row["place"], _segment(row)) for row in rows]


def statements_without_build(db: sqlite3.Connection) -> list[Statement]:
    """What was said in stretches about a bike that is not known, in the order of films and time."""
    rows = _rows(
        db,
        """select t.*, s.place as sentence_place, g.place as segment_place
           from statements t join segments g on g.id = t.segment_id left join sentences s on s.id = t.sentence_id
           where g.subject_kind = 'build' and g.build is null order by t.recording_id, t.start, t.id""",
    )
    return [_statement(row) for row in rows]


# --- developments ----------------------------------------------------------------------------------------------------


def development_names(db: sqlite3.Connection) -> list[str]:
    """What films called a development, by name."""
    rows = _rows(
        db,
        """select distinct subject_id as name from segments
           where subject_kind = 'development' and subject_id is not null order by subject_id""",
    )
    return [row["name"] for row in rows]


def development_records(db: sqlite3.Connection) -> list[tuple[str, str | None, bool]]:
    """Name and state of every development, and whether the name is the shop's own."""
    rows = _rows(db, "select name, state, by_name from developments order by name")
    return [(row["name"], row["state"], bool(row["by_name"])) for row in rows]


def films_about(db: sqlite3.Connection, name: str, *, by_name: bool) -> list[tuple[str, str | None, str]]:
    """Id, date and title of the films with a stretch about a development, or with its name if asked, oldest first."""
    rows = _rows(
        db,
        """select r.id, r.date, r.title from recording_details r where r.id in (
             select recording_id from segments where subject_kind in ('development', 'product') and subject_id = :name
             union select s.recording_id from mentions m join sentences s on s.id = m.sentence_id
               where :by_name and m.label in ('PART', 'PRODUCT') and m.canonical = :name)
           order by r.date, r.id""",
        {"name": name, "by_name": by_name},
    )
    return [(row["id"], row["date"], row["title"]) for row in rows]


def sentences_naming(db: sqlite3.Connection, recording_id: str, name: str) -> list[int]:
    """The places of a film's sentences that name a part or product."""
    rows = _rows(
        db,
        """select distinct s.place from mentions m join sentences s on s.id = m.sentence_id
           where m.label in ('PART', 'PRODUCT') and m.canonical = ? and s.recording_id = ? order by s.place""",
        (name, recording_id),
    )
    return [row["place"] for row in rows]


# --- search ----------------------------------------------------------------------------------------------------------


def search_sentences(db: sqlite3.Connection, match: str, limit: int = 20) -> list[SentenceHit]:
    """Sentences that match an FTS5 query, best first.

    :param match: an FTS5 expression; build it with `faq.search`, which quotes what a person typed.
    """
    rows = _rows(
        db,
        f"""select s.*, r.title as film_title, r.date as film_date, r.kind as film_kind,
             bm25(sentences_fts, {", ".join(map(str, SENTENCE_WEIGHTS))}) as rank_
           from sentences_fts f join sentences s on s.id = f.rowid join recording_details r on r.id = s.recording_id
           where sentences_fts match ? order by rank_, s.id limit ?""",
        (match, limit),
    )
    return [
        SentenceHit(_sentence(row), row["place"], row["film_title"], row["film_date"], row["film_kind"], row["rank_"])
        for row in rows
    ]


def search_entries(db: sqlite3.Connection, match: str, limit: int = 20) -> list[EntryHit]:
    """FAQ entries that match an FTS5 query, best first."""
    rows = _rows(
        db,
        f"""select e.*, r.title as film_title, r.date as film_date,
             bm25(entries_fts, {", ".join(map(str, ENTRY_WEIGHTS))}) as rank_
           from entries_fts f join entries e on e.id = f.rowid join recording_details r on r.id = e.recording_id
           where entries_fts match ? order by rank_, e.id limit ?""",
        (match, limit),
    )
    return [EntryHit(_entry(row), row["film_title"], row["film_date"], row["rank_"]) for row in rows]


# --- rows into records -----------------------------------------------------------------------------------------------


def _given(conditions: Mapping[str, object]) -> str:
    """The conditions of which something is given, so that SQLite can use its indexes for them."""
    wanted = [condition for condition, value in conditions.items() if value is not None]
    return f"where {' and '.join(wanted)}" if wanted else ""


def _rows(db: sqlite3.Connection, sql: str, parameters: Sequence[Any] | Mapping[str, Any] = ()) -> list[dict[str, Any]]:
    cursor = db.execute(sql, parameters)
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor]


def _said_in_month(db: sqlite3.Connection, table: str, month: str | None) -> list[dict[str, Any]]:
    return _rows(
        db,
        f"""select t.* from {table} t join recording_details r on r.id = t.recording_id
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


def _recording(row: Mapping[str, Any]) -> Recording:
    names = {field.name for field in fields(Recording)}
    values = {name: value for name, value in row.items() if name in names}
    return Recording(**{**values, "has_picture": bool(row["has_picture"])})


def _sentence(row: Mapping[str, Any]) -> Sentence:
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


def _segment(row: Mapping[str, Any]) -> Segment:
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


def _statement(row: Mapping[str, Any]) -> Statement:
    own = {field.name for field in fields(Statement)} & row.keys()
    values = {name: row[name] for name in own}
    values["subject"] = None if row["subject_kind"] is None else Subject(row["subject_kind"], row["subject_id"])
    values["sentence"] = row["sentence_place"] or 0
    values["segment"] = row["segment_place"]
    values["recording"] = row["recording_id"]
    values["decided"] = bool(row.get("decided"))
    values["certainty"] = round(row["certainty"] * row.get("link_certainty", 1.0), 3)
    return Statement(**values)


def _entry(row: Mapping[str, Any]) -> Entry:
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


def _notes(db: sqlite3.Connection, condition: str, parameters: Mapping[str, Any]) -> list[Note]:
    rows = _rows(
        db,
        f"""select n.*, r.reading_key from notes n left join note_readings r on r.note_id = n.id
            where {condition} order by n.date, n.id""",
        parameters,
    )
    photos: dict[int, list[Photo]] = {}
    for photo in _rows(db, "select * from note_photos order by note_id, place") if rows else ():
        photos.setdefault(photo["note_id"], []).append(
            Photo(photo["file"], photo["name"], photo["width"], photo["height"])
        )
    return [Note(**{**row, "visit": bool(row["visit"])}, photos=tuple(photos.get(row["id"], ()))) for row in rows]


def _build(row: Mapping[str, Any]) -> Build:
    return Build(**{**row, "public": bool(row["public"])})


def _split_terms(terms: str | None) -> tuple[str, ...]:
    return tuple(term for term in (terms or "").split(" | ") if term)
