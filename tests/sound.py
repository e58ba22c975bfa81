"""Small sound files for tests, made from the demo's films or from samples."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from diaryidx.media.decode import SAMPLE_RATE, decode_blocks


def write_wav(path: Path, samples: NDArray[np.int16], rate: int = SAMPLE_RATE) -> Path:
    """Write int16 mono samples as a WAV file."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.astype("<i2").tobytes())
    return path


def excerpt(film: Path, path: Path, *, seconds: float, start: float = 0.0) -> Path:
    """A stretch of a film's sound as a 16 kHz WAV file."""
    return write_wav(path, np.concatenate(list(decode_blocks(film, start, start + seconds))))
