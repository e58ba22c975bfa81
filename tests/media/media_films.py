"""Small films made with PyAV: every test makes the file that it needs."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

RATE = 48_000


def tone(seconds: float, rate: int = RATE, hertz: float = 440.0, level: float = 0.5) -> np.ndarray:
    """Return a sine of ``seconds`` as int16."""
    return (np.sin(np.arange(round(seconds * rate)) * 2 * np.pi * hertz / rate) * level * 32767).astype(np.int16)


def write_film(
    path: Path,
    sound: np.ndarray | None = None,
    rate: int = RATE,
    codec: str = "pcm_s16le",
    layout: str = "mono",
    starts: list[tuple[float, int, int]] | None = None,
    picture_seconds: float = 0.0,
    picture_codec: str = "mpeg4",
    fps: int = 10,
    format: str | None = None,
    tags: dict[str, str] | None = None,
    options: dict[str, str] | None = None,
) -> Path:
    """Write a film. ``sound`` is int16, (samples,) or (channels, samples).

    ``starts`` are stretches (film time in seconds, first sample, sample after the last); one from 0 if not given.
    Every picture is grey, and its brightness says its second: 20 + 20 * second (modulo 11).
    """
    with av.open(str(path), "w", format=format, options=options or {}) as output:
        output.metadata.update(tags or {})
        sound_track: Any = output.add_stream(codec, rate=rate, layout=layout) if sound is not None else None
        picture_track: Any = output.add_stream(picture_codec, rate=fps) if picture_seconds else None
        if picture_track:
            picture_track.width, picture_track.height = 64, 48
            picture_track.pix_fmt = "yuvj420p" if picture_codec == "mjpeg" else "yuv420p"
        packets = []
        if picture_track:
            packets += _pictures(picture_track, picture_seconds, fps)
        if sound_track:
            packets += _sounds(sound_track, np.atleast_2d(sound), rate, layout, starts)
        for _time, packet in sorted(packets, key=lambda pair: pair[0]):
            output.mux(packet)
    return path


def _pictures(track: Any, seconds: float, fps: int) -> list[tuple[float, Any]]:
    packets = []
    for number in range(round(seconds * fps)):
        grey = np.full((48, 64, 3), 20 + 20 * (number // fps % 11), np.uint8)
        frame = av.VideoFrame.from_ndarray(grey, format="rgb24")
        frame.pts, frame.time_base = number, Fraction(1, fps)
        packets += [(number / fps, packet) for packet in track.encode(frame)]
    return packets + [(seconds, packet) for packet in track.encode(None)]


def _sounds(track: Any, sound: np.ndarray, rate: int, layout: str, starts: Any) -> list[tuple[float, Any]]:
    packets = []
    for time, first, after in starts or [(0.0, 0, sound.shape[1])]:
        size = track.codec_context.frame_size or 1024
        for at in range(first, after, size):
            piece = np.ascontiguousarray(sound[:, at : min(at + size, after)].T).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(piece, format="s16", layout=layout)
            frame.sample_rate, frame.time_base = rate, Fraction(1, rate)
            frame.pts = round(time * rate) + at - first
            packets += [(time + (at - first) / rate, packet) for packet in track.encode(frame)]
    return packets + [(1e9, packet) for packet in track.encode(None)]
