"""The schema, as a list of small steps that are applied in order and recorded by the database itself.

Machine tables can be rebuilt from the films. Human tables cannot, and no migration may change a row of theirs; which is
which stands in ``HUMAN_TABLES`` and ``MACHINE_TABLES``. Uses ``sqlite_utils.migrations``; a shipped migration is never
edited, only followed by another.
"""

from __future__ import annotations

from sqlite_utils import Database
from sqlite_utils.db import ForeignKey
from sqlite_utils.migrations import Migrations

migrations = Migrations("diaryidx")

#: Full-text search, as ``{table: columns}``. Columns are in the order that ``bm25`` weights take.
FULL_TEXT: dict[str, tuple[str, ...]] = {
    "sentences": ("text", "heard", "terms"),
    "entries": ("question", "answer", "terms"),
}
TOKENIZER = "porter unicode61 remove_diacritics 2"

HUMAN_TABLES = (
    "builds",
    "decisions",
    "job_columns",
    "known_films",
    "notes",
    "note_photos",
    "recording_corrections",
    "taught",
)
MACHINE_TABLES = (
    "recordings",
    "copies",
    "failed_files",
    "stretches",
    "film_pieces",
    "link_basis",
    "talk_topics",
    "known_names",
    "link_states",
    "sentences",
    "topics",
    "segments",
    "mentions",
    "statements",
    "entries",
    "promises",
    "events",
    "products",
    "developments",
    "film_references",
    "pointings",
    "steps",
    "customer_parts",
    "asides",
    "note_readings",
    "note_statements",
)


@migrations()
def create_job_book(db: Database) -> None:
    """The shop's builds, one row per job number."""
    db.table("builds").create(
        {
            "job_number": str,
            "customer": str,
            "make": str,
            "model": str,
            "year": str,
            "registration": str,
            "vin": str,
            "colour": str,
            "nickname": str,
            "date_in": str,
            "promised": str,
            "date_out": str,
            "state": str,
            "asked_for": str,
            "public": int,
        },
        pk="job_number",
        not_null={"job_number", "public"},
        defaults={"public": 0},
    )


@migrations()
def create_recordings(db: Database) -> None:
    """What is known of each film, what a person corrected, and the files that could not be read."""
    db.table("recordings").create(
        {
            "id": str,
            "path": str,
            "size": int,
            "modified_ns": int,
            "content_hash": str,
            "title": str,
            "kind": str,
            "date": str,
            "date_from": str,
            "month": str,
            "duration": float,
            "has_picture": int,
            "engine": str,
            "reading_key": str,
            "state": str,
            "warning": str,
            "indexed_at": str,
        },
        pk="id",
        not_null={"id", "path", "content_hash", "kind", "duration", "state"},
    )
    db.table("recordings").create_index(["path"], unique=True)
    db.table("recordings").create_index(["content_hash"])
    db.table("recording_corrections").create(
        {"recording_id": str, "field": str, "value": str, "decided_at": str},
        pk=("recording_id", "field"),
        not_null={"value", "decided_at"},
    )
    db.table("failed_files").create(
        {"path": str, "size": int, "modified_ns": int, "error": str, "failed_at": str}, pk="path", not_null={"error"}
    )
    db.table("copies").create(
        {"path": str, "size": int, "modified_ns": int, "recording_id": str},
        pk="path",
        foreign_keys=[_reference("copies", "recording_id", "recordings", "id", "CASCADE")],
    )
    db.table("stretches").create(
        {
            "content_hash": str,
            "engine": str,
            "start_sample": int,
            "end_sample": int,
            "words": str,
        },
        pk=("content_hash", "engine", "start_sample", "end_sample"),
        not_null={"words"},
    )
    corrected = ", ".join(
        f"coalesce((select value from recording_corrections c where c.recording_id = r.id and c.field = '{field}'),"
        f" r.{field}) as {field}"
        for field in ("title", "kind", "date", "month")
    )
    db.create_view(
        "recording_details",
        f"""select r.id, r.path, {corrected},
          case when exists (select 1 from recording_corrections c where c.recording_id = r.id and c.field = 'date')
            then 'a person' else r.date_from end as date_from,
          (select value from recording_corrections c where c.recording_id = r.id and c.field = 'address') as address,
          r.duration, r.has_picture, r.engine, r.state, r.warning as error,
          (select count(*) from sentences s where s.recording_id = r.id) as sentences
        from recordings r""",
    )


@migrations()
def create_what_was_said(db: Database) -> None:
    """Sentences, the topic stretches they form, and what was understood in them."""
    _create_of_recording(
        db,
        "sentences",
        {
            "place": int,
            "start": float,
            "end": float,
            "heard": str,
            "text": str,
            "terms": str,
            "certainty": float,
            "speaker": str,
            "words": str,
            "repairs": str,
        },
    )
    _create_of_recording(
        db,
        "segments",
        {
            "place": int,
            "start": float,
            "end": float,
            "first": int,
            "last": int,
            "title": str,
            "subject_kind": str,
            "subject_id": str,
            "build": str,
            "certainty": float,
            "evidence": str,
        },
        _reference("segments", "build", "builds", "job_number"),
    )
    db.table("segments").create_index(["build"])
    db.table("mentions").create(
        {
            "id": int,
            "sentence_id": int,
            "label": str,
            "text": str,
            "canonical": str,
            "start_char": int,
            "end_char": int,
            "certainty": float,
            "value": str,
        },
        pk="id",
        foreign_keys=[_reference("mentions", "sentence_id", "sentences", "id", "CASCADE")],
    )
    db.table("mentions").create_index(["sentence_id"])
    db.table("mentions").create_index(["label", "canonical"])
    _create_of_recording(
        db,
        "statements",
        {
            "sentence_id": int,
            "segment_id": int,
            "status": str,
            "subject_kind": str,
            "subject_id": str,
            "build": str,
            "part": str,
            "side": str,
            "task": str,
            "finish": str,
            "product": str,
            "supplier": str,
            "quantity": str,
            "said_by": str,
            "who": str,
            "when": str,
            "certainty": float,
            "text": str,
            "source": str,
            "start": float,
            "end": float,
            "rule": str,
        },
        _reference("statements", "sentence_id", "sentences", "id", "CASCADE"),
        _reference("statements", "segment_id", "segments", "id", "CASCADE"),
        _reference("statements", "build", "builds", "job_number"),
    )
    for column in ("sentence_id", "segment_id", "build"):
        db.table("statements").create_index([column])


@migrations()
def create_answers_and_months(db: Database) -> None:
    """FAQ entries, promises, dates and product lines, each tied to the stretch of film it was said in."""
    stretch: dict[str, type] = {"start": float, "end": float}
    _create_of_recording(db, "entries", {"question": str, "answer": str, **stretch, "terms": str, "certainty": float})
    _create_of_recording(db, "promises", {"text": str, **stretch, "due": str, "certainty": float})
    _create_of_recording(
        db, "events", {"name": str, **stretch, "date": str, "place": str, "tentative": int, "text": str}
    )
    _create_of_recording(
        db,
        "products",
        {
            "product": str,
            **stretch,
            "text": str,
            "supplier": str,
            "fits": str,
            "price": float,
            "currency": str,
            "approximate": int,
            "availability": str,
            "certainty": float,
        },
    )


@migrations()
def create_full_text_search(db: Database) -> None:
    """Full-text indexes over what is searched, kept in step by triggers."""
    for table, columns in FULL_TEXT.items():
        db.table(table).enable_fts(columns, tokenize=TOKENIZER, create_triggers=True)


@migrations()
def create_job_columns(db: Database) -> None:
    """What each heading of this shop's job books fills, as a person confirmed it; nothing where it fills no field."""
    db.table("job_columns").create(
        {"heading": str, "field": str, "decided_at": str}, pk="heading", not_null={"decided_at"}
    )


@migrations()
def create_taught(db: Database) -> None:
    """What people taught about misheard words, and up to which of these decisions each film follows them.

    Decisions are numbered as they are made: ``made_number`` when a correction is taught, ``undone_number`` when it is
    taken back. ``recordings.decision`` is the last one that a film's sentences follow; ``links_due`` is 1 where films
    beside it have not been tied to builds again since.
    """
    db.table("taught").create(
        {
            "id": int,
            "heard": str,
            "meant": str,
            "made_number": int,
            "made_at": str,
            "made_by": str,
            "undone_number": int,
            "undone_at": str,
            "undone_by": str,
        },
        pk="id",
        not_null={"heard", "meant", "made_number", "made_at"},
    )
    db.table("recordings").add_column("decision", int, not_null_default=0)
    db.table("recordings").add_column("links_due", int, not_null_default=0)


@migrations()
def create_notes(db: Database) -> None:
    """What people wrote about builds, with their photos; and, as machine tables, what was understood in it."""
    db.table("notes").create(
        {
            "id": int,
            "build": str,
            "text": str,
            "date": str,
            "author": str,
            "written_at": str,
            "undone_at": str,
            "undone_by": str,
        },
        pk="id",
        not_null={"build", "text", "date", "author", "written_at"},
        foreign_keys=[_reference("notes", "build", "builds", "job_number")],
    )
    db.table("notes").create_index(["build"])
    db.table("note_photos").create(
        {"note_id": int, "place": int, "file": str, "name": str, "width": int, "height": int},
        pk=("note_id", "place"),
        not_null={"file", "name", "width", "height"},
        foreign_keys=[_reference("note_photos", "note_id", "notes", "id")],
    )
    note = _reference("note_readings", "note_id", "notes", "id", "CASCADE")
    db.table("note_readings").create(
        {"note_id": int, "reading_key": str}, pk="note_id", not_null={"reading_key"}, foreign_keys=[note]
    )
    slots = ("status", "part", "side", "task", "finish", "product", "supplier", "quantity", "said_by", "who", "when")
    db.table("note_statements").create(
        {"id": int, "note_id": int, "sentence": int, **dict.fromkeys(slots, str), "certainty": float, "text": str,
         "rule": str},
        pk="id",
        not_null={"note_id", "status", "certainty", "text"},
        foreign_keys=[_reference("note_statements", "note_id", "notes", "id", "CASCADE")],
    )  # fmt: skip
    db.table("note_statements").create_index(["note_id"])


@migrations()
def create_developments(db: Database) -> None:
    """What the shop develops itself, by name; the threads are read from segments and mentions."""
    db.table("developments").create(
        {"name": str, "state": str, "by_name": int, "first_said": str, "last_said": str},
        pk="name",
        not_null={"by_name"},
    )


@migrations()
def create_decisions(db: Database) -> None:
    """What people decided, tied to a film's content and time; how known films sound; topics as the machine cut them.

    ``segments`` are the topics with what people decided. A statement follows its segment where ``follows`` is 1.
    """
    db.table("decisions").create(
        {
            "id": int,
            "made_at": str,
            "actor": str,
            "kind": str,
            "film": str,
            "start": float,
            "end": float,
            "what": str,
            "evidence": str,
            "undone_at": str,
            "undone_by": str,
        },
        pk="id",
        not_null={"made_at", "actor", "kind", "film", "start", "end", "what", "evidence"},
    )
    db.table("decisions").create_index(["film"])
    db.table("known_films").create(
        {"film": str, "title": str, "duration": float, "heard_at": str, "method": str, "sound": bytes},
        pk="film",
        not_null={"title", "duration", "heard_at", "method", "sound"},
    )
    db.table("film_pieces").create(
        {"id": int, "film": str, "start": float, "end": float, "known": str, "known_start": float},
        pk="id",
        not_null={"film", "start", "end", "known", "known_start"},
    )
    db.table("film_pieces").create_index(["film"])
    topics: dict[str, type] = {"place": int, "first": int, "last": int, "title": str}
    _create_of_recording(db, "topics", {**topics, "subject_kind": str, "subject_id": str, "certainty": float})
    db.execute(
        """insert into topics (recording_id, place, first, last, title, subject_kind, subject_id, certainty)
           select recording_id, place, first, last, title, subject_kind,
             case subject_kind when 'build' then null else subject_id end,
             case subject_kind when 'build' then 0.0 else certainty end from segments"""
    )
    db.table("segments").add_column("candidates", str)
    db.table("segments").add_column("decision", int)
    db.table("statements").add_column("follows", int)
    db.execute(
        "update statements set follows = segment_id is not null and coalesce(subject_kind, 'build') = 'build'"
        " and status != 'usual practice'"
    )


@migrations()
def add_values_of_mentions(db: Database) -> None:
    """What a price or measure says as a number with its unit or currency, so that it can be looked for."""
    db.table("mentions").add_column("amount", float)
    db.table("mentions").add_column("unit", str)


@migrations()
def add_heard_film(db: Database) -> None:
    """Of which content the stored sentences are: another one than the file's while a changed file is being heard."""
    db.table("recordings").add_column("heard_film", str)
    db.execute("update recordings set heard_film = content_hash where state = 'indexed'")


@migrations()
def mark_visits(db: Database) -> None:
    """Which notes say that the customer came by and saw the bike."""
    db.table("notes").add_column("visit", int, not_null_default=0)


@migrations()
def create_link_states(db: Database) -> None:
    """What links were made from: what each film gave to later ones, and the rows and words that all rest on."""
    db.table("link_states").create(
        {"recording_id": str, "date": str, "said": str, "walk": str, "named": str, "codes": str},
        pk="recording_id",
        not_null={"said", "walk", "named", "codes"},
        foreign_keys=[_reference("link_states", "recording_id", "recordings", "id", "CASCADE")],
    )
    db.table("link_basis").create(
        {"what": str, "fingerprint": str, "date_in": str, "date_out": str}, pk="what", not_null={"fingerprint"}
    )


@migrations()
def create_remarks(db: Database) -> None:
    """What films say beside statements: other films, pointing, steps, customers' parts, digressions; and what is open.

    ``film_references.film`` is the film that is meant, settled anew after every index.
    """
    words: dict[str, type] = {"text": str, "start": float, "end": float, "sentence": int}
    meant: dict[str, type] = {"kind": str, "when": str, "coming": int, "nth": str}
    meant |= dict.fromkeys(("about", "terms", "around", "film", "likely"), str)
    _create_of_recording(db, "film_references", {**words, **meant, "certainty": float, "film_certainty": float})
    db.table("film_references").create_index(["film"])
    _create_of_recording(db, "pointings", {"text": str, "at": float, "sentence": int, "part": str})
    stretch: dict[str, type] = {"start": float, "end": float, "first": int, "last": int}
    lists = dict.fromkeys(("tools", "parts", "needed", "torques", "warnings"), str)
    _create_of_recording(db, "steps", {"number": int, "title": str, **stretch, **lists})
    _create_of_recording(db, "customer_parts", {"how": str, "part": str, **words, "like": str, "certainty": float})
    _create_of_recording(db, "asides", {"first": int, "last": int, "start": float, "end": float})
    for table in ("promises", "events", "products"):
        db.table(table).add_column("hedge", str)
    db.table("promises").add_column("doer", str)


@migrations()
def keep_topics_of_talk(db: Database) -> None:
    """Topics as they are cut by talk alone, so that the job book can cut them again; and which names films know.

    ``recordings.read_as`` is the kind of film as which it was read. ``recordings.names_due`` is 1 where a film is to be
    put right by the names of a changed job book, 2 where it surely is to be read again for them. ``known_names`` holds
    the names that all other films know.
    """
    topics: dict[str, type] = {"place": int, "first": int, "last": int, "title": str}
    _create_of_recording(db, "talk_topics", {**topics, "subject_kind": str, "subject_id": str, "certainty": float})
    db.table("recordings").add_column("read_as", str)
    db.table("recordings").add_column("names_due", int, not_null_default=0)
    db.table("known_names").create(
        {"job_number": str, "make": str, "model": str, "nickname": str, "customer": str, "date_in": str},
        pk="job_number",
    )


def _reference(table: str, column: str, other: str, other_column: str, on_delete: str = "NO ACTION") -> ForeignKey:
    """A foreign key to say while the table is made: adding it later would copy the whole table."""
    return ForeignKey(table, column, other, other_column, on_delete=on_delete)


def _create_of_recording(db: Database, table: str, columns: dict[str, type], *references: ForeignKey) -> None:
    """Create a machine table whose rows go when their recording's do."""
    db.table(table).create(
        {"id": int, "recording_id": str, **columns},
        pk="id",
        not_null={"recording_id"},
        foreign_keys=[_reference(table, "recording_id", "recordings", "id", "CASCADE"), *references],
    )
    db.table(table).create_index(["recording_id"])
