"""The list of bikes, and a bike's page: what is done, in hand, waiting, planned and asked for, as said on film."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diaryidx.builds.history import history
from diaryidx.records import OPEN_STATUSES, Build, History, Repair, Segment, Statement, Status
from diaryidx.shapes import history_json, segment_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.films import FilmCard
from diaryidx.site.moments import Moment, moments_of
from diaryidx.site.notes import waiting_voice_notes, written_notes
from diaryidx.site.overview import build_cards, film_titles, with_open_lines
from diaryidx.site.page import Asked, Page
from diaryidx.site.safety import cautions_of
from diaryidx.site.wording import STATUS_WORDS, build_words, day_words, what_words
from diaryidx.store import reading
from diaryidx.wording import doubt

#: The order in which somebody who takes over a bike wants to read it.
SECTIONS: tuple[Status, ...] = (
    "in progress",
    "waiting",
    "planned",
    "asked for",
    "done",
    "ruled out",
    "earlier work",
    "usual practice",
)


@dataclass(frozen=True, slots=True)
class StatusSection:
    """One status with the moments that say so."""

    status: Status
    title: str
    moments: tuple[Moment, ...]


def builds_page(db: sqlite3.Connection, _shop: Shop, _asked: Asked) -> Page:
    """Every bike of the job book, those still here first."""
    cards = build_cards(db)
    here = with_open_lines(db, [card for card in cards if card.in_the_shop])
    gone = [card for card in cards if not card.in_the_shop]
    data = {"builds": [card.as_json() for card in (*here, *gone)]}
    return Page("builds.html", "Bikes", {"here": here, "gone": gone}, data, "builds")


def build_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """One bike, by its job number."""
    build = reading.build(db, asked.names["job"])
    known = history(db, build)
    segments = reading.segments(db, build=build.job_number)
    titles = film_titles(db, [*(one.recording for one in known.statements), *(one.recording for one in segments)])
    repairs = reading.repairs_by_moment(db, [one.recording for one in known.statements])
    sections = sections_of(known, titles, repairs)
    cautions = cautions_of(
        vocabulary_of(db, shop),
        [term for one in known.open for term in (one.part, one.task)],
        [one.text for one in known.open],
    )
    values = {
        "build": build,
        "described": build_words(build),
        "facts": _facts(build),
        "open": [section for section in sections if section.status in OPEN_STATUSES],
        "settled": [section for section in sections if section.status not in OPEN_STATUSES],
        "disagreements": [(what_words(pair[0]), moments_of(pair, titles, repairs)) for pair in known.conflicts],
        "cautions": cautions,
        "seen_in": [
            (FilmCard(reading.recording(db, recording)), [_topic(one, titles) for one in of_film])
            for recording, of_film in _by_film(segments).items()
        ],
    }
    values |= {
        "notes": written_notes(db, shop, build, asked),
        "waiting": waiting_voice_notes(db, shop, build),
        "may_write": asked.may("write"),
        "address": build_address(build.job_number),
    }
    data = {
        **history_json(known, private=True),
        "waiting_voice_notes": values["waiting"],
        "cautions": cautions,
        "segments": [segment_json(segment) for segment in segments],
    }
    return Page("build.html", f"Job {build.job_number}: {build.name}", values, data, "builds")


def sections_of(
    known: History,
    titles: dict[str, tuple[str, str | None]],
    repairs: Mapping[tuple[str | None, float | None], tuple[Repair, ...]],
) -> list[StatusSection]:
    """The history by status; what was overtaken by a later statement is not repeated as still open."""
    still_open = set(known.open)
    shown: dict[Status, list[Statement]] = {status: [] for status in SECTIONS}
    for statement in known.statements:
        if statement in still_open or statement.status in ("done", "ruled out", "earlier work", "usual practice"):
            shown[statement.status].append(statement)
    return [
        StatusSection(status, STATUS_WORDS[status], tuple(moments_of(statements, titles, repairs)))
        for status, statements in shown.items()
        if statements
    ]


def _facts(build: Build) -> list[tuple[str, str]]:
    """What the job book has, each with its name in words."""
    dated = (("Came in", build.date_in), ("Promised for", build.promised), ("Went out", build.date_out))
    facts = [(name, day_words(value)) for name, value in dated if value]
    return [*facts, ("Job book says", build.state)] if build.state else facts


def _by_film(segments: Iterable[Segment]) -> dict[str, list[Segment]]:
    films: dict[str, list[Segment]] = {}
    for segment in segments:
        films.setdefault(segment.recording or "", []).append(segment)
    return films


def _topic(segment: Segment, titles: dict[str, tuple[str, str | None]]) -> Moment:
    title, date = titles[segment.recording or ""]
    return Moment(segment.recording, title, date, segment.start, segment.title, doubt(segment.certainty))
