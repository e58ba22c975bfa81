"""A shop folder with years of invented film in its database, made once and kept for benches.

The films are those of `fixtures/archive`, put right, understood and tied to builds as an index does it, by as many
processes as there are cores. What that took is kept beside it: it is what doing everything anew costs.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, replace
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
from fixtures.archive import Film, make_archive
from fixtures.archive.lives import SHOP as INVENTED

SEED = 7
CHUNK = 8
"""Films that a process reads at a time."""


@dataclass(frozen=True)
class Made:
    """What it took to make the archive: seconds of processor time to put right and understand all films, and to tie all
    of them to builds from nothing."""

    films: int
    sentences: int
    reading_seconds: float
    tying_seconds: float


def large_archive(folder: Path, hours: float) -> tuple[Shop, Database, Made]:
    """The shop in a folder with so many hours of film; made if it is not there yet, else as it was left."""
    kept = folder / "made.json"
    if not kept.is_file():
        made = _make(folder, hours)
        kept.write_text(json.dumps(asdict(made)))
    shop = load_shop(folder)
    return shop, open_store(shop.database), Made(**json.loads(kept.read_text()))


def _make(folder: Path, hours: float) -> Made:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shop.toml").write_text("")
    firms = [firm for names in INVENTED["suppliers"].values() for firm in names]
    (folder / "words.yaml").write_text(yaml.safe_dump({"suppliers": firms, "people": INVENTED["staff"]}))
    shop = load_shop(folder)
    for old in folder.glob("shop.db*"):
        old.unlink()
    db = open_store(shop.database)
    archive = make_archive(SEED, large=True, hours=hours)
    book = archive.job_book()
    writing.save_builds(db, book)
    mark_names(db, understanding_of(shop, db, book))
    key, seconds, films = reading_key(shop), 0.0, 0
    with ProcessPoolExecutor(initializer=_begin, initargs=(folder, book)) as workers:
        for read in workers.map(_read, _chunks(archive.films())):
            for film, said, meant, at_work in read:
                _save(db, film, said, meant, key)
                films, seconds = films + 1, seconds + at_work
    started = time.process_time()
    relink(db, shop.words)
    tying = time.process_time() - started
    db.execute("pragma wal_checkpoint(truncate)")
    db.execute("analyze")
    db.close()
    return Made(films, reading_count(shop), round(seconds, 1), round(tying, 1))


def reading_count(shop: Shop) -> int:
    db = open_store(shop.database)
    count = reading.count_sentences(db.conn)
    db.close()
    return count


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


def _begin(folder: Path, book: Sequence[Build]) -> None:
    global _known
    shop = load_shop(folder)
    db = open_store(shop.database)
    _known = understanding_of(shop, db, book)
    db.close()


def _read(films: Sequence[Film]) -> list[tuple[Film, tuple[Sentence, ...], Reading, float]]:
    """Put films right and understand them; with the seconds that a processor was at work for each."""
    found = []
    for film in films:
        started = time.process_time()
        recording = recording_of(film)
        said = put_right(_known, [replace(one, id=None) for one in film.sentences], recording.date)
        meant = understand(_known, recording, said)
        found.append((film, said, meant, time.process_time() - started))
    return found


def recording_of(film: Film) -> Recording:
    """The record of a film that was heard."""
    return Recording(
        film.id, f"{film.id}.mp4", film.id, film.kind, film.date, "file name", film.date[:7],
        film.sentences[-1].end, True, "vosk", "indexed",
    )  # fmt: skip


def _save(db: Database, film: Film, said: Sequence[Sentence], meant: Reading, key: str) -> None:
    row = RecordingRow(
        film.id, f"{film.id}.mp4", 1, 1, f"hash of {film.id}", film.id, film.kind, film.date, "file name",
        film.date[:7], film.sentences[-1].end, True, "vosk:m",
    )  # fmt: skip
    writing.save_recording(db, row)
    writing.save_reading(db, film.id, said, meant, reading_key=key)
