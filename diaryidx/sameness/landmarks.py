"""How a film sounds, in a few bytes a second: the landmarks of A. Wang, "An Industrial-Strength Audio Search Algorithm"
(Proc. ISMIR, 2003).

The places in time and pitch where sound is stronger than all around it survive coding, noise and loudness. They are
found block by block while a film is decoded anyway, and kept. Pairs of neighbouring ones make hashes that two
recordings of the same sound share (`sameness.alignment`). The figures are our own choice; what comes of them shows
`tests/bench/bench_fingerprint.py`.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from diaryidx.media.decode import SAMPLE_RATE

#: Names the method; landmarks of two methods are not compared.
METHOD = "landmarks 1"
#: Samples of a window of sound, and from one window to the next: 64 and 32 milliseconds.
WINDOW, HOP = 1024, 512
SECONDS_A_FRAME = HOP / SAMPLE_RATE
#: Pitches that are looked at, in bins of 15.6 Hz: narrow codecs keep what is between 100 and 3,900 Hz.
LOWEST, HIGHEST = 6, 250
#: A landmark is stronger than everything within so many frames and bins.
FRAMES_AROUND, BINS_AROUND = 7, 10
#: At most so many landmarks a second are kept, the strongest.
MOST_A_SECOND = 12
#: What is weaker than this, as a share of full scale, is taken for silence.
SILENCE = 10 ** (-60 / 20)
#: Frames that are looked at in one go, 20 seconds to the frame, so that seconds are not cut by it.
_CHUNK = 625

Frames = npt.NDArray[np.int32]
Bins = npt.NDArray[np.uint8]
Sound = npt.NDArray[np.int16]
Spectrum = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Landmarks:
    """The landmarks of a film in the order of time: frames of `SECONDS_A_FRAME`, and bins; ``seconds`` long."""

    frames: Frames
    bins: Bins
    seconds: float


@dataclass(slots=True)
class Ear:
    """Takes in a film's sound block by block, and then tells its landmarks. Holds about 20 seconds of sound."""

    samples: int = 0
    _held: list[Sound] = field(default_factory=list)
    _frame: int = 0
    _found: list[tuple[Frames, Bins]] = field(default_factory=list)

    def hear(self, block: Sound) -> None:
        """Take in the next samples, 16 kHz mono int16."""
        self._held.append(block)
        self.samples += len(block)
        while sum(map(len, self._held)) >= (_CHUNK + 2 * FRAMES_AROUND) * HOP + WINDOW:
            self._look(_CHUNK)

    def listening(self, blocks: Iterable[Sound]) -> Iterator[Sound]:
        """Pass blocks of sound on, and hear each on its way."""
        for block in blocks:
            self.hear(block)
            yield block

    def landmarks(self) -> Landmarks:
        """The landmarks of all that was heard."""
        self._look(None)
        frames = np.concatenate([np.zeros(0, np.int32), *(frames for frames, _ in self._found)])
        bins = np.concatenate([np.zeros(0, np.uint8), *(bins for _, bins in self._found)])
        return Landmarks(frames, bins, self.samples / SAMPLE_RATE)

    def _look(self, count: int | None) -> None:
        """Find the landmarks of the next frames, or of all that is left; some before and after are held for them."""
        sound = np.concatenate(self._held) if self._held else np.zeros(0, np.int16)
        before = min(self._frame, FRAMES_AROUND)
        needed = len(sound) if count is None else (before + count + FRAMES_AROUND - 1) * HOP + WINDOW
        spectrum = _spectrum(sound[:needed])
        end = len(spectrum) if count is None else before + count
        frames, bins = _peaks(spectrum, before, end)
        self._found.append(((frames - before + self._frame).astype(np.int32), (bins + LOWEST).astype(np.uint8)))
        self._frame += end - before
        self._held = [sound[(end - min(self._frame, FRAMES_AROUND)) * HOP :]]


def packed(landmarks: Landmarks) -> bytes:
    """Landmarks as the database keeps them: steps in time, then bins, compressed."""
    steps = np.diff(landmarks.frames, prepend=0).astype("<u4").tobytes()
    return zlib.compress(steps + landmarks.bins.tobytes(), 9)


def unpacked(data: bytes, seconds: float) -> Landmarks:
    """The landmarks that `packed` packed."""
    raw = zlib.decompress(data)
    count = len(raw) // 5
    frames = np.cumsum(np.frombuffer(raw, "<u4", count)).astype(np.int32)
    return Landmarks(frames, np.frombuffer(raw, np.uint8, count, offset=4 * count), seconds)


def _spectrum(sound: Sound) -> Spectrum:
    """Strength of each pitch in each frame, shape (frames, bins), full scale 1."""
    if len(sound) < WINDOW:
        return np.zeros((0, HIGHEST - LOWEST), np.float32)
    windows = np.lib.stride_tricks.sliding_window_view(sound, WINDOW)[::HOP]
    shape = np.hanning(WINDOW).astype(np.float32) / (32768.0 * WINDOW / 4)
    bands = np.fft.rfft(windows * shape, axis=1)[:, LOWEST:HIGHEST]
    return np.abs(bands).astype(np.float32)


def _peaks(spectrum: Spectrum, first: int, end: int) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """The frames and bins of landmarks between two frames, in the order of time."""
    around = _largest_around(_largest_around(spectrum, FRAMES_AROUND).T, BINS_AROUND).T
    candidate = (spectrum >= around) & (spectrum > SILENCE)
    candidate[:first] = candidate[end:] = False
    frames, bins = np.nonzero(candidate)
    second = ((frames - first) * SECONDS_A_FRAME).astype(int)
    kept = _strongest(second, spectrum[frames, bins])
    return frames[kept], bins[kept]


def _strongest(second: npt.NDArray[np.intp], strength: Spectrum) -> npt.NDArray[np.intp]:
    """The places of the strongest of each second, in order, so that rich passages take no more room than others."""
    order = np.lexsort((-strength, second))
    rank = np.arange(len(order)) - np.searchsorted(second[order], second[order])
    return np.sort(order[rank < MOST_A_SECOND])


def _largest_around(values: Spectrum, reach: int) -> Spectrum:
    """For each row the largest of the rows within a reach, column by column; by doubling, which costs few steps."""
    edge = np.zeros((reach, values.shape[1]), np.float32)
    padded = np.concatenate([edge, values, edge])
    width, size = 2 * reach + 1, 1
    while size * 2 <= width:
        padded = np.maximum(padded[:-size], padded[size:])
        size *= 2
    rest = width - size
    return np.maximum(padded[: len(padded) - rest], padded[rest:]) if rest else padded
