"""What the job needs that no film said: bikes that were left out, that wait, that the job book does not know, or about
which the job book and the films disagree."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from diaryidx.builds.finding import plain_number
from diaryidx.builds.history import is_finished, open_items, run_of, said_of, says_finished
from diaryidx.builds.retold import Retold, retold_films
from diaryidx.builds.spoken import job_numbers_said, tokens
from diaryidx.builds.standing import waited_for
from diaryidx.builds.wishes import wishes
from diaryidx.builds.wording import describe
from diaryidx.records import Build, Recording, Source, Statement
from diaryidx.store import reading
from diaryidx.vocabulary.loader import Vocabulary
from diaryidx.wording import DOUBTFUL_BELOW

#: So many diaries in a row without a bike make it one that was left out.
DIARIES = 2
_COULD_BE = "could be"


@dataclass(frozen=True, slots=True)
class HeardToo:
    """A moment of another film that holds the same words, as footage and its cut do. ``start`` in seconds."""

    recording: str
    title: str
    start: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """Where something was said: a moment of a film, or a note. ``start`` in seconds; ``also`` are the moments of
    other films where the same words are heard too."""

    source: Source
    date: str | None
    text: str
    recording: str | None = None
    title: str | None = None
    start: float | None = None
    note: int | None = None
    also: tuple[HeardToo, ...] = ()


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A bike in the workshop that the last ``diaries`` diaries did not show; ``last`` is what was said of it last."""

    build: Build
    diaries: int
    last: Evidence | None


@dataclass(frozen=True, slots=True)
class Waiting:
    """Something that a bike waits for, since a day and on somebody where that was said; first and last word of it."""

    build: Build
    what: str
    on: str | None
    since: str | None
    days: int | None
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class UnknownBike:
    """A stretch of film about a bike that the job book does not have; ``why`` says how that is known."""

    title: str
    why: str
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Disagreement:
    """What the job book says of a whole bike, and what was said against it."""

    build: Build
    book: str
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Gaps:
    """Everything that somebody should look after, each with its evidence; the longest waiting first."""

    left_out: tuple[LeftOut, ...]
    waiting: tuple[Waiting, ...]
    unknown_bikes: tuple[UnknownBike, ...]
    finished_but_open: tuple[Disagreement, ...]
    open_but_finished: tuple[Disagreement, ...]


def gaps(db: sqlite3.Connection, today: date | None = None, words: Vocabulary | None = None) -> Gaps:
    """Hold the job book against all that was said; what is heard in two films, as footage and cut, counts once.

    :param today: the day from which waiting is counted; the current day if not given.
    :param words: the shop's words; None means the trade's alone.
    """
    archive = _Archive.read(db, words)
    return Gaps(
        tuple(_left_out(db, archive)),
        tuple(_waiting(archive, today or date.today())),
        tuple(_unknown_bikes(db, archive)),
        tuple(_finished_but_open(archive)),
        tuple(_open_but_finished(archive)),
    )


@dataclass(frozen=True, slots=True)
class _Archive:
    """The job book and all that was said of its bikes, doubtful and general talk left out, read once."""

    builds: Sequence[Build]
    films: Mapping[str, Recording]
    said: Mapping[str, Sequence[Statement]]
    retold: Retold
    words: Vocabulary | None

    @classmethod
    def read(cls, db: sqlite3.Connection, words: Vocabulary | None) -> _Archive:
        said: dict[str, list[Statement]] = defaultdict(list)
        for one in said_of(db):
            if one.build and one.status != "usual practice" and one.certainty >= DOUBTFUL_BELOW:
                said[one.build].append(one)
        films = {film.id: film for film in reading.recordings(db)}
        return cls(reading.builds(db), films, said, retold_films(db), words)

    def day(self, said: Statement) -> str | None:
        film = self.films.get(said.recording or "")
        return said.said_on or (film.date if film else None)

    def evidence(self, said: Statement) -> Evidence:
        film = self.films.get(said.recording or "")
        title = film.title if film else None
        also = tuple(HeardToo(one, self.films[one].title, start) for one, start in said.also if one in self.films)
        return Evidence(said.source, self.day(said), said.text, said.recording, title, said.start, said.note, also)


def _left_out(db: sqlite3.Connection, archive: _Archive) -> Iterator[LeftOut]:
    """Bikes that are here, were here for the last diaries, and were in none of them; the longest left out first."""
    diaries = _diaries(archive)
    shown: dict[str, set[str]] = defaultdict(set)
    for job, film in reading.films_of_builds(db):
        shown[job].add(film)
    found = []
    for build in archive.builds:
        could_show = [films for films in diaries if (build.date_in or "") <= (films[0].date or "")]
        was_in = (n for n, films in enumerate(could_show) if shown[build.job_number] & {film.id for film in films})
        missed = next(was_in, len(could_show))
        if missed >= DIARIES and not is_finished(build):
            said = archive.said.get(build.job_number, ())
            found.append(LeftOut(build, missed, archive.evidence(said[-1]) if said else None))
    yield from sorted(found, key=lambda one: -one.diaries)


def _diaries(archive: _Archive) -> list[list[Recording]]:
    """The diaries, latest first; one with all that is the same film, such as its footage."""
    films = [film for film in archive.films.values() if film.kind == "diary" and film.date]
    diaries: list[list[Recording]] = []
    for film in sorted(films, key=lambda film: film.date or "", reverse=True):
        same = [one for one in diaries if any(archive.retold.same_films(film.id, other.id) for other in one)]
        same[0].append(film) if same else diaries.append([film])
    return diaries


def _waiting(archive: _Archive, today: date) -> Iterator[Waiting]:
    """What bikes that are here wait for, longest first; what waits since an unknown day comes last."""
    found = []
    for build in archive.builds:
        said = archive.said.get(build.job_number, ())
        if is_finished(build) or not any(one.status == "waiting" for one in said):
            continue
        for item in open_items((*wishes(build, archive.words), *said), build):
            if item.status == "waiting":
                run = run_of(item, said)
                since = archive.day(run[0])
                ends = (run[0], run[-1]) if len(run) > 1 else (run[0],)
                on = waited_for(run, archive.words)
                evidence = tuple(archive.evidence(one) for one in ends)
                found.append(Waiting(build, describe(item), on, since, _days(since, today), evidence))
    yield from sorted(found, key=lambda one: one.since or "9999")


def _days(since: str | None, today: date) -> int | None:
    try:
        return (today - date.fromisoformat(since)).days if since else None
    except ValueError:
        return None


def _unknown_bikes(db: sqlite3.Connection, archive: _Archive) -> Iterator[UnknownBike]:
    """Stretches with news of a bike that no job fits; those that could be one of several jobs are for review."""
    known = {plain_number(build.job_number) for build in archive.builds}
    tied = [one for said in archive.said.values() for one in said]
    stated = archive.retold.once(archive.retold.without_tied(reading.statements_without_build(db), tied))
    news: dict[tuple[str | None, int | None], list[Statement]] = defaultdict(list)
    for one in stated:
        if one.status != "usual practice" and one.certainty >= DOUBTFUL_BELOW:
            news[one.recording, one.segment].append(one)
    for place, segment in reading.segments_without_build(db):
        said = news.get((segment.recording, place))
        if said and not any(reason.startswith(_COULD_BE) for reason in segment.evidence):
            yield UnknownBike(segment.title, _why_unknown(said, known), tuple(map(archive.evidence, _once(said))))


def _why_unknown(said: Iterable[Statement], known: set[str]) -> str:
    for one in said:
        numbers = set(job_numbers_said(tokens(one.text)))  # every way of reading the words as a number
        if numbers and known.isdisjoint(map(plain_number, numbers)):
            return f"says job {max(numbers, key=len)}, which the job book does not have"
    return "nothing in the job book fits what was said"


def _once(said: Iterable[Statement]) -> list[Statement]:
    """One statement of each sentence."""
    return list({one.text: one for one in said}.values())


def _finished_but_open(archive: _Archive) -> Iterator[Disagreement]:
    """Jobs that the book calls finished, of which something was open when they were spoken of last.

    Where the book has the day on which a bike left, only what was said after it counts.
    """
    for build in archive.builds:
        said = archive.said.get(build.job_number, ())
        if not said or not is_finished(build):
            continue
        latest = max(archive.day(one) or "" for one in said)
        still_open = [
            one
            for one in open_items(said)
            if ((archive.day(one) or "") > build.date_out + "~" * (len(build.date_out) < len("YYYY-MM-DD"))
                if build.date_out else archive.day(one) == latest)
        ]  # fmt: skip
        if still_open:
            left = f"out {build.date_out}" if build.date_out else ""
            book = ", ".join(word for word in (build.state, left) if word)
            yield Disagreement(build, book, tuple(map(archive.evidence, _once(still_open))))


def _open_but_finished(archive: _Archive) -> Iterator[Disagreement]:
    """Jobs that the book has as still here, of which the last word is that the whole bike is finished."""
    for build in archive.builds:
        if is_finished(build):
            continue
        last: list[Statement] = []
        for one in archive.said.get(build.job_number, ()):
            if says_finished(one):
                last.append(one)
            elif one.status in ("in progress", "waiting", "planned"):
                last.clear()
        if last:
            yield Disagreement(build, build.state or "no state", tuple(map(archive.evidence, _once(last))))
