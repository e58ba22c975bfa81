"""What is known again by its sound, and what that costs: the demo's films, encoded anew, trimmed, noisy, cut, sped up.

Run as ``python -m tests.bench.bench_fingerprint``. Named baseline for the cost: decoding the same films.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from diaryidx.media.decode import SAMPLE_RATE, decode_blocks
from diaryidx.resources import demo_shop_folder
from diaryidx.sameness.alignment import GLANCE, Shared, hashes, may_share, shared
from diaryidx.sameness.following import LEAST_SECONDS, LEAST_SHARE
from diaryidx.sameness.landmarks import Ear, Landmarks, packed
from tests.sound import encode

Sound = NDArray[np.int16]
CODECS = {
    "mp3 32 kbit/s": ("x.mp3", "libmp3lame", 22050, 32000),
    "mp3 16 kbit/s": ("x.mp3", "libmp3lame", 16000, 16000),
    "opus 12 kbit/s": ("x.ogg", "libopus", 48000, 12000),
    "opus 8 kbit/s": ("x.ogg", "libopus", 48000, 8000),
    "aac 24 kbit/s": ("x.m4a", "aac", 22050, 24000),
    "aac 16 kbit/s": ("x.m4a", "aac", 16000, 16000),
}


def landmarks(sound: Sound) -> Landmarks:
    ear = Ear()
    for start in range(0, len(sound), SAMPLE_RATE):
        ear.hear(sound[start : start + SAMPLE_RATE])
    return ear.landmarks()


def related(stretches: list[Shared], one: Landmarks, other: Landmarks) -> bool:
    """As `sameness.following` decides it."""
    together = sum(stretch.seconds for stretch in stretches)
    return bool(stretches) and together >= min(LEAST_SECONDS, LEAST_SHARE * min(one.seconds, other.seconds))


def changed(sound: Sound, random: np.random.Generator, folder: Path) -> Iterator[tuple[str, Sound, float | None]]:
    """The same film in other files: what was done, its sound, and the true offset in seconds (None where it moves)."""
    for name, (file, codec, rate, bit_rate) in CODECS.items():
        cut, end = random.uniform(2, 20), random.uniform(2, 20)
        part = sound[round(cut * SAMPLE_RATE) : len(sound) - round(end * SAMPLE_RATE)]
        yield (
            f"{name}, trimmed",
            np.concatenate(list(decode_blocks(encode(folder / file, part, codec, rate, bit_rate)))),
            cut,
        )
    loudness = np.sqrt(np.mean(sound.astype(float) ** 2))
    for decibels in (10, 0):
        noise = random.normal(0, loudness * 10 ** (-decibels / 20), len(sound))
        yield f"noise at {decibels} dB", (0.5 * (sound + noise)).clip(-32768, 32767).astype(np.int16), 0.0
    for speed in (1.002, 1.01):
        places = np.arange(0, len(sound) - 1, speed)
        yield f"{speed - 1:.1%} faster", np.interp(places, np.arange(len(sound)), sound).astype(np.int16), None


def known_again(films: dict[str, Sound], folder: Path) -> None:
    random = np.random.default_rng(1)
    known = {name: landmarks(sound) for name, sound in films.items()}
    hashed = {name: hashes(found) for name, found in known.items()}
    rows: dict[str, list[tuple[bool, float, float, int]]] = {}
    for name, sound in films.items():
        for what, other, offset in changed(sound, random, folder):
            new = landmarks(other)
            stretches = shared(hashes(new), hashed[name])
            wrong = sum(
                related(shared(hashes(new), hashed[else_]), new, known[else_]) for else_ in films if else_ != name
            )
            errors = [abs(one.other_start - one.start - offset) for one in stretches] if offset is not None else []
            covered = sum(one.seconds for one in stretches) / new.seconds
            rows.setdefault(what, []).append(
                (related(stretches, new, known[name]), covered, max(errors, default=0.0), wrong)
            )
    print(f"| file | known again, of {len(films)} | film covered | largest error of its offset | taken for another |")
    print("| --- | --- | --- | --- | --- |")
    for what, found in rows.items():
        right, covered, error, wrong = zip(*found, strict=True)
        print(f"| {what} | {sum(right)} | {np.mean(covered):.0%} | {max(error):.3f} s | {sum(wrong)} |")


def piecewise(films: dict[str, Sound], folder: Path) -> None:
    """Cuts of five to nine pieces in any order, as aac, against their footage."""
    random = np.random.default_rng(2)
    found = pieces = 0
    errors: list[float] = []
    for sound in films.values():
        for _ in range(3):
            spans = [
                (start, start + random.uniform(5, 25))
                for start in random.uniform(0, len(sound) / SAMPLE_RATE - 26, random.integers(5, 10))
            ]
            cut = np.concatenate([sound[round(a * SAMPLE_RATE) : round(b * SAMPLE_RATE)] for a, b in spans])
            path = encode(folder / "cut.m4a", cut, "aac", 44100, 64000)
            stretches = shared(hashes(landmarks(np.concatenate(list(decode_blocks(path))))), hashes(landmarks(sound)))
            at = 0.0
            for start, end in spans:
                middle = at + (end - start) / 2
                offsets = [one.other_start - one.start for one in stretches if one.start <= middle < one.end]
                pieces += 1
                error = min((abs(offset - (start - at)) for offset in offsets), default=9.0)
                found += error < 0.1
                errors += [error] if error < 0.1 else []
                at += end - start
    print(f"cuts from footage: {found} of {pieces} pieces found, largest error of an offset {max(errors):.3f} s")


def timed(job: Callable[[], object]) -> float:
    started = time.process_time()
    job()
    return time.process_time() - started


def cost(paths: list[Path], films: dict[str, Sound]) -> None:
    hours = sum(map(len, films.values())) / SAMPLE_RATE / 3600
    decoding = timed(lambda: [list(decode_blocks(path)) for path in paths])
    hearing = timed(lambda: [landmarks(sound) for sound in films.values()])
    size = sum(len(packed(landmarks(sound))) for sound in films.values())
    print(
        f"\nlandmarks take {hearing / decoding:.0%} of the time of decoding ({hearing / hours:.1f} s an hour of film)"
    )
    print(f"kept: {size / hours / 1024:.0f} KiB an hour of film")
    whole = np.concatenate(list(films.values()))
    hour = landmarks(np.tile(whole, 4)[: 3600 * SAMPLE_RATE])
    places = np.arange(0, len(whole) - 1, 1.13)
    other = landmarks(
        np.tile(np.interp(places, np.arange(len(whole)), whole).astype(np.int16), 4)[: 3600 * SAMPLE_RATE]
    )
    glance = hashes(hour, GLANCE)
    print(f"held against one unrelated hour: {timed(lambda: may_share(glance, hashes(other, GLANCE))) * 1000:.0f} ms")
    print(f"against the same hour: {timed(lambda: shared(hashes(hour), hashes(hour))) * 1000:.0f} ms")


def main() -> None:
    paths = sorted(demo_shop_folder().rglob("*.webm"))
    films = {path.stem: np.concatenate(list(decode_blocks(path))) for path in paths}
    with tempfile.TemporaryDirectory() as folder:
        piecewise(films, Path(folder))
        known_again(films, Path(folder))
    cost(paths, films)


if __name__ == "__main__":
    main()
