"""How long review takes in an archive of two years: the next item, a decision, undoing it, and what follows from it.

Run as ``python -m tests.bench.bench_review``. The archive is invented (`fixtures/archive`): 60 builds, monthly diaries.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from sqlite_utils import Database

from diaryidx.builds import review
from diaryidx.builds.relinking import relink
from diaryidx.records import Recording
from diaryidx.shop import load_shop
from diaryidx.store import decisions, reading, writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.understanding import understand, understanding_of
from fixtures.archive import make_archive


def filled(folder: Path) -> Database:
    """A database of the archive, understood by the program."""
    (folder / "shop.toml").write_text("")
    shop = load_shop(folder)
    db = open_store(shop.database)
    archive = make_archive(7)
    films = list(archive.films())
    book = archive.job_book(max(film.date for film in films))
    writing.save_builds(db, book)
    known = understanding_of(shop, db, book)
    for film in films:
        row = RecordingRow(
            film.id, f"{film.id}.mp4", 1, 1, f"hash of {film.id}", film.id, film.kind, film.date, "file name",
            film.date[:7], film.sentences[-1].end, True,
        )  # fmt: skip
        writing.save_recording(db, row)
        recording: Recording = reading.recording(db.conn, film.id)
        sentences = [replace(sentence, id=None) for sentence in film.sentences]
        writing.save_reading(db, film.id, sentences, understand(known, recording, sentences), reading_key="k")
    return db


def timed(job: Callable[[], object], times: int) -> str:
    taken = []
    for _ in range(times):
        started = time.perf_counter()
        job()
        taken.append((time.perf_counter() - started) * 1000)
    return f"{statistics.median(taken):.0f} ms (longest of {times}: {max(taken):.0f})"


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        db = filled(Path(folder))
        print(f"relink of all: {timed(lambda: relink(db), 3)}")
        segments = [one for one in reading.segments(db.conn) if one.subject.kind == "build"]
        films, sentences = len(reading.recordings(db.conn)), reading.count_sentences(db.conn)
        print(f"{films} films, {sentences} sentences, {len(segments)} stretches about a bike")
        print(f"in doubt: {review.count_items(db.conn)}")
        print(f"the next item: {timed(lambda: review.items(db.conn, 1), 10)}")
        print(f"counting them: {timed(lambda: review.count_items(db.conn), 10)}")
        todo = iter(review.items(db.conn, 60))
        job = reading.builds(db.conn)[0].job_number
        print(f"assign: {timed(lambda: review.decide(db, next(todo).id, 'assign', 'Ada', job), 20)}")
        print(f"not a build: {timed(lambda: review.decide(db, next(todo).id, 'not-a-build', 'Ada'), 20)}")
        print(f"undo: {timed(lambda: review.undo(db, 'Ada'), 20)}")
        print(f"what follows, all films: {timed(lambda: relink(db), 3)}")
        print(f"{len(decisions.decisions(db.conn))} decisions kept")
        db.close()


if __name__ == "__main__":
    main()
