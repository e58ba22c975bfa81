"""Look at a file without decoding it: how long it is, what is in it, and what its tags say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
from av.container import InputContainer

from diaryidx.media.dates import read_date_tag
from diaryidx.media.opening import LIBAV_ERRORS, film_origin, open_recording, picture_stream, sound_stream

# Formats without a stated length: libav guesses it from the bit rate, so the packets are counted instead.
GUESSED_LENGTH = frozenset(
    {"aac", "ac3", "amr", "amrnb", "amrwb", "dts", "dtshd", "eac3", "h263", "h264", "hevc", "loas", "m4v", "mjpeg"}
    | {"mp3", "mpegvideo", "obu"}
)
LONGEST_STATED = 100 * 3600.0  # seconds; a longer stated length is checked against the packets. Own choice.
LOWEST_BIT_RATE = 500.0  # bits per second; below this the stated length is checked (speech codecs begin at 700)
LONGEST_GAP = 3600.0  # seconds; packets further apart are counted by their lengths instead of their times

# Tags that say when a film was made, the most trustworthy first. QuickTime's own date carries the local time zone, the
# others are UTC or a bare date. Sources: Apple QuickTime metadata keys, Matroska tag specification (from memory).
DATE_TAGS = (
    "com.apple.quicktime.creationdate",
    "date_recorded",
    "date_digitized",
    "creation_time",
    "wm/encodingtime",
    "date",
)


@dataclass(frozen=True)
class Probe:
    """What a file is. ``duration`` in seconds as a player shows it, ``sample_rate`` in hertz.

    ``container_date`` is an ISO 8601 date or date and time out of the tags; ``container`` is libav's name of the
    container format, e.g. "mov,mp4,m4a,3gp,3g2,mj2".
    """

    duration: float
    has_picture: bool
    has_sound: bool
    container_date: str | None
    title: str | None
    container: str
    sample_rate: int | None
    channels: int | None


def probe(path: Path) -> Probe:
    """Return what ``path`` is: length, tracks, date and title tags.

    The length is the container's own where it states one that can be believed; otherwise all packets are read (not
    decoded), which takes about a second per gigabyte.

    Raises MediaError: missing, empty, unreadable, or neither video nor audio. A missing sound track is no error here.
    """
    with open_recording(path) as container:
        sound = sound_stream(container)
        tags = gather_tags(container)
        return Probe(
            has_picture=picture_stream(container) is not None,
            has_sound=sound is not None,
            container_date=next(filter(None, (read_date_tag(tags.get(name)) for name in DATE_TAGS)), None),
            title=(tags.get("title") or "").strip() or None,
            container=container.format.name,
            sample_rate=(sound.sample_rate or None) if sound else None,
            channels=(sound.channels or None) if sound else None,
            duration=film_duration(container, path.stat().st_size),
        )


def gather_tags(container: InputContainer) -> dict[str, str]:
    """Return the tags of the container and, where it is silent, of its tracks, with names in lower case."""
    tags: dict[str, str] = {}
    for metadata in (*(stream.metadata for stream in reversed(list(container.streams))), container.metadata):
        tags.update({name.lower(): value for name, value in metadata.items() if value.strip()})
    return tags


def film_duration(container: InputContainer, size: int) -> float:
    """Return the film's length in seconds, 0.0 if nothing at all can be read from it.

    ``size`` is the file's size in bytes. Reads all packets where the stated length is missing, a guess or absurd, so
    call it last: afterwards the container is at its end.
    """
    stated = (container.duration or 0) / av.time_base
    guessed = container.format.name in GUESSED_LENGTH or (
        "matroska" in container.format.name and picture_stream(container) is None
    )
    absurd = stated > LONGEST_STATED or size * 8 < stated * LOWEST_BIT_RATE
    if stated > 0 and not guessed and not absurd:
        return stated
    measured = packets_duration(container)
    return measured if measured > 0 or absurd else max(stated, 0.0)


def packets_duration(container: InputContainer) -> float:
    """Return the time, in seconds after the film's start, at which its last packet of sound or picture ends."""
    origin = film_origin(container)
    streams = [s for s in (*container.streams.audio, *container.streams.video) if s.codec_context is not None]
    ends: dict[int, float] = {}
    for packet in _packets(container, streams):
        length = float((packet.duration or 0) * packet.time_base) if packet.time_base else 0.0
        length = length if 0 <= length <= LONGEST_GAP else 0.0
        before = ends.get(packet.stream_index, 0.0)
        time = float(packet.pts * packet.time_base) - origin if packet.pts is not None and packet.time_base else before
        # A clock that leaps is not believed: the film is then as long as its packets together.
        start = time if -LONGEST_GAP < time - before <= LONGEST_GAP else before
        ends[packet.stream_index] = max(before, start + length)
    return max(ends.values(), default=0.0)


def _packets(container: InputContainer, streams: Iterable[Any]) -> Iterable[Any]:
    """Yield packets until the file ends or breaks off; what follows a break cannot be timed."""
    wanted = list(streams)
    if not wanted:
        return
    try:
        yield from (packet for packet in container.demux(wanted) if packet.size)
    except LIBAV_ERRORS:
        return
