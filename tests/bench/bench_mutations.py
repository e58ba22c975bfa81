"""Damage media files in many ways and see that each gives words or one line, never a crash, a hang or a full memory.

    python -m tests.bench.bench_mutations [--files 300] [--seed 1] [--keep FOLDER]

Makes eight films (container and codec pairs), damages copies of them (bits flipped, cut short, headers swapped, pieces
moved, doubled, zeroed or put in), and has each looked at, listened to and pictured in a process of its own, as an index
does. Prints what became of them; ends with 1 if any crashed, hung, used too much memory or said more than one line.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "media"))
from media_films import tone, write_film

SLOWEST = 60.0  # seconds a file may take
SLOW = 8.0  # seconds from which a file is named
MOST_MEMORY = 600_000  # kilobytes a process may use; about 110,000 are Python, numpy and the libav libraries themselves

# name, sound codec, picture codec: what phones, cameras, browsers and recorders write
PAIRS = (
    ("a.mp4", "aac", "libx264"),
    ("b.mov", "pcm_s16le", "mjpeg"),
    ("c.webm", "libopus", "libvpx"),
    ("d.mkv", "flac", "mpeg4"),
    ("e.avi", "mp3", "mpeg4"),
    ("f.ts", "ac3", "mpeg2video"),
    ("g.mp3", "mp3", None),
    ("h.wav", "pcm_s16le", None),
)

# What the process does with a file: all that an index does with it up to the engine.
WORK = """
import re, sys
from pathlib import Path
from diaryidx.errors import MediaError
from diaryidx.media.decode import decode_blocks
from diaryidx.media.probe import probe
from diaryidx.media.stills import still
from diaryidx.speech.splitting import split

path, lines, seconds = Path(sys.argv[1]), [], 0.0
for work in (
    lambda: probe(path),
    lambda: sum(s.end - s.start for s in split(decode_blocks(path, on_warning=lines.append))),
    lambda: still(path, 2.0),
):
    try:
        result = work()
        seconds = result if isinstance(result, float) else seconds
    except MediaError as error:
        lines.append(str(error))
peak = re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]
print(peak, round(seconds, 2), len(lines), any("\\n" in line for line in lines))
"""


@dataclass(frozen=True)
class Outcome:
    """What became of one damaged file: ``verdict`` is "heard", "refused", or what is wrong with it."""

    name: str
    verdict: str
    seconds: float
    memory: int
    detail: str = ""


def make_films(folder: Path) -> list[Path]:
    """Write the whole films, six seconds each."""
    films = []
    for name, sound, picture in PAIRS:
        fps = 25 if picture == "mpeg2video" else 10
        how = {"picture_seconds": 6, "picture_codec": picture, "fps": fps} if picture else {}
        notes = np.concatenate([tone(1.5, hertz=hertz) for hertz in (300, 500, 800, 1300)])
        films.append(write_film(folder / name, sound=notes, codec=sound, **how))
    return films


def damage(data: bytearray, others: list[bytes], dice: random.Random) -> tuple[str, bytes]:
    """Return the name of a kind of damage and the damaged bytes."""
    size = len(data)
    at, length = dice.randrange(size), dice.randint(1, max(size // 8, 1))
    kind = dice.choice(
        ["bits", "header bits", "cut", "head swapped", "moved", "doubled", "zeroed", "noise", "tail swapped"]
    )
    if kind == "bits":
        for _flip in range(dice.choice([1, 10, 100, 1000])):
            data[dice.randrange(size)] ^= 1 << dice.randrange(8)
    elif kind == "header bits":
        for _flip in range(dice.choice([1, 3, 10, 40])):
            data[dice.randrange(min(size, 600))] ^= 1 << dice.randrange(8)
    elif kind == "cut":
        return kind, bytes(data[:at])
    elif kind == "head swapped":
        head = dice.choice([16, 64, 512, 4096])
        return kind, dice.choice(others)[:head] + bytes(data[head:])
    elif kind == "tail swapped":
        return kind, bytes(data[:at]) + dice.choice(others)[at:]
    elif kind == "moved":
        return kind, bytes(data[:at] + data[at + length :] + data[at : at + length])
    elif kind == "doubled":
        return kind, bytes(data[: at + length] + data[at:])
    elif kind == "zeroed":
        data[at : at + length] = bytes(len(data[at : at + length]))
    else:
        data[at : at + length] = dice.randbytes(len(data[at : at + length]))
    return kind, bytes(data)


def try_file(path: Path) -> Outcome:
    """Work on one file in a process of its own."""
    began = time.perf_counter()
    try:
        run = subprocess.run(
            [sys.executable, "-c", WORK, path], capture_output=True, text=True, timeout=SLOWEST, check=False
        )
    except subprocess.TimeoutExpired:
        return Outcome(path.name, "HUNG", SLOWEST, 0)
    took = time.perf_counter() - began
    if run.returncode:
        return Outcome(path.name, f"CRASHED ({run.returncode})", took, 0, run.stderr[-400:])
    memory, seconds, lines, broken = run.stdout.split()
    if int(memory) > MOST_MEMORY:
        return Outcome(path.name, "TOO MUCH MEMORY", took, int(memory))
    if broken == "True" or run.stderr or (float(seconds) == 0 and lines == "0"):
        return Outcome(path.name, "NOT ONE LINE", took, int(memory), run.stderr[-400:])
    return Outcome(path.name, "heard" if float(seconds) else "refused", took, int(memory))


def main() -> int:
    """Run the bench; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="copy files that fail into this folder")
    given = parser.parse_args()
    dice = random.Random(given.seed)
    outcomes = []
    with tempfile.TemporaryDirectory() as temporary:
        films = make_films(Path(temporary))
        whole = [film.read_bytes() for film in films]
        for number in range(given.files):
            film = films[number % len(films)]
            kind, content = damage(bytearray(film.read_bytes()), whole, dice)
            path = Path(temporary) / f"{number:03} {kind}{film.suffix}"
            path.write_bytes(content)
            outcome = try_file(path)
            outcomes.append(outcome)
            if outcome.verdict not in ("heard", "refused") or outcome.seconds > SLOW:
                print(f"{outcome.name}: {outcome.verdict}, {outcome.seconds:.1f} s {outcome.detail}")
                if given.keep:
                    given.keep.mkdir(parents=True, exist_ok=True)
                    shutil.copy(path, given.keep)
            path.unlink()
    print(f"{len(outcomes)} files, seed {given.seed}:", dict(Counter(outcome.verdict for outcome in outcomes)))
    print(
        f"slowest {max(o.seconds for o in outcomes):.1f} s, most memory {max(o.memory for o in outcomes) / 1000:.0f} MB"
    )
    return int(any(outcome.verdict not in ("heard", "refused") for outcome in outcomes))


if __name__ == "__main__":
    sys.exit(main())
