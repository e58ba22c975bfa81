"""A shop folder with decades of invented film in its database, made once and kept for benches.

The films are those of `fixtures/archive`, put right, understood and tied to builds as an index does it, by as many
processes as there are cores. To save hours of reading, some years are read and told several times over: each time with
films of earlier dates and with rows of the job book of their own, so that only the names of bikes come again. What it
took is kept beside the database: it is what doing everything anew costs.
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

from diaryidx.builds.relinking import relink
from diaryidx.indexing import reading_key
from diaryidx.naming import mark_names
from diaryidx.records import Build, Reading, Recording, Sentence
from diaryidx.shop import Shop, load_shop
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.understanding import Understanding, put_right, understand, understanding_of
from fixtures.archive import Archive, Film, make_archive
from fixtures.archive.lives import SHOP as INVENTED

SEED = 7
CHUNK = 8
"""Films that a process reads at a time."""
NEXT_ERA = 10_000
"""What is added to job numbers each time the years are told over."""


@dataclass(frozen=True)
class Made:
    """What it took to make the archive: seconds of processor time to put right and understand the films that were
    read, and to tie all films to builds from nothing."""

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
    book = [row for era in eras for row in era.rows()]
    writing.save_builds(db, book)
    mark_names(db, understanding_of(shop, db, reading.builds(db.conn)))
    key, seconds, films = reading_key(shop), 0.0, 0
    with ProcessPoolExecutor(initializer=_begin, initargs=(folder,)) as workers:
        for read in workers.map(_read, _chunks(archive.films())):
            for film, said, meant, at_work in read:
                films, seconds = films + 1, seconds + at_work
                for era in eras:
                    save_film(db, era.film(film), said, meant, key)
    started = time.process_time()
    relink(db, shop.words)
    tying = time.process_time() - started
    db.execute("pragma wal_checkpoint(truncate)")
    counts = [db.execute(f"select count(*) from {table}").fetchone()[0] for table in ("sentences", "topics", "builds")]
    db.close()
    return Made(films * times, counts[0], counts[1], counts[2], films, round(seconds, 1), round(tying, 1))


@dataclass(frozen=True)
class Era:
    """One telling of an archive's years, each so many years before the one it was told first."""

    archive: Archive
    number: int

    def rows(self) -> Iterator[Build]:
        """The rows of the job book."""
        for row in self.archive.job_book():
            days = {name: self._day(getattr(row, name)) for name in ("date_in", "promised", "date_out")}
            plate = row.registration and f"{self.number}{row.registration}" if self.number else row.registration
            number = str(int(row.job_number) + self.number * NEXT_ERA)
            yield replace(row, job_number=number, registration=plate, **days)

    def film(self, film: Film) -> Film:
        """A film under the date of this telling."""
        day = self._day(film.date)
        assert day is not None
        return replace(film, id=film.id.replace(film.date, day), date=day)

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
