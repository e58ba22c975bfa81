"""How long a taught correction takes in an archive of years: to show what it changes, to apply it, to take it back.

    python -m tests.bench.bench_teach [FILMS]

Each film has 500 sentences, about an hour of talk. The correction changes one sentence in every 100th film, then in
every 20th. The baseline, run side by side on one of the films: understanding every film again.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from sqlite_utils import Database

from diaryidx.builds.linking import link
from diaryidx.builds.relinking import relink
from diaryidx.records import Build, Reading, Sentence
from diaryidx.shop import Shop, load_shop
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.suggesting import suggest
from diaryidx.teaching import decide, plan_teaching, plan_undoing
from diaryidx.understanding import put_right, understand, understanding_of
from tests.taught_archive import heard_line

SENTENCES = 500
TEMPLATES = 4
MISHEARD = {"lan turn lever": ("Lanternlever", 100), "old a berry": ("Aldaberry", 20)}
BIKES = ("wren", "plover", "dabchick", "osprey", "curlew", "sandpiper", "redshank", "avocet")
LINES = (
    "so the {bike} is next", "the {part} is off and it's at the painter", "we fitted the {part} to the {bike}",
    "that took most of a morning and i've had enough of it", "the {part} came back from powder coating in satin black",
    "he asked for a new {part} and we said yes", "and that's about all there is to say about that",
    "we're waiting for the {part} from the supplier", "next month we'll have the {part} done",
    "you want to check the {part} before you ride it", "i made a cup of tea and looked at it for a while",
)  # fmt: skip
PARTS = (
    "tank",
    "seat",
    "front mudguard",
    "headlight",
    "wiring loom",
    "swingarm",
    "fork yokes",
    "exhaust",
    "side stand",
)


def template(seed: int) -> list[Sentence]:
    """An hour of invented talk, with a place for each misheard name."""
    chance = random.Random(seed)
    lines = [
        chance.choice(LINES).format(bike=chance.choice(BIKES), part=chance.choice(PARTS)) for _ in range(SENTENCES)
    ]
    return [heard_line(line, place) for place, line in enumerate(lines)]


def archive(shop: Shop, db: Database, films: int) -> None:
    """Films made of a few templates that were understood once."""
    writing.save_builds(db, [Build(str(100 + n), model=bike, nickname=bike) for n, bike in enumerate(BIKES)])
    builds = reading.builds(db.conn)
    understanding = understanding_of(shop, db, builds)
    made: list[tuple[list[Sentence], Reading]] = []
    for number in range(films):
        name = f"film-{number:04d}"
        date = f"{2000 + number // 336}-{number // 28 % 12 + 1:02d}-{number % 28 + 1:02d}"
        row = RecordingRow(name, f"{name}.webm", 1, 1, name, name, "diary", date, "file name", date[:7], 1000.0, True)
        writing.save_recording(db, row)
        if number < TEMPLATES:
            said = template(number)
            film = reading.recording(db.conn, name)
            read = understand(understanding, film, said)
            linked = link(film, read.segments, said, read.mentions, read.statements, builds, [])
            tied = [replace(one, build=linked[one.segment or 0].build) for one in read.statements]
            made.append((said, replace(read, segments=tuple(linked), statements=tuple(tied))))
        said, read = made[number % TEMPLATES]
        said = list(said)
        for place, (heard, (_, every)) in enumerate(MISHEARD.items()):
            if number % every == 0:
                said[place * 7] = heard_line(f"and this is the {heard} with its new tank", place * 7)
        writing.save_reading(db, name, said, read, reading_key="key", engine="vosk:m")
    relink(db, shop.words)


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Print how long something took, and how much of it a processor was at work for it, whatever else went on."""
    start, worked = time.perf_counter(), time.process_time()
    yield
    seconds, at_work = time.perf_counter() - start, time.process_time() - worked
    print(f"{what}: {seconds:.2f} s, at work {at_work:.2f} s", flush=True)


def main() -> None:
    """Build the archive, teach, take back, and print the times."""
    films = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "shop.toml").write_text('[speech]\nengine = "vosk"\nmodel = "mini"\n')
        shop = load_shop(folder)
        db = open_store(shop.database)
        with timed(f"(making {films} films)"):
            archive(shop, db, films)
        tied = len(reading.statements(db.conn, tied=True))
        print(f"{reading.count_sentences(db.conn)} sentences, {tied} statements tied to builds")
        for heard, (meant, every) in MISHEARD.items():
            with timed(f"every {every}th film: show what it changes"):
                plan = plan_teaching(shop, db, heard, meant)
            with timed(f"every {every}th film: keep and apply"):
                applied = decide(shop, db, plan, None)
            print(f"  {len(plan.changes)} sentences, {len(applied.films or ())} films read again")
            with timed(f"every {every}th film: take back"):
                decide(shop, db, plan_undoing(shop, db, heard), None)
        with timed("propose words to teach"):
            suggest(shop, db)
        understanding = understanding_of(shop, db, reading.builds(db.conn))
        understanding.language()
        with timed(f"baseline, one film of {films} understood again, without tying it to builds"):
            film = reading.recording(db.conn, "film-0001")
            said = put_right(understanding, reading.sentences(db.conn, film.id), film.date)
            read = understand(understanding, film, said)
            writing.save_reading(db, "film-0001", said, read, reading_key="key")
        db.close()


if __name__ == "__main__":
    main()
