"""Every change to the database, by name. Each function is one transaction unless it says otherwise."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any

from sqlite_utils import Database

from diaryidx.records import Build, Development, Mention, Note, Photo, Reading, Segment, Sentence, Statement, Word
from diaryidx.store import decisions
from diaryidx.store.database import writing
from diaryidx.store.reading import last_decision
from diaryidx.store.remarks import REMARKS, insert_remarks
from diaryidx.store.words import pack_words

CORRECTABLE = ("title", "kind", "date", "month", "address")
_STATEMENT_SLOTS = (
    "status", "part", "side", "task", "finish", "product", "supplier", "quantity", "said_by", "who", "when",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class RecordingRow:
    """A film as the index first sees it: the file, what was guessed about it, and how far its indexing is.

    ``size`` in bytes, ``modified_ns`` in nanoseconds since 1970, ``duration`` in seconds.
    """

    id: str
    path: str
    size: int
    modified_ns: int
    content_hash: str
    title: str
    kind: str
    date: str | None
    date_from: str | None
    month: str | None
    duration: float
    has_picture: bool
    engine: str | None = None
    reading_key: str | None = None
    state: str = "hearing"
    warning: str | None = None


def save_recording(db: Database, row: RecordingRow) -> None:
    """Insert a film or replace what was guessed about it; a person's corrections are kept elsewhere and stay."""
    with writing(db):
        db.table("failed_files").delete_where("path = ?", [row.path])
        db.table("recordings").upsert({**asdict(row), "indexed_at": _now()}, pk="id")


def move_recording(db: Database, recording_id: str, path: str, size: int, modified_ns: int) -> None:
    """Say where a renamed or touched film is now; its content is known to be the same."""
    with writing(db):
        db.table("failed_files").delete_where("path = ?", [path])
        moved = {"path": path, "size": size, "modified_ns": modified_ns}
        if db.table("recordings").get(recording_id)["path"] != path:
            moved["links_due"] = 1  # a voice note may be named after its job now
        db.table("recordings").update(recording_id, moved)


def save_copy(db: Database, path: str, size: int, modified_ns: int, recording_id: str) -> None:
    """Remember that a file holds the same bytes as a known film, so that it need not be read again to know it."""
    with writing(db):
        db.table("failed_files").delete_where("path = ?", [path])
        db.table("copies").upsert(
            {"path": path, "size": size, "modified_ns": modified_ns, "recording_id": recording_id}, pk="path"
        )


def save_failure(db: Database, path: str, size: int, modified_ns: int, error: str) -> None:
    """Remember why a file could not be indexed; what an earlier run stored about it stays."""
    with writing(db):
        db.table("failed_files").upsert(
            {"path": path, "size": size, "modified_ns": modified_ns, "error": error, "failed_at": _now()}, pk="path"
        )


def forget_failures(db: Database, gone: Iterable[str]) -> None:
    """Forget why files could not be indexed that are no longer there."""
    with writing(db):
        for path in gone:
            db.table("failed_files").delete_where("path = ?", [path])


def save_stretch(
    db: Database, content_hash: str, engine: str, start_sample: int, end_sample: int, words: Sequence[Word]
) -> None:
    """Keep a finished stretch of hearing, so that a killed run goes on behind it. Times of words are film times."""
    with writing(db):
        db.table("stretches").upsert(
            {
                "content_hash": content_hash,
                "engine": engine,
                "start_sample": start_sample,
                "end_sample": end_sample,
                "words": pack_words(words),
            },
            pk=("content_hash", "engine", "start_sample", "end_sample"),
        )


def save_reading(
    db: Database,
    recording_id: str,
    sentences: Sequence[Sentence],
    reading: Reading,
    *,
    reading_key: str,
    engine: str | None = None,
    warning: str | None = None,
    decision: int = 0,
    names_known: bool = True,
) -> None:
    """Replace all that was heard and understood of a film, and drop the stretches it was made from.

    Its topics are cut as people decided. Everything is in one transaction: a reader sees the film as it was before or
    as it is now, never half of it.

    :param decision: the last decision on what was misheard that ``sentences`` follow.
    :param names_known: all ``sentences`` were put right by the names of the job book, not only some.
    """
    with writing(db):
        _forget_reading(db, recording_id)
        sentence_ids = _insert_sentences(db, recording_id, sentences, reading.mentions)
        segment_ids = _insert_segments(db, recording_id, reading.segments)
        _insert_mentions(db, sentence_ids, reading.mentions)
        _insert_topics(db, "topics", recording_id, reading.segments)
        _insert_topics(db, "talk_topics", recording_id, reading.talk)
        _insert_statements(db, recording_id, reading, sentence_ids, segment_ids)
        _insert_entries(db, recording_id, reading)
        insert_remarks(db, recording_id, reading.remarks)
        row: dict[str, Any] = {"state": "indexed", "reading_key": reading_key, "indexed_at": _now()}
        row |= {"decision": decision, "links_due": 1, "read_as": reading.kind}
        if names_known:
            row["names_due"] = 0
        if engine is not None:
            content_hash = db.table("recordings").get(recording_id)["content_hash"]
            row |= {"engine": engine, "warning": warning, "heard_film": content_hash}
            db.table("stretches").delete_where("content_hash = ?", [content_hash])
        if db.table("recordings").get(recording_id)["kind"] == "other":
            row["kind"] = reading.kind
        db.table("recordings").update(recording_id, row)
        decisions.obey_decisions(db, recording_id)


def save_cuts(db: Database, recording_id: str, reading: Reading) -> None:
    """Put other topics in the place of a film's, cut as people decided; the film is to be tied to builds again.

    :param reading: its segments are the new topics; its statements, as they are stored, belong to them.
    """
    with writing(db):
        db.table("topics").delete_where("recording_id = ?", [recording_id])
        _insert_topics(db, "topics", recording_id, reading.segments)
        db.conn.executemany(
            "update statements set build = null, subject_kind = ?, subject_id = ?, follows = ? where id = ?",
            [
                (one.subject and one.subject.kind, one.subject and one.subject.id,
                 int(_follows(one, reading.segments)), one.id)
                for one in reading.statements
            ],
        )  # fmt: skip
        decisions.replace_segments(db, recording_id, reading.segments)
        decisions.obey_decisions(db, recording_id)
        db.execute("update recordings set links_due = 1 where id = ?", (recording_id,))


def save_links(db: Database, recording_id: str, segments: Iterable[Segment]) -> None:
    """Tie stored segments (by their ``id``) to builds, with the certainty and evidence, and their statements with them.

    A statement about something other than a build (usual practice, a product) keeps its own subject.
    """
    with writing(db):
        tie_segments(db, recording_id, segments)


def tie_segments(db: Database, recording_id: str, segments: Iterable[Segment]) -> None:
    """What `save_links` does, within a transaction."""
    for segment in segments:
        if segment.id is None:
            raise ValueError("only stored segments can be linked")
        db.execute(
            """update segments set build = ?, subject_kind = ?, subject_id = ?, certainty = ?, evidence = ?,
                 candidates = ?, decision = ? where id = ? and recording_id = ?""",
            (segment.build, segment.subject.kind, segment.subject.id, segment.certainty, _packed(segment.evidence),
             decisions.candidates_packed(segment), segment.decision, segment.id, recording_id),
        )  # fmt: skip
        decisions.tie_statements(db, segment.id, segment)


def save_builds(db: Database, builds: Iterable[Build]) -> None:
    """Insert or update builds by job number; none is ever deleted."""
    with writing(db):
        db.table("builds").upsert_all(
            ({**asdict(build), "public": int(build.public)} for build in builds), pk="job_number"
        )


def save_job_columns(db: Database, columns: Mapping[str, str | None]) -> None:
    """Keep what the headings of the job book fill, as a person confirmed it: ``{plain heading: field or None}``."""
    with writing(db):
        db.table("job_columns").upsert_all(
            ({"heading": heading, "field": field, "decided_at": _now()} for heading, field in columns.items()),
            pk="heading",
        )


def save_note(
    db: Database, build: str, text: str, date: str, author: str, photos: Sequence[Photo], *, visit: bool = False
) -> Note:
    """Keep what a person wrote about a build; photos are in the shop folder already."""
    with writing(db):
        row = {"build": build, "text": text, "date": date, "author": author, "written_at": _now()}
        (note_id,) = _inserted(db, "notes", [{**row, "visit": int(visit)}])
        db.table("note_photos").insert_all(
            {"note_id": note_id, "place": place, **asdict(photo)} for place, photo in enumerate(photos)
        )
    return Note(id=note_id, photos=tuple(photos), visit=visit, **row)


def undo_note(db: Database, note_id: int, by: str) -> None:
    """Mark a note as undone; its words are kept, what it stated is forgotten."""
    with writing(db):
        db.table("notes").update(note_id, {"undone_at": _now(), "undone_by": by})
        _forget_note_reading(db, note_id)


def save_note_reading(db: Database, note_id: int, statements: Sequence[Statement], reading_key: str) -> None:
    """Replace what was understood in a note."""
    with writing(db):
        _forget_note_reading(db, note_id)
        db.table("note_readings").insert({"note_id": note_id, "reading_key": reading_key})
        db.table("note_statements").insert_all(
            {
                "note_id": note_id,
                "sentence": statement.sentence,
                **{column: getattr(statement, column) for column in _STATEMENT_SLOTS},
                "certainty": statement.certainty,
                "text": statement.text,
                "rule": statement.rule,
            }
            for statement in statements
        )


def _forget_note_reading(db: Database, note_id: int) -> None:
    for table in ("note_readings", "note_statements"):
        db.table(table).delete_where("note_id = ?", [note_id])


def save_developments(db: Database, developments: Sequence[Development]) -> None:
    """Replace the records of developments."""
    with writing(db):
        db.table("developments").delete_where()
        db.table("developments").insert_all(
            {
                "name": one.name,
                "state": one.state,
                "by_name": int(one.by_name),
                "first_said": one.thread[0].date,
                "last_said": one.thread[-1].date,
            }
            for one in developments
        )


def correct_recording(db: Database, recording_id: str, corrections: Mapping[str, str]) -> None:
    """Keep what a person says about a film (title, kind, date, month, address); it outranks every guess.

    A film of another date or kind is understood otherwise; the next index reads it again.
    """
    with writing(db):
        db.table("recording_corrections").upsert_all(
            (
                {"recording_id": recording_id, "field": field, "value": value, "decided_at": _now()}
                for field, value in corrections.items()
                if field in CORRECTABLE
            ),
            pk=("recording_id", "field"),
        )
        if not {"date", "kind"}.isdisjoint(corrections):
            db.execute("update recordings set reading_key = null where id = ?", (recording_id,))


def teach(db: Database, heard: str, meant: str, made_by: str | None) -> int:
    """Keep a taught correction.

    :returns: its number for people, by which it can be undone.
    """
    with writing(db):
        row = {"heard": heard, "meant": meant, "made_at": _now(), "made_by": made_by}
        inserted = db.table("taught").insert({**row, "made_number": last_decision(db.conn) + 1})
        assert isinstance(inserted.last_pk, int)
        return inserted.last_pk


def undo_taught(db: Database, taught_id: int, undone_by: str | None) -> None:
    """Take back a taught correction; the row stays."""
    with writing(db):
        row = {"undone_number": last_decision(db.conn) + 1, "undone_at": _now(), "undone_by": undone_by}
        db.table("taught").update(taught_id, row)


def follow_decision(db: Database, recording_ids: Iterable[str], decision: int) -> None:
    """Say that films follow the decisions on what was misheard up to this one."""
    with writing(db):
        marks = [(decision, recording_id) for recording_id in recording_ids]
        db.conn.executemany("update recordings set decision = ? where id = ?", marks)


def _forget_reading(db: Database, recording_id: str) -> None:
    said = ("statements", "segments", "topics", "talk_topics", "sentences")
    for table in (*said, "entries", "promises", "events", "products", *REMARKS):
        db.table(table).delete_where("recording_id = ?", [recording_id])


def _insert_sentences(
    db: Database, recording_id: str, sentences: Sequence[Sentence], mentions: Sequence[Mention]
) -> list[int]:
    terms: dict[int, list[str]] = {}
    for mention in mentions:
        terms.setdefault(mention.sentence, []).append(mention.canonical)
    rows = [
        {
            "recording_id": recording_id,
            "place": place,
            "start": sentence.start,
            "end": sentence.end,
            "heard": sentence.heard,
            "text": sentence.text,
            "terms": " | ".join(dict.fromkeys(terms.get(place, []))),
            "certainty": sentence.certainty,
            "speaker": sentence.speaker,
            "words": pack_words(sentence.words),
            "repairs": repairs_packed(sentence),
        }
        for place, sentence in enumerate(sentences)
    ]
    return _inserted(db, "sentences", rows)


def repairs_packed(sentence: Sentence) -> str:
    """What was put right in a sentence, as the database keeps it."""
    return _packed([asdict(repair) for repair in sentence.repairs])


def _insert_segments(db: Database, recording_id: str, segments: Sequence[Segment]) -> list[int]:
    rows = [
        {
            "recording_id": recording_id,
            "place": place,
            "start": segment.start,
            "end": segment.end,
            "first": segment.first,
            "last": segment.last,
            "title": segment.title,
            "subject_kind": segment.subject.kind,
            "subject_id": segment.subject.id,
            "build": segment.build,
            "certainty": segment.certainty,
            "evidence": _packed(segment.evidence),
            "candidates": decisions.candidates_packed(segment),
            "decision": segment.decision,
        }
        for place, segment in enumerate(segments)
    ]
    return _inserted(db, "segments", rows)


def _insert_topics(db: Database, table: str, recording_id: str, segments: Sequence[Segment]) -> None:
    """Keep the topics as the machine cut them, so that a decision that cuts them otherwise can be undone."""
    db.table(table).insert_all(
        {
            "recording_id": recording_id,
            "place": place,
            "first": segment.first,
            "last": segment.last,
            "title": segment.title,
            "subject_kind": segment.subject.kind,
            "subject_id": None if segment.subject.kind == "build" else segment.subject.id,
            "certainty": segment.certainty,
        }
        for place, segment in enumerate(segments)
    )


def _insert_mentions(db: Database, sentence_ids: Sequence[int], mentions: Sequence[Mention]) -> None:
    db.table("mentions").insert_all(
        {
            "sentence_id": sentence_ids[mention.sentence],
            "label": mention.label,
            "text": mention.text,
            "canonical": mention.canonical,
            "start_char": mention.start,
            "end_char": mention.end,
            "certainty": mention.certainty,
            "value": None if mention.value is None else _packed(mention.value),
            "amount": mention.amount,
            "unit": mention.unit,
        }
        for mention in mentions
    )


def _insert_statements(
    db: Database,
    recording_id: str,
    reading: Reading,
    sentence_ids: Sequence[int],
    segment_ids: Sequence[int],
) -> None:
    db.table("statements").insert_all(
        {
            "recording_id": recording_id,
            "sentence_id": sentence_ids[statement.sentence],
            "segment_id": None if statement.segment is None else segment_ids[statement.segment],
            "subject_kind": statement.subject and statement.subject.kind,
            "subject_id": statement.subject and statement.subject.id,
            "build": statement.build,
            **{column: getattr(statement, column) for column in _STATEMENT_SLOTS},
            "certainty": statement.certainty,
            "text": statement.text,
            "source": statement.source,
            "start": statement.start,
            "end": statement.end,
            "rule": statement.rule,
            "follows": int(_follows(statement, reading.segments)),
        }
        for statement in reading.statements
    )


def _follows(statement: Statement, segments: Sequence[Segment]) -> bool:
    """Whether a statement is about what its segment is about, whichever that comes out to be."""
    if statement.segment is None or statement.status == "usual practice":
        return False
    own, around = statement.subject, segments[statement.segment].subject
    return own is None or own == around or own.kind == around.kind == "build"


def _insert_entries(db: Database, recording_id: str, reading: Reading) -> None:
    """Entries, promises, events and product lines: their columns are the fields of their records."""
    kept_apart = {"id", "recording", "terms", "said_on"}
    for table, records in (
        ("entries", reading.entries),
        ("promises", reading.promises),
        ("events", reading.events),
        ("products", reading.products),
    ):
        rows = []
        for record in records:
            row = {name: value for name, value in asdict(record).items() if name not in kept_apart}
            if table == "entries":
                row["terms"] = " | ".join(asdict(record)["terms"])
            rows.append({"recording_id": recording_id, **row})
        db.table(table).insert_all(rows)


def _inserted(db: Database, table: str, rows: Sequence[dict[str, Any]]) -> list[int]:
    """Insert rows and return their new ids, in order."""
    first = (db.execute(f"select max(id) from {table}").fetchone()[0] or 0) + 1
    ids = list(range(first, first + len(rows)))
    db.table(table).insert_all({"id": row_id, **row} for row_id, row in zip(ids, rows, strict=True))
    return ids


def _packed(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
