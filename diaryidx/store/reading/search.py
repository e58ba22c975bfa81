"""Full-text search, best first."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from diaryidx.records import Entry, Sentence
from diaryidx.store.reading.rows import entry_of, fetched, sentence_of

#: How much a match in each full-text column counts, in the order of ``migrations.FULL_TEXT``: what is meant first, then
#: the canonical terms, then what was heard (common practice, no source).
SENTENCE_WEIGHTS = (4.0, 1.0, 3.0)
ENTRY_WEIGHTS = (6.0, 1.0, 4.0)


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


def search_sentences(db: sqlite3.Connection, match: str, limit: int = 20) -> list[SentenceHit]:
    """Sentences that match an FTS5 query, best first.

    :param match: an FTS5 expression; build it with `faq.search`, which quotes what a person typed.
    """
    rows = fetched(
        db,
        f"""select s.*, r.title as film_title, r.date as film_date, r.kind as film_kind,
             bm25(sentences_fts, {", ".join(map(str, SENTENCE_WEIGHTS))}) as rank_
           from sentences_fts f join sentences s on s.id = f.rowid join recording_details r on r.id = s.recording_id
           where sentences_fts match ? order by rank_, s.id limit ?""",
        (match, limit),
    )
    return [
        SentenceHit(sentence_of(row), row["place"], row["film_title"], row["film_date"], row["film_kind"], row["rank_"])
        for row in rows
    ]


def search_entries(db: sqlite3.Connection, match: str, limit: int = 20) -> list[EntryHit]:
    """FAQ entries that match an FTS5 query, best first."""
    rows = fetched(
        db,
        f"""select e.*, r.title as film_title, r.date as film_date,
             bm25(entries_fts, {", ".join(map(str, ENTRY_WEIGHTS))}) as rank_
           from entries_fts f join entries e on e.id = f.rowid join recording_details r on r.id = e.recording_id
           where entries_fts match ? order by rank_, e.id limit ?""",
        (match, limit),
    )
    return [EntryHit(entry_of(row), row["film_title"], row["film_date"], row["rank_"]) for row in rows]
