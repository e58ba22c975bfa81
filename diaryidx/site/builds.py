"""The list of bikes, and a bike's page: what is open and what disagrees, its state by system, and its timeline."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from diaryidx.builds.history import history
from diaryidx.builds.private import without_owner
from diaryidx.builds.standing import PartState, news_since, open_in_full, systems
from diaryidx.builds.wording import CHANGE_WORDS, conflict_words, open_words, said_date, state_words
from diaryidx.film_records import Pointing
from diaryidx.records import Build, History, Repair, Segment, Statement, Status
from diaryidx.remark_wording import customer_note
from diaryidx.shapes import history_json, segment_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address, film_address, still_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.films import FilmCard
from diaryidx.site.moments import Moment, moments_of
from diaryidx.site.notes import waiting_voice_notes, written_notes
from diaryidx.site.overview import build_cards, film_titles, with_open_lines
from diaryidx.site.page import Asked, BadAddress, Page
from diaryidx.site.remarks import PointedAt, customer_moments, pointed_at
from diaryidx.site.safety import cautions_of
from diaryidx.site.wording import STATUS_WORDS, build_words, capitalised, day_words, what_words
from diaryidx.store import reading
from diaryidx.wording import clock, doubt

#: The order in which somebody who takes over a bike wants to read what is open.
SECTIONS: tuple[Status, ...] = ("in progress", "waiting", "planned", "asked for")
Titles = dict[str, tuple[str, str | None]]
Repairs = Mapping[tuple[str | None, float | None], tuple[Repair, ...]]


@dataclass(frozen=True, slots=True)
class StatusSection:
    """One status with the moments that say so."""

    status: Status
    title: str
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part as it stands, in words, with the moment that says so; no address where that is from no film."""

    part: str
    words: str
    doubt: str
    decided: bool
    title: str
    address: str | None
    at: str


@dataclass(frozen=True, slots=True)
class FilmedTopic:
    """A stretch of film about the bike, with a picture of it and what was stated there."""

    title: str
    address: str
    at: str
    still: str | None
    doubt: str
    decided: bool
    moments: tuple[Moment, ...]
    pointed: tuple[PointedAt, ...] = ()


def builds_page(db: sqlite3.Connection, shop: Shop, _asked: Asked) -> Page:
    """Every bike of the job book, those still here first."""
    cards = build_cards(db)
    here = with_open_lines(db, [card for card in cards if card.in_the_shop], vocabulary_of(db, shop))
    gone = [card for card in cards if not card.in_the_shop]
    data = {"builds": [card.as_json() for card in (*here, *gone)]}
    return Page("builds.html", "Bikes", {"here": here, "gone": gone}, data, "builds")


def build_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """One bike, by its job number; ``since=YYYY-MM-DD`` asks what is new since another day than the last visit."""
    build = reading.build(db, asked.names["job"])
    build = build if asked.may("customers") else without_owner(build)
    since = _since(asked)
    words = vocabulary_of(db, shop)
    known = history(db, build, words)
    segments = reading.segments(db, build=build.job_number)
    said_in = [film for one in known.statements for film in (one.recording, *(other for other, _ in one.also))]
    said_in += [one.recording for one in known.customer_parts]
    titles = film_titles(db, [*said_in, *(one.recording for one in segments)])
    repairs = reading.repairs_by_moment(db, [one.recording for one in known.statements])
    cautions = cautions_of(
        words,
        [term for one in known.open for term in (one.part, one.task)],
        [one.text for one in known.open],
    )
    voice = {film.id for film in reading.recordings(db, kind="bench note")} if known.conflicts else set()
    day = since or known.last_visit
    values = {
        "build": build,
        "described": build_words(build),
        "facts": _facts(build),
        "since": day,
        "since_visit": since is None,
        "news": moments_of(news_since(known, day), titles, repairs) if day else [],
        "open": sections_of(known, titles, repairs),
        "disagreements": [
            (conflict_words(*pair, voice), what_words(pair[0]), moments_of(pair, titles, repairs))
            for pair in known.conflicts
        ],
        "changes": [
            (CHANGE_WORDS[one.kind], what_words(one.later), moments_of((one.earlier, one.later), titles, repairs))
            for one in known.changes
        ],
        "customer_parts": customer_moments(known.customer_parts, titles),
        "promises": _promises(known, titles),
        "systems": [(capitalised(name), [_part_row(one, titles, known) for one in parts])
                    for name, parts in systems(known).items()],
        "cautions": cautions,
        "timeline": _timeline(db, known, segments, titles, repairs),
    }  # fmt: skip
    values |= {
        "notes": written_notes(db, shop, build, asked),
        "waiting": waiting_voice_notes(db, shop, build),
        "may_write": asked.may("write"),
        "address": build_address(build.job_number),
    }
    data = {
        **history_json(known, private=True, since=since),
        "waiting_voice_notes": values["waiting"],
        "cautions": cautions,
        "segments": [segment_json(segment) for segment in segments],
    }
    return Page("build.html", f"Job {build.job_number}: {build.name}", values, data, "builds")


def sections_of(known: History, titles: Titles, repairs: Repairs) -> list[StatusSection]:
    """What is open, by status; each since when, on whom it waits and by when it was promised."""
    shown: dict[Status, list[Statement]] = {status: [] for status in SECTIONS}
    more = {}
    for item in open_in_full(known):
        shown[item.statement.status].append(item.statement)
        more[item.statement] = capitalised(open_words(item))
    return [
        StatusSection(status, STATUS_WORDS[status], tuple(moments_of(statements, titles, repairs, more)))
        for status, statements in shown.items()
        if statements
    ]


def _since(asked: Asked) -> str | None:
    day = asked.query.get("since", "").strip()
    if not day:
        return None
    try:
        return date.fromisoformat(day).isoformat()
    except ValueError:
        raise BadAddress(f"{day[:40]!r} is no day; write it as year, month and day: ?since=2026-10-31") from None


def _facts(build: Build) -> list[tuple[str, str]]:
    """What the job book has, each with its name in words."""
    dated = (("Came in", build.date_in), ("Promised for", build.promised), ("Went out", build.date_out))
    facts = [(name, day_words(value)) for name, value in dated if value]
    return [*facts, ("Job book says", build.state)] if build.state else facts


def _promises(known: History, titles: Titles) -> list[tuple[Moment, str]]:
    """What was promised on film, and by when."""
    return [
        (Moment(one.recording, *titles[one.recording], one.start, one.text, doubt(one.certainty)),
         said_date(one.due) if one.due else "")
        for one in known.promises
        if one.recording in titles
    ]  # fmt: skip


def _part_row(part: PartState, titles: Titles, known: History) -> PartRow:
    latest, from_customer = part.latest, customer_note(known.customer_parts, part.part)
    stands = "; ".join(words for words in (state_words(part), from_customer) if words)
    name = ", ".join(word for word in (part.part, part.side) if word)
    address = film_address(latest.recording, latest.start or 0.0) if latest.recording else None
    title = titles.get(latest.recording or "", ("", None))[0]
    return PartRow(
        capitalised(name), stands, doubt(part.certainty), latest.decided, title, address,
        clock(latest.start or 0.0),
    )  # fmt: skip


def _timeline(
    db: sqlite3.Connection, known: History, segments: Sequence[Segment], titles: Titles, repairs: Repairs
) -> list[tuple[FilmCard, list[FilmedTopic]]]:
    """The films that show the bike, latest first, each with its stretches about it."""
    said: dict[str, list[Statement]] = {}
    for one in known.statements:
        if one.recording:
            said.setdefault(one.recording, []).append(one)
    shown = []
    for recording, of_film in _by_film(segments).items():
        card = FilmCard(reading.recording(db, recording))
        left = said.pop(recording, [])
        pointings = reading.pointings(db, recording)
        topics = []
        for segment in of_film:
            told = [one for one in left if segment.start <= (one.start or 0.0) < segment.end]
            pointed = [one for one in pointings if segment.first <= one.sentence <= segment.last]
            topics.append(_topic(segment, card, moments_of(told, titles, repairs), pointed))
        shown.append((card, topics))
    return sorted(shown, key=lambda pair: pair[0].film.date or "", reverse=True)


def _by_film(segments: Iterable[Segment]) -> dict[str, list[Segment]]:
    films: dict[str, list[Segment]] = {}
    for segment in segments:
        films.setdefault(segment.recording or "", []).append(segment)
    return films


def _topic(segment: Segment, card: FilmCard, moments: Sequence[Moment], pointings: Sequence[Pointing]) -> FilmedTopic:
    film = card.film
    return FilmedTopic(
        segment.title,
        film_address(film.id, segment.start),
        clock(segment.start),
        still_address(film.id, min(segment.start + 1, segment.end)) if film.has_picture else None,
        doubt(segment.certainty),
        segment.decision is not None,
        tuple(moments),
        tuple(pointed_at(one, film) for one in pointings),
    )
