"""Small sound files for tests, made from the demo's films or from samples."""

from __future__ import annotations

import wave
from pathlib import Path

import av
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


def encode(path: Path, samples: NDArray[np.int16], codec: str, rate: int, bit_rate: int) -> Path:
    """Write 16 kHz int16 mono samples with a lossy codec: libmp3lame into .mp3, libopus into .ogg, aac into .m4a."""
    with av.open(str(path), "w") as container:
        track = container.add_stream(codec, rate=rate, layout="mono")
        track.bit_rate = bit_rate
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples).reshape(1, -1), format="s16", layout="mono")
        frame.sample_rate = SAMPLE_RATE
        resampler = av.AudioResampler(format=track.format.name, layout="mono", rate=rate)
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            piece.pts = None  # the encoder counts; the resampler's own count may end before its last piece
            container.mux(track.encode(piece))
        container.mux(track.encode(None))
    return path


def excerpt(film: Path, path: Path, *, seconds: float, start: float = 0.0) -> Path:
    """A stretch of a film's sound as a 16 kHz WAV file."""
    return write_wav(path, np.concatenate(list(decode_blocks(film, start, start + seconds))))
