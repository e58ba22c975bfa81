"""The list of films, and a film's page: the player, its topics, and every sentence to click on."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from diaryidx.film_records import FilmLink, Needs, Remarks
from diaryidx.records import Build, Mention, Recording, Segment, Sentence, Statement
from diaryidx.shapes import recording_json, segments_json, spoken_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import captions_address, film_address, media_address, month_address, still_address
from diaryidx.site.other_films import other_film
from diaryidx.site.overview import film_topics
from diaryidx.site.page import Asked, BadAddress, Page
from diaryidx.site.remarks import LineRemarks, NeedLines, line_remarks, need_lines, steps_of
from diaryidx.site.repairs import Stretch, marked, told
from diaryidx.site.wording import (
    MONTHS,
    STATUS_WORDS,
    build_words,
    day_words,
    what_words,
)
from diaryidx.store import reading
from diaryidx.transcript.captions import as_webvtt, captions
from diaryidx.transcript.numbers import measure_words, measured_by
from diaryidx.wording import DOUBTFUL_BELOW, clock, doubt, how_sure

KIND_WORDS = {
    "diary": "Diary",
    "tutorial": "Tutorial",
    "questions": "Questions and answers",
    "product news": "Product news",
    "bench note": "Bench note",
    "other": "Film",
}
#: Heard less well than this, a sentence is marked (common practice, no source).
HEARD_POORLY = 0.6
TOPICS_SHOWN = 6
#: Months whose films the list shows in full; a shop of many years has far more than one page can hold.
MONTHS_IN_FULL = 12


@dataclass(frozen=True, slots=True)
class FilmCard:
    """A film as lists show it."""

    film: Recording
    topics: tuple[str, ...] = ()

    @property
    def address(self) -> str:
        """Its page."""
        return film_address(self.film.id)

    @property
    def stub(self) -> tuple[str, str] | None:
        """The date as a calendar's leaf shows it, day and short month; None without one."""
        try:
            day = date.fromisoformat(self.film.date or "")
        except ValueError:
            return None
        return str(day.day), MONTHS[day.month - 1][:3]

    @property
    def about(self) -> str:
        """What it talks about, the first few topics."""
        more = len(self.topics) - TOPICS_SHOWN
        return " · ".join(self.topics[:TOPICS_SHOWN]) + (f" · and {more} more" if more > 0 else "")

    @property
    def still(self) -> str | None:
        """A picture from a tenth into the film, where the greeting is over; None for sound alone."""
        return still_address(self.film.id, self.film.duration * 0.1) if self.film.has_picture else None

    @property
    def kind(self) -> str:
        """What it is, in words."""
        return KIND_WORDS[self.film.kind]

    @property
    def day(self) -> str:
        """When it was filmed, in words."""
        return day_words(self.film.date)

    @property
    def length(self) -> str:
        """How long it is, as a player shows it."""
        return clock(self.film.duration)


@dataclass(frozen=True, slots=True)
class SpokenLine:
    """A sentence of a film as its page shows it."""

    sentence: Sentence
    address: str
    noted: tuple[str, ...] = ()
    remarks: LineRemarks = field(default_factory=LineRemarks)

    @property
    def at(self) -> str:
        """The time on the player's clock."""
        return clock(self.sentence.start)

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """The words as they are meant, cut where they were put right."""
        return marked(self.sentence.text, self.sentence.repairs)

    @property
    def heard_poorly(self) -> bool:
        """Whether the engine itself was unsure of these words."""
        return self.sentence.certainty is not None and self.sentence.certainty < HEARD_POORLY

    @property
    def put_right(self) -> list[str]:
        """What was put right, in words; empty where the words are as heard."""
        return told(self.sentence.repairs)


@dataclass(frozen=True, slots=True)
class Topic:
    """A stretch of a film about one thing, with its lines; ``build`` is the bike it is about, if any."""

    title: str
    start: float
    address: str
    build: Build | None
    doubt: str
    lines: tuple[SpokenLine, ...]
    needs: NeedLines | None = None

    @property
    def at(self) -> str:
        """The time on the player's clock."""
        return clock(self.start)

    @property
    def build_words(self) -> str:
        """The bike in a few words."""
        return "" if self.build is None else build_words(self.build)


def film_cards(db: sqlite3.Connection, films: Sequence[Recording]) -> list[FilmCard]:
    """Films as lists show them."""
    topics = film_topics(db, films)
    return [FilmCard(film, tuple(topics[film.id])) for film in films]


def films_page(db: sqlite3.Connection, _shop: Shop, _asked: Asked) -> Page:
    """Every film, newest first: the latest months in full, earlier ones as links to their round-ups."""
    films = reading.recordings(db)
    by_month: dict[str, list[Recording]] = {}
    for film in films:
        by_month.setdefault(film.month or "", []).append(film)
    names = sorted(by_month, reverse=True)
    earlier = [name for name in names[MONTHS_IN_FULL:] if name]
    months = [
        (name, day_words(name) if name else "No date known", film_cards(db, by_month[name]))
        for name in names
        if name not in earlier
    ]
    values = {
        "months": months,
        "earlier": [(month_address(name), day_words(name)) for name in earlier],
        "failed": reading.failed_files(db),
    }
    return Page("films.html", "Films", values, {"films": [recording_json(film) for film in films]}, "films")


def film_page(db: sqlite3.Connection, _shop: Shop, asked: Asked) -> Page:
    """One film, to be heard from ``?t=`` seconds."""
    film = reading.recording(db, asked.names["film"])
    start = moment_asked_for(asked, film)
    sentences = reading.sentences(db, film.id)
    segments = reading.segments(db, recording_id=film.id)
    builds = {build.job_number: build for build in reading.builds(db)}
    noted = noted_in(reading.statements(db, recording_id=film.id), reading.mentions(db, film.id))
    remarks, links = reading.remarks(db, film.id), reading.film_links(db, film.id)
    topics = topics_of(film, sentences, segments, builds, noted, remarks, links)
    values = {
        "card": FilmCard(film),
        "film": film,
        "topics": topics,
        "media": media_address(film.id),
        "captions": captions_address(film.id) if sentences else None,
        "start": start,
        "start_words": None if start is None else clock(start),
        "needs": need_lines(Needs.of(remarks.steps), film),
        "others": [other_film(link) for link in links],
        "told_of_in": _told_of_in(db, film),
    }
    data = {
        "recording": recording_json(film),
        "media": media_address(film.id),
        "sentences": spoken_json(sentences, remarks, links),
        **segments_json(segments, remarks),
    }
    return Page("film.html", film.title, values, data, "films")


def _told_of_in(db: sqlite3.Connection, film: Recording) -> list[tuple[str, str]]:
    """The films that refer to this one, each once: title and the address that plays where they do."""
    found: dict[str, tuple[str, str]] = {}
    for one in reading.film_references(db, film=film.id):
        if one.recording is not None and one.recording not in found:
            title = reading.recording(db, one.recording).title
            found[one.recording] = (title, film_address(one.recording, one.start))
    return list(found.values())


def film_captions(db: sqlite3.Connection, recording_id: str) -> str:
    """A film's captions as WebVTT.

    :raises NotFound: there is no such film.
    """
    film = reading.recording(db, recording_id)
    return as_webvtt(captions(reading.sentences(db, film.id), film.duration))


def moment_asked_for(asked: Asked, film: Recording) -> float | None:
    """The second that ``?t=`` names, kept inside the film; None without one.

    :raises BadAddress: it is no number of seconds.
    """
    raw = asked.query.get("t")
    if raw is None:
        return None
    try:
        seconds = float(raw)
    except ValueError:
        seconds = math.nan
    if not math.isfinite(seconds) or seconds < 0:
        raise BadAddress(f"“t={raw[:40]}” is no time; write seconds from the start of the film, such as t=93.2")
    return min(seconds, film.duration)


def noted_in(statements: Sequence[Statement], mentions: Sequence[Mention] = ()) -> dict[int, list[str]]:
    """What was noted from each sentence, by its place, in words such as "Tank: done" and "47 Nm (35 lbf ft)".

    Of measures only those that are read off a tool in one unit or the other: torques and pressures.
    """
    noted: dict[int, list[str]] = {}
    for one in statements:
        if one.part or one.product or one.task:
            unsure = f", {how_sure(one.certainty)}" if one.certainty < DOUBTFUL_BELOW else ""
            noted.setdefault(one.sentence, []).append(f"{what_words(one)}: {STATUS_WORDS[one.status].lower()}{unsure}")
    for mention in mentions:
        if mention.label == "MEASURE" and mention.value and measured_by(mention.value) in ("torque", "pressure"):
            noted.setdefault(mention.sentence, []).append(measure_words(mention.value))
    return noted


def spoken_lines(
    film: Recording,
    sentences: Sequence[Sentence],
    noted: Mapping[int, list[str]] | None = None,
    below: Mapping[int, LineRemarks] | None = None,
) -> list[SpokenLine]:
    """A film's sentences as lines; ``noted`` as `noted_in` gives it, ``below`` as `line_remarks` does."""
    return [
        SpokenLine(
            sentence,
            film_address(film.id, sentence.start),
            tuple(dict.fromkeys((noted or {}).get(place, ()))),
            (below or {}).get(place, LineRemarks()),
        )
        for place, sentence in enumerate(sentences)
    ]


def topics_of(
    film: Recording,
    sentences: Sequence[Sentence],
    segments: Sequence[Segment],
    builds: Mapping[str, Build],
    noted: Mapping[int, list[str]],
    remarks: Remarks,
    links: Iterable[FilmLink] = (),
) -> list[Topic]:
    """The film's topics with their lines; sentences outside every topic are kept in nameless ones.

    :param builds: by job number; ``noted``: as `noted_in` gives it; ``links``: the films that it refers to.
    """
    lines = spoken_lines(film, sentences, noted, line_remarks(film, remarks, links))
    steps = steps_of(film, remarks)
    topics: list[Topic] = []
    place = 0
    for segment in sorted(segments, key=lambda one: one.first):
        if segment.first > place:
            topics.append(_nameless(film, lines[place : segment.first]))
        build = builds.get(segment.build or "")
        topics.append(
            Topic(
                segment.title[:1].upper() + segment.title[1:],
                segment.start,
                film_address(film.id, segment.start),
                build,
                doubt(segment.certainty) if build is not None else "",
                tuple(lines[max(place, segment.first) : segment.last + 1]),
                steps.get(segment.first),
            )
        )
        place = max(place, segment.last + 1)
    if place < len(lines):
        topics.append(_nameless(film, lines[place:]))
    return topics


def _nameless(film: Recording, lines: list[SpokenLine]) -> Topic:
    start = lines[0].sentence.start
    return Topic("", start, film_address(film.id, start), None, "", tuple(lines))
