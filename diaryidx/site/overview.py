"""Reads that only the lists need: counts and latest dates over the whole archive, without loading it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace

from diaryidx.builds.history import is_finished, open_counts
from diaryidx.records import Build, Recording
from diaryidx.shapes import Shape, build_json
from diaryidx.site.addresses import build_address
from diaryidx.store import reading
from diaryidx.vocabulary.loader import Vocabulary


@dataclass(frozen=True, slots=True)
class BuildCard:
    """A build with what the films have of it: how many, the latest one's date, and how many lines are still open."""

    build: Build
    films: int = 0
    last_filmed: str | None = None
    open_lines: int = 0

    @property
    def in_the_shop(self) -> bool:
        """Whether the job book has it as still here."""
        return not is_finished(self.build)

    @property
    def address(self) -> str:
        """Its page."""
        return build_address(self.build.job_number)

    def as_json(self) -> Shape:
        """The card as JSON; this is the private site, so it is whole."""
        return {
            **build_json(self.build, private=True),
            "films": self.films,
            "last_filmed": self.last_filmed,
            "open_lines": self.open_lines,
            "in_the_shop": self.in_the_shop,
        }


def build_cards(db: sqlite3.Connection) -> list[BuildCard]:
    """Every build, those filmed last first, then those never filmed by job number."""
    filmed = _filmed(db)
    cards = [BuildCard(build, *filmed.get(build.job_number, (0, None))) for build in reading.builds(db)]
    return sorted(cards, key=lambda card: card.last_filmed or "", reverse=True)


def with_open_lines(db: sqlite3.Connection, cards: Sequence[BuildCard], words: Vocabulary) -> list[BuildCard]:
    """Cards with how many lines of each history are still open, by the shop's words; for the few that a page shows."""
    counts = open_counts(db, [card.build for card in cards], words)
    return [replace(card, open_lines=counts[card.build.job_number]) for card in cards]


def film_titles(db: sqlite3.Connection, ids: Sequence[str | None]) -> dict[str, tuple[str, str | None]]:
    """Title and date of films, by id; for lines that name their film."""
    wanted = sorted({one for one in ids if one is not None})
    found = {}
    for first in range(0, len(wanted), 500):  # well below SQLite's limit on parameters
        part = wanted[first : first + 500]
        marks = ", ".join("?" * len(part))
        rows = db.execute(f"select id, title, date from recording_details where id in ({marks})", part)
        found.update({row[0]: (row[1], row[2]) for row in rows})
    return found


def film_topics(db: sqlite3.Connection, films: Sequence[Recording]) -> dict[str, list[str]]:
    """What each film talks about, as titles in film order, each once; a film without topics has an empty list."""
    found: dict[str, dict[str, None]] = {film.id: {} for film in films}
    wanted = list(found)
    for first in range(0, len(wanted), 500):
        part = wanted[first : first + 500]
        marks = ", ".join("?" * len(part))
        rows = db.execute(
            f"select recording_id, title from segments where recording_id in ({marks}) order by recording_id, place",
            part,
        )
        for film, title in rows:
            found[film][title] = None
    return {film: list(titles) for film, titles in found.items()}


def months_filmed(db: sqlite3.Connection) -> list[tuple[str, int]]:
    """The months that have films, latest first, with how many."""
    rows = db.execute(
        "select month, count(*) from recording_details where month is not null group by month order by month desc"
    )
    return [(row[0], row[1]) for row in rows]


def _filmed(db: sqlite3.Connection) -> dict[str, tuple[int, str | None]]:
    rows = db.execute(
        """select s.build, count(distinct s.recording_id), max(r.date) from segments s
           join (select id, date from recording_details) r on r.id = s.recording_id
           where s.build is not null group by s.build"""
    )
    return {row[0]: (row[1], row[2]) for row in rows}
