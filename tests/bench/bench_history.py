"""How long a bike's history takes in an invented archive of two years and 60 builds, and the list of bikes.

    python -m tests.bench.bench_history [SEED]

Every film of `fixtures/archive` is read by the real language step and kept, cut into its true stretches and tied to
its true builds, so that histories are as long as they can get. The baseline of the list of bikes, side by side, is one
history a bike.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from sqlite_utils import Database

from diaryidx.builds.history import history, open_counts
from diaryidx.builds.telling import describe_history
from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Reading, Segment, Subject
from diaryidx.shapes import history_json
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.vocabulary.loader import load_vocabulary
from fixtures.archive import Archive, Film, make_archive


def fill(db: Database, archive: Archive) -> list[Build]:
    """Read every film of an archive and keep it, each stretch tied to its true build."""
    builds = list(archive.job_book())
    writing.save_builds(db, builds)
    vocabulary = load_vocabulary(None, builds, "GBP")
    nlp = build_pipeline(vocabulary)
    for film in archive.films():
        row = RecordingRow(film.id, f"{film.id}.mp4", 1, 1, film.id, film.id, film.kind, film.date, "file name",
                           film.date[:7], film.sentences[-1].end, True)  # fmt: skip
        writing.save_recording(db, row)
        read = read_recording(nlp, film.sentences, film.kind, film.date, vocabulary)
        writing.save_reading(db, film.id, film.sentences, truly_cut(read, film), reading_key="k", engine="invented")
    return builds


def truly_cut(read: Reading, film: Film) -> Reading:
    """A reading cut into its true stretches, each tied to the build that it is truly about."""
    segments, place_of = [], {}
    for place, one in enumerate(film.segments):
        start, end = film.sentences[one.first].start, film.sentences[one.last].end
        subject = Subject("build", one.build) if one.build else Subject("shop")
        segments.append(Segment(start, end, one.first, one.last, one.about, subject, one.build, 0.95))
        place_of |= dict.fromkeys(range(one.first, one.last + 1), place)
    statements = tuple(
        replace(one, segment=place, build=segments[place].build, subject=segments[place].subject)
        for one in read.statements
        if (place := place_of.get(one.sentence)) is not None
    )
    return replace(read, segments=tuple(segments), statements=statements)


def milliseconds(work: Callable[[], object]) -> float:
    """How long one piece of work takes."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    with tempfile.TemporaryDirectory() as folder:
        db = open_store(Path(folder) / "shop.db")
        builds = fill(db, make_archive(seed))
        films = reading.recordings(db.conn)
        tied_statements = len(reading.statements(db.conn, tied=True))
        print(f"{len(builds)} builds, {len(films)} films, {tied_statements} statements tied to builds")
        for name, work in (
            ("history", lambda build: history(db.conn, build)),
            ("history as JSON", lambda build: json.dumps(history_json(history(db.conn, build), private=True))),
            ("history as lines", lambda build: describe_history(history(db.conn, build), films)),
        ):
            times = [milliseconds(lambda work=work, build=build: work(build)) for _ in range(3) for build in builds]  # type: ignore[misc]
            p95 = statistics.quantiles(times, n=20)[-1]
            print(f"{name}: median {statistics.median(times):.1f} ms, p95 {p95:.1f} ms, longest {max(times):.1f} ms")
        one_read = milliseconds(lambda: open_counts(db.conn, builds))
        each = milliseconds(lambda: [history(db.conn, build) for build in builds])
        print(f"open lines of all builds: one read {one_read:.0f} ms, a history a bike {each:.0f} ms")
        db.close()


if __name__ == "__main__":
    main()
