"""A shop folder with decades of invented film in its database, made once and kept for benches.

The films are those of `fixtures/archive`, put right, understood and tied to builds as an index does it, by as many
processes as there are cores. To save hours, some years are read and tied, and told several times over: each time with
films of earlier dates, and with rows of the job book and names of people and bikes of their own, to which films are
tied as they were the first time. What reading and tying the first ones took is kept beside the database: so many times
that is what doing everything anew costs.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import yaml
from sqlite_utils import Database

from diaryidx.builds import relinking
from diaryidx.builds.relinking import relink
from diaryidx.indexing import reading_key
from diaryidx.naming import mark_names
from diaryidx.records import Build, Reading, Recording, Sentence, Subject
from diaryidx.shop import Shop, load_shop
from diaryidx.store import decisions, links, reading, writing
from diaryidx.store.database import open_store
from diaryidx.store.links import LinkState
from diaryidx.store.writing import RecordingRow
from diaryidx.understanding import Understanding, put_right, understand, understanding_of
from fixtures.archive import Archive, Film, make_archive
from fixtures.archive.lives import SHOP as INVENTED

SEED = 7
CHUNK = 8
"""Films that a process reads at a time."""
NEXT_ERA = 10_000
"""What is added to job numbers each time the years are told over."""
ENDINGS = "by dale den field ford ham hurst ley low mere more ridge stead thorpe ton wick worth"
"""What names of people and bikes end with when they are told over, so that they are other ones."""


@dataclass(frozen=True)
class Made:
    """What it took to make the archive: seconds of processor time to put right and understand ``films_read`` films, and
    to tie these to builds from nothing."""

    films: int
    sentences: int
    topics: int
    builds: int
    films_read: int
    reading_seconds: float
    tying_seconds: float


def large_archive(folder: Path, hours: float, times: int = 1) -> tuple[Shop, Database, Made]:
    """The shop in a folder; made if it is not there yet, else as it was left.

    :param hours: how much film is read.
    :param times: how often it is told.
    """
    kept = folder / "made.json"
    if not kept.is_file():
        kept.write_text(json.dumps(asdict(_make(folder, hours, times))))
    shop = load_shop(folder)
    return shop, open_store(shop.database), Made(**json.loads(kept.read_text()))


def invented_shop(folder: Path) -> Shop:
    """An empty shop folder with the invented firms and people."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shop.toml").write_text("")
    firms = [firm for names in INVENTED["suppliers"].values() for firm in names]
    (folder / "words.yaml").write_text(yaml.safe_dump({"suppliers": firms, "people": INVENTED["staff"]}))
    for old in folder.glob("shop.db*"):
        old.unlink()
    return load_shop(folder)


def save_film(db: Database, film: Film, said: Sequence[Sentence], meant: Reading, key: str) -> None:
    """Keep a film as an index does it, but not yet tied to builds."""
    row = RecordingRow(
        film.id, f"{film.id}.mp4", 1, 1, f"hash of {film.id}", film.id, film.kind, film.date, "file name",
        film.date[:7], film.sentences[-1].end, True, "vosk:m",
    )  # fmt: skip
    writing.save_recording(db, row)
    writing.save_reading(db, film.id, said, meant, reading_key=key)


def read_film(known: Understanding, film: Film) -> tuple[tuple[Sentence, ...], Reading]:
    """Put a film right and understand it."""
    recording = Recording(
        film.id, f"{film.id}.mp4", film.id, film.kind, film.date, "file name", film.date[:7],
        film.sentences[-1].end, True, "vosk", "indexed",
    )  # fmt: skip
    said = put_right(known, [replace(one, id=None) for one in film.sentences], film.date)
    return said, understand(known, recording, said)


def _make(folder: Path, hours: float, times: int) -> Made:
    shop = invented_shop(folder)
    db = open_store(shop.database)
    archive = make_archive(SEED, large=True, hours=hours)
    eras = [Era(archive, number) for number in range(times)]
    writing.save_builds(db, eras[0].rows())
    key, seconds, films = reading_key(shop), 0.0, list[tuple[Film, tuple[Sentence, ...], Reading]]()
    with ProcessPoolExecutor(initializer=_begin, initargs=(folder,)) as workers:
        for read in workers.map(_read, _chunks(archive.films())):
            for film, said, meant, at_work in read:
                seconds += at_work
                films.append((film, said, meant))
                save_film(db, film, said, meant, key)
    started = time.process_time()
    relink(db, shop.words)
    tying = time.process_time() - started
    states = links.states(db.conn)
    tied = [(film, said, _as_tied(db, film, meant)) for film, said, meant in films]
    for era in eras[1:]:
        writing.save_builds(db, era.rows())
        for film, said, meant in tied:
            again = era.film(film)
            save_film(db, again, said, era.reading(meant), key)
            links.save(db, again.id, (), era.state(states[film.id]), (), decisions.version(db.conn))
    mark_names(db, understanding_of(shop, db, reading.builds(db.conn)))
    db.execute("update recordings set names_due = 0")
    db.conn.commit()
    basis = relinking._basis(relinking._begin(db, relinking._vocabulary(shop.words)))
    links.rest_on(db, list(basis.values()), (), ())
    db.execute("pragma wal_checkpoint(truncate)")
    counts = [db.execute(f"select count(*) from {table}").fetchone()[0] for table in ("sentences", "topics", "builds")]
    db.close()
    return Made(len(films) * times, counts[0], counts[1], counts[2], len(films), round(seconds, 1), round(tying, 1))


def _as_tied(db: Database, film: Film, meant: Reading) -> Reading:
    """What a film says, with its topics and statements as they were tied."""
    segments = tuple(replace(one, id=None) for one in reading.segments(db.conn, recording_id=film.id))
    statements = tuple(
        replace(one, build=relinking.tied(one, segments).build, subject=segments[one.segment or 0].subject)
        for one in meant.statements
    )
    return replace(meant, segments=segments, statements=statements)


@dataclass(frozen=True)
class Era:
    """One telling of an archive's years, each so many years before the one it was told first."""

    archive: Archive
    number: int

    def rows(self) -> Iterator[Build]:
        """The rows of the job book."""
        for row in self.archive.job_book():
            days = {name: self._day(getattr(row, name)) for name in ("date_in", "promised", "date_out")}
            names = {name: self._name(getattr(row, name)) for name in ("nickname", "customer", "registration")}
            yield replace(row, job_number=self.job(row.job_number), **days, **names)

    def film(self, film: Film) -> Film:
        """A film under the date of this telling."""
        day = self._day(film.date)
        assert day is not None
        return replace(film, id=film.id.replace(film.date, day), date=day)

    def reading(self, meant: Reading) -> Reading:
        """What a film says, tied to the bikes of this telling."""
        segments = tuple(
            replace(one, build=one.build and self.job(one.build), subject=self._subject(one.subject),
                    candidates=tuple(replace(each, job_number=self.job(each.job_number)) for each in one.candidates))
            for one in meant.segments
        )  # fmt: skip
        statements = tuple(
            replace(one, build=one.build and self.job(one.build), subject=one.subject and self._subject(one.subject))
            for one in meant.statements
        )
        return replace(meant, segments=segments, statements=statements)

    def state(self, state: LinkState) -> LinkState:
        """What a film gave to later ones."""
        return LinkState(
            self._day(state.date),
            {self.job(job): digest for job, digest in state.said.items()},
            tuple(self.job(job) for job in state.walk),
            tuple(self.job(job) for job in state.named),
            state.codes,
        )

    def job(self, number: str) -> str:
        """A job number of this telling."""
        return str(int(number) + self.number * NEXT_ERA)

    def _subject(self, subject: Subject) -> Subject:
        return Subject("build", self.job(subject.id)) if subject.kind == "build" and subject.id else subject

    def _name(self, name: str | None) -> str | None:
        endings = ENDINGS.split()
        return name and name + "".join(endings[: self.number // len(endings)]) + self._ending(endings)

    def _ending(self, endings: Sequence[str]) -> str:
        return endings[self.number % len(endings)] if self.number else ""

    def _day(self, day: str | None) -> str | None:
        years = self.archive.days[-1] - self.archive.days[0] + 3
        return (date.fromisoformat(day) - timedelta(self.number * years)).isoformat() if day else None


def _chunks(films: Iterator[Film]) -> Iterator[list[Film]]:
    chunk: list[Film] = []
    for film in films:
        chunk.append(film)
        if len(chunk) == CHUNK:
            yield chunk
            chunk = []
    yield chunk


_known: Understanding
"""What a process understands films with."""


def _begin(folder: Path) -> None:
    global _known
    shop = load_shop(folder)
    db = open_store(shop.database)
    _known = understanding_of(shop, db, reading.builds(db.conn))
    db.close()


def _read(films: Sequence[Film]) -> list[tuple[Film, tuple[Sentence, ...], Reading, float]]:
    """Put films right and understand them; with the seconds that a processor was at work for each."""
    found = []
    for film in films:
        started = time.process_time()
        said, meant = read_film(_known, film)
        found.append((film, said, meant, time.process_time() - started))
    return found
