"""What answering a question reads of the database: as little as it needs, so that it stays fast over years of film."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field

from diaryidx.faq.matching import match_any
from diaryidx.faq.meanings import BETWEEN
from diaryidx.records import Entry, Recording
from diaryidx.store import reading
from diaryidx.store.reading import SENTENCE_WEIGHTS, EntryHit


@dataclass(frozen=True, slots=True)
class Line:
    """A sentence without its words: its place in the film, seconds, text as repaired, certainty, and what its topic is.

    ``first`` and ``last`` are the places where its topic begins and ends, ``about`` the kind of the topic's subject
    ("build", "shop" ...) and ``topic`` its title. ``heard`` is what was heard where words were put right, else None.
    """

    recording: str
    place: int
    start: float
    end: float
    text: str
    certainty: float | None
    first: int
    last: int
    about: str | None
    topic: str
    heard: str | None = None

    @property
    def said(self) -> str:
        """What is meant and, where words were put right, what was heard: a person may ask with either."""
        return self.text if self.heard is None else f"{self.text}{BETWEEN}{self.heard}"


_LINE = """s.recording_id, s.place, s.start, s.end, s.text, s.certainty, coalesce(g.first, s.place),
  coalesce(g.last, s.place), g.subject_kind, coalesce(g.title, ''), case when s.repairs != '[]' then s.heard end"""
_TOPIC = "left join segments g on g.recording_id = s.recording_id and s.place between g.first and g.last"


@dataclass(slots=True)
class Archive:
    """The films of a shop while one question is answered; nothing is read twice."""

    db: sqlite3.Connection
    films: dict[str, Recording] = field(default_factory=dict)
    _counts: dict[str, int] = field(default_factory=dict)

    @classmethod
    def of(cls, db: sqlite3.Connection) -> Archive:
        """The films, newest first."""
        return cls(db, {film.id: film for film in reading.recordings(db)})

    def sentences(self) -> int:
        """How many sentences all films have."""
        return reading.count_sentences(self.db)

    def count(self, phrases: Iterable[str]) -> int:
        """In how many sentences any of some phrases is said."""
        match = match_any(phrases)
        if not match:
            return 0
        if match not in self._counts:
            found = self.db.execute("select count(*) from sentences_fts where sentences_fts match ?", (match,))
            self._counts[match] = int(found.fetchone()[0])
        return self._counts[match]

    def entries(self, match: str, limit: int) -> list[EntryHit]:
        """FAQ entries that match, best first."""
        return reading.search_entries(self.db, match, limit)

    def lines(self, match: str, limit: int) -> list[tuple[Line, float]]:
        """Sentences that match, best first, each with its rank by BM25 (the lower, the better)."""
        weights = ", ".join(map(str, SENTENCE_WEIGHTS))
        rows = self.db.execute(
            f"""with best as (select rowid as id, bm25(sentences_fts, {weights}) as rank_ from sentences_fts
                  where sentences_fts match ? order by rank_, rowid limit ?)
                select {_LINE}, rank_ from best join sentences s on s.id = best.id {_TOPIC} order by rank_, s.id""",
            (match, limit),
        )
        return [(Line(*line), rank) for *line, rank in rows]

    def said_between(self, recording: str, first: int, last: int) -> list[Line]:
        """The sentences of a film from one place to another, both included."""
        rows = self.db.execute(
            f"""select {_LINE} from sentences s {_TOPIC}
                where s.recording_id = ? and s.place between ? and ? order by s.place""",
            (recording, first, last),
        )
        return [Line(*row) for row in rows]

    def said_in(self, entry: Entry) -> list[Line]:
        """The sentences of the stretch that an entry was drafted from."""
        rows = self.db.execute(
            f"""select {_LINE} from sentences s {_TOPIC}
                where s.recording_id = ? and s.start < ? and s.end > ? order by s.place""",
            (entry.recording, entry.end, entry.start),
        )
        return [Line(*row) for row in rows]
