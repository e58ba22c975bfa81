"""How long an archive of 1,000 hours takes to follow the job book and what is taught, and to be asked.

    python -m tests.bench.bench_relink FOLDER [--hours 40] [--times 25]

The archive is made in the folder when it is not there yet (an hour of a busy machine) and used again after that; what
is done here is done to a copy. `large_archive` says how it is made. Every figure stands beside its target and beside a
baseline: reading all films and tying all of them from nothing, as measured when the archive was made. Times are seconds
by the clock and of processor time.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

from sqlite_utils import Database

from diaryidx.builds import review
from diaryidx.builds.finding import find_build
from diaryidx.builds.gaps import gaps
from diaryidx.builds.history import history
from diaryidx.builds.relinking import relink
from diaryidx.naming import follow_names
from diaryidx.records import Build
from diaryidx.roundup.month import round_up
from diaryidx.shapes import gaps_json, history_json
from diaryidx.shop import Shop
from diaryidx.store import reading, writing
from diaryidx.teaching import decide, plan_teaching, plan_undoing
from diaryidx.understanding import understanding_of
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary
from fixtures.archive import make_archive
from fixtures.archive.lives import SHOP as INVENTED
from tests.bench.large_archive import SEED, Made, large_archive

FEW, MANY = 10, 30
"""A correction that is typical: it changes so many films."""
ASKED = 200
"""So many histories are asked for."""


@contextmanager
def timed(what: str, target: str = "") -> Iterator[None]:
    """Print how long something took beside what was wanted."""
    start, worked = time.perf_counter(), time.process_time()
    yield
    seconds, at_work = time.perf_counter() - start, time.process_time() - worked
    print(f"{what}: {seconds:.2f} s, at work {at_work:.2f} s{f' (wanted: {target})' if target else ''}", flush=True)


def main() -> None:
    """Make the archive or take the one that is there, and print what everything takes in it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--hours", type=float, default=40, help="of film that are read")
    parser.add_argument("--times", type=int, default=25, help="how often they are told")
    given = parser.parse_args()
    _, db, made = large_archive(given.folder, given.hours, given.times)
    db.close()
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "shop"
        shutil.copytree(given.folder, copy)
        shop, db, _ = large_archive(copy, given.hours, given.times)
        describe(db, made)
        follow_the_job_book(shop, db)
        follow_what_is_taught(shop, db, given.hours)
        ask(shop, db)
        db.close()


def describe(db: Database, made: Made) -> None:
    """Say what is in the archive and what making it took."""
    hours = sum(film.duration for film in reading.recordings(db.conn)) / 3600
    print(
        f"{hours:.0f} hours: {made.films} films, {made.sentences} sentences, {made.topics} topics, {made.builds} builds"
    )
    each = made.reading_seconds / made.films_read
    print(f"baseline, all films put right and read: at work {each * made.films:.0f} s (by {made.films_read} of them)")
    each = made.tying_seconds / made.films_read
    print(f"baseline, all films tied to builds from nothing: at work {each * made.films:.0f} s", flush=True)


def follow_the_job_book(shop: Shop, db: Database) -> None:
    """New and changed rows: what `jobs import` does at once, then what the next `index` does about names."""
    last = max(film.date or "" for film in reading.recordings(db.conn))
    here = [row for row in reading.builds(db.conn) if row.date_in and row.date_in < last and not row.date_out]
    old = sorted(here, key=lambda row: row.date_in or "")[len(here) // 2]
    with timed("relink where nothing changed"):
        relink(db, shop.words)
    new = Build(
        "99001", "Olwen Tarrish", "Varlund", "Heron 650", nickname="Crumpet", date_in=last, asked_for="tan seat"
    )
    changes = (
        ("a new row, in today", new, "under 5 s"),
        (
            "a row in since " + str(old.date_in) + ", another wish",
            replace(old, asked_for=f"{old.asked_for}; gold rims"),
            "",
        ),
        ("the same, another nickname", replace(old, asked_for=f"{old.asked_for}; gold rims", nickname="Thimble"), ""),
        ("a row finished long ago, out a month later", _left_later(db), ""),
    )
    for what, row, target in changes:
        writing.save_builds(db, [row])
        due = _counting(db)
        with timed(f"{what}: relink", target):
            relink(db, shop.words)
        print(f"  {due()} films were tied again")
        with timed(f"{what}: names in films, at the next index"):
            read = follow_names(db, understanding_of(shop, db, reading.builds(db.conn)), _key(db))
            relink(db, shop.words)
        print(f"  {len(read)} films were read again")


def _left_later(db: Database) -> Build:
    rows = [row for row in reading.builds(db.conn) if row.date_out]
    row = rows[len(rows) // 2]
    assert row.date_out is not None
    return replace(row, date_out=date.fromordinal(date.fromisoformat(row.date_out).toordinal() + 30).isoformat())


def _key(db: Database) -> str:
    """The key under which the films were read, whatever became of the program since."""
    return str(db.execute("select reading_key from recordings limit 1").fetchone()[0])


def _counting(db: Database) -> Callable[[], int]:
    """How many films were tied since this was called."""
    db.execute("create temp table if not exists tied (film)")
    db.execute("delete from tied")
    db.execute(
        """create temp trigger if not exists count_tied after insert on main.link_states
           begin insert into tied values (new.recording_id); end"""
    )
    db.conn.commit()
    return lambda: int(db.execute("select count(distinct film) from tied").fetchone()[0])


def follow_what_is_taught(shop: Shop, db: Database, hours: float) -> None:
    """A typical correction, kept and applied to all films, and taken back."""
    heard, meant = misheard_name(shop, db, hours)
    with timed(f"“{heard}” means “{meant}”: show what it changes"):
        plan = plan_teaching(shop, db, heard, meant)
    due = _counting(db)
    with timed("kept, applied, films tied again", "under 10 s"):
        applied = decide(shop, db, plan, None)
    print(f"  {len(plan.changes)} sentences, {len(applied.films or ())} films read again, {due()} tied again")
    with timed("taken back", "under 10 s"):
        decide(shop, db, plan_undoing(shop, db, heard), None)


def misheard_name(shop: Shop, db: Database, hours: float) -> tuple[str, str]:
    """A name of the shop as it was misheard in some 10 to 30 films."""
    names = {name.lower(): name for name in INVENTED["staff"]}
    for film in make_archive(SEED, large=True, hours=hours).films():
        for said, sentence in zip(film.said, film.sentences, strict=True):
            pairs = zip(_words(said), _words(sentence.heard), strict=False)
            for meant, heard in pairs:
                if meant in names and heard != meant and len(heard) > 3:
                    films = {one.recording for one in plan_teaching(shop, db, heard, names[meant]).changes}
                    if FEW <= len(films) <= MANY:
                        return heard, names[meant]
    raise SystemExit("no name is misheard so")


def _words(text: str) -> list[str]:
    return [word.strip(".,?!") for word in text.lower().split()]


def ask(shop: Shop, db: Database) -> None:
    """What people ask: histories, gaps, what is in doubt, the month."""
    builds = reading.builds(db.conn)
    words = load_vocabulary(shop.words, builds, shop.settings.currency)
    asked = builds[:: max(len(builds) // ASKED, 1)]
    said = [len(reading.statements(db.conn, build=row.job_number)) for row in asked]
    print(f"{len(asked)} histories of {statistics.mean(said):.0f} statements each, {max(said)} at most")
    p95("history", [lambda row=row: history(db.conn, row, words) for row in asked], "p95 under 50 ms")  # type: ignore[misc]
    p95("history as JSON", [lambda row=row: _as_json(db, row, words) for row in asked], "p95 under 50 ms")  # type: ignore[misc]
    numbers = [row.job_number for row in asked]
    p95("a bike found by its number", [lambda one=one: find_build(db.conn, one, words) for one in numbers])  # type: ignore[misc]
    films = reading.recordings(db.conn)
    month = max(film.month or "" for film in films)
    today = date.fromisoformat(max(film.date or "" for film in films))
    with timed("jobs gaps, as JSON"):
        json.dumps(gaps_json(gaps(db.conn, today, words)))
    with timed("the next ten items of review"):
        review.items(db.conn, 10)
    with timed("how many there are"):
        review.count_items(db.conn)
    with timed(f"the round-up of {month}"):
        round_up(db.conn, month)


def _as_json(db: Database, row: Build, words: Vocabulary) -> str:
    return json.dumps(history_json(history(db.conn, row, words), private=True))


def p95(what: str, work: Sequence[Callable[[], object]], target: str = "") -> None:
    """Do each piece of work once to warm up and once by the clock."""
    work[0]()
    times = []
    for one in work:
        start = time.perf_counter()
        one()
        times.append((time.perf_counter() - start) * 1000)
    at = statistics.quantiles(times, n=20)[-1]
    wanted = f" (wanted: {target})" if target else ""
    print(
        f"{what}: median {statistics.median(times):.1f} ms, p95 {at:.1f} ms, longest {max(times):.1f} ms{wanted}",
        flush=True,
    )


if __name__ == "__main__":
    main()
