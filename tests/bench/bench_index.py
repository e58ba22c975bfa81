"""How long an index with nothing new takes beside thousands of known films, as a whole process.

    python -m tests.bench.bench_index [FILMS]

The baseline, named and run side by side: `diaryidx --version`, which starts the same program and does nothing. The
known films are sparse files of 250 MB, so that reading even a little of each would show.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path

from diaryidx.indexing import reading_key
from diaryidx.shop import load_shop
from diaryidx.store.database import open_store, writing
from diaryidx.store.writing import RecordingRow

RUNS = 7
FILM_BYTES = 250_000_000


def shop_of_known_films(folder: Path, films: int) -> None:
    """A shop whose database lists that many films as indexed, and whose recordings folder holds them."""
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text('[speech]\nengine = "vosk"\nmodel = "mini"\n')
    shop = load_shop(folder)
    db = open_store(shop.database)
    key = reading_key(shop)
    with writing(db):
        for number in range(films):
            path = shop.recordings / f"{2000 + number // 366}" / f"film {number:05d}.mp4"
            path.parent.mkdir(exist_ok=True)
            with path.open("wb") as file:
                file.truncate(FILM_BYTES)
            stat = path.stat()
            name = path.relative_to(shop.recordings).as_posix()
            row = RecordingRow(
                f"film-{number}", name, stat.st_size, stat.st_mtime_ns, str(number), name, "diary", "2026-05-01",
                "file name", "2026-05", 3600.0, True, "vosk:vosk-mini-en", key, "indexed",
            )  # fmt: skip
            db.table("recordings").insert(asdict(row))
    db.close()


def seconds(command: list[str]) -> float:
    """The median wall time of a whole process, after one run that does not count."""
    times = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:])


def main() -> None:
    """Print both times and their ratio."""
    films = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    program = [sys.executable, "-m", "diaryidx.cli"]
    with tempfile.TemporaryDirectory() as folder:
        shop_of_known_films(Path(folder) / "shop", films)
        nothing_new = seconds([*program, "index", "--shop", str(Path(folder) / "shop")])
    start_up = seconds([*program, "--version"])
    print(f"index with nothing new, {films} known films: {nothing_new:.2f} s")
    print(f"diaryidx --version:                          {start_up:.2f} s")
    print(f"ratio: {nothing_new / start_up:.1f}")


if __name__ == "__main__":
    main()
