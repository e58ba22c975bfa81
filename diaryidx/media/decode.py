"""Turn the sound of any recording into 16 kHz mono samples that lie where they are heard in the film.

The way of a sample: packets -> ``_frames`` (what decodes) -> ``_runs`` (unbroken sound, at film time) -> ``_placed``
(resampled, each piece with its place) -> ``_gapless`` (gaps filled, overlaps dropped) -> blocks of one second.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler
from av.container import InputContainer
from numpy.typing import NDArray

from diaryidx.errors import MediaError
from diaryidx.media.files import shown
from diaryidx.media.opening import LIBAV_ERRORS, film_origin, open_recording, read_only, sound_stream

SAMPLE_RATE = 16_000  # hertz: what speech engines of this kind are trained on

Samples = NDArray[np.int16]
Report = Callable[[str], None]

# All limits below are own choices, against files that are damaged or lie.
JITTER = 0.04  # seconds by which a track's clock may wander before sound is moved to where the clock says
LONGEST_GAP = 3600.0  # seconds; a clock that leaps further ahead is not believed, the sound goes on without a gap
LONGEST_OVERLAP = 5.0  # seconds; a clock that falls back further has begun anew, the sound goes on likewise
MOST_SILENCE = 4 * 3600 * SAMPLE_RATE  # samples of silence put into one film, all gaps together
MOST_SAMPLES = 48 * 3600 * SAMPLE_RATE  # samples decoded from one film
MOST_BAD_READS = 20  # reads that may fail in a row before the rest of a file is given up
MOST_EMPTY_PACKETS = 200_000  # packets in a row that may decode to nothing
LOWEST_RATE, HIGHEST_RATE = 2_000, 768_000  # hertz
PIECE = 8_192  # samples, at the film's own rate, that are resampled in one go

# Containers with a true index: a seek lands where it says. In others the film is decoded from its beginning.
SEEKABLE = ("mov,mp4", "matroska", "wav", "avi")


@dataclass
class _Tally:
    """What went wrong on the way, told in one line each at the end."""

    bad_packets: int = 0
    broken_off: bool = False
    leaps: int = 0
    silence: int = 0  # samples put in, of which ``missing`` between sound and sound
    missing: int = 0


def decode_blocks(
    path: Path, start: float = 0.0, end: float | None = None, on_warning: Report | None = None
) -> Iterator[Samples]:
    """Yield the film's sound as blocks of 16 kHz mono int16 samples, one second each (the last may be shorter).

    The first sample is the sound at ``start`` seconds, and the n-th the sound n / 16000 seconds later, as a player
    plays it: a track that begins late or has gaps is filled with silence, overlapping sound is dropped, damaged
    packets are left out and become silence. All channels are averaged. Memory does not grow with the film's length.

    Args:
        path: any video or audio file.
        start, end: seconds from the start of the film; ``end`` None means to the end of the sound.
        on_warning: called with one line for each kind of damage, when all that can be decoded has been.

    Raises MediaError: the file cannot be opened, has no sound track, or none of its sound decodes.
    """
    with open_recording(path) as container:
        stream = sound_stream(container)
        if stream is None:
            raise MediaError(f"{shown(path)}: has no sound track that can be played, so there is nothing to listen to")
        tally = _Tally()
        position = round(max(start, 0.0) * SAMPLE_RATE)
        stop = None if end is None else round(end * SAMPLE_RATE)
        decoded = 0
        for block in _blocks(_gapless(_sound(container, stream, start, tally), position, stop, tally)):
            decoded += len(block)
            yield block
        for line in _warnings(container, stream, tally, None if end is not None else start + decoded / SAMPLE_RATE):
            if on_warning:
                on_warning(f"{shown(path)}: {line}")
        if not decoded and not start and (end is None or end > 0):
            raise MediaError(
                f"{shown(path)}: none of its sound can be decoded; play it, and copy it again if it is mute"
            )


def _sound(container: InputContainer, stream: Any, start: float, tally: _Tally) -> Iterator[tuple[int, Samples]]:
    """Yield pieces of 16 kHz sound, each with the place of its first sample, from somewhere before ``start`` on."""
    read_only(container, stream)
    origin = film_origin(container)
    if start > 1 and container.format.name.startswith(SEEKABLE):
        _seek(container, stream, origin + start - 1)
    else:
        start = 0.0
    return _placed(_runs(_frames(container, stream, tally), origin, start, tally))


def _seek(container: InputContainer, stream: Any, seconds: float) -> None:
    """Go to the last packet before a time of the container; where that fails the film is read on from where it is."""
    try:
        container.seek(math.floor(seconds / stream.time_base), stream=stream)
    except LIBAV_ERRORS:
        with suppress(*LIBAV_ERRORS):
            container.seek(0)


def _frames(container: InputContainer, stream: Any, tally: _Tally) -> Iterator[AudioFrame]:
    """Yield every frame of sound that decodes; count the packets that don't, and stop where reading fails for good."""
    packets = container.demux(stream)
    bad_reads = empty = 0
    while bad_reads < MOST_BAD_READS and empty < MOST_EMPTY_PACKETS:
        try:
            packet = next(packets)
            bad_reads = 0
        except StopIteration:
            return
        except LIBAV_ERRORS:
            bad_reads += 1
            packets = container.demux(stream)
            continue
        try:
            frames = [frame for frame in packet.decode() if isinstance(frame, AudioFrame)]
        except LIBAV_ERRORS:
            tally.bad_packets += 1
            frames = []
        empty = 0 if frames else empty + 1
        yield from frames
    tally.broken_off = True


@dataclass
class _Piece:
    """Mono sound at its own rate, as floats from -1 to 1. ``start`` is its film time if a new run begins with it."""

    rate: int
    sound: NDArray[np.float32]
    start: float | None


def _runs(frames: Iterator[AudioFrame], origin: float, start: float, tally: _Tally) -> Iterator[_Piece]:
    """Yield the frames as mono sound; a new run begins where the track's clock and its sound part ways.

    ``start`` is the time sought, 0.0 if none was: the first frame may lie anywhere before it.
    """
    rate = 0
    expected = start
    shift = -origin
    earliest = -LONGEST_OVERLAP - start
    for frame in frames:
        if not (LOWEST_RATE <= frame.sample_rate <= HIGHEST_RATE) or not frame.samples:
            tally.bad_packets += 1
            continue
        time = expected if frame.time is None else frame.time + shift
        if not earliest < time - expected < LONGEST_GAP:
            tally.leaps += bool(rate)  # a track that begins at an odd time is no damage
            shift += expected - time
            time = expected
        earliest = -LONGEST_OVERLAP
        breaks = rate != frame.sample_rate or abs(time - expected) > JITTER
        rate = frame.sample_rate
        yield _Piece(rate, _mono(frame), time if breaks else None)
        expected = (time if breaks else expected) + frame.samples / rate


def _mono(frame: AudioFrame) -> NDArray[np.float32]:
    """Return a frame's sound as floats from -1 to 1, all channels averaged, whatever their layout is called."""
    sound: NDArray[Any] = frame.to_ndarray()
    if not frame.format.is_planar:
        sound = sound.reshape(frame.samples, -1).T
    if sound.dtype.kind == "f":
        floats = np.nan_to_num(sound.astype(np.float32), posinf=1.0, neginf=-1.0).clip(-1.0, 1.0)
    elif sound.dtype == np.uint8:
        floats = (sound.astype(np.float32) - 128.0) / 128.0
    else:
        floats = sound.astype(np.float32) / np.float32(2.0 ** (8 * sound.dtype.itemsize - 1))
    return np.asarray(floats.mean(axis=0), np.float32)


@dataclass
class _Run:
    """Unbroken sound on its way through one resampler.

    ``place`` is the film sample that comes out next; ``owed`` are the samples that the input so far is worth, less
    those that have come out.
    """

    rate: int
    place: int
    owed: float
    resampler: AudioResampler
    held: list[NDArray[np.float32]]


def _placed(pieces: Iterator[_Piece]) -> Iterator[tuple[int, Samples]]:
    """Resample run by run to 16 kHz; yield each result with the place of its first sample in the film."""
    run: _Run | None = None
    for piece in pieces:
        if piece.start is not None or run is None:
            yield from _drain(run, flush=True)
            resampler = AudioResampler(format="s16", layout="mono", rate=SAMPLE_RATE)
            run = _Run(piece.rate, round((piece.start or 0.0) * SAMPLE_RATE), 0.0, resampler, [])
        run.held.append(piece.sound)
        if sum(map(len, run.held)) >= PIECE:
            yield from _drain(run, flush=False)
    yield from _drain(run, flush=True)


def _drain(run: _Run | None, flush: bool) -> Iterator[tuple[int, Samples]]:
    """Resample what a run holds; with ``flush`` end it, as long as its input was, to the sample."""
    if run is None:
        return
    sound = np.concatenate(run.held) if run.held else np.zeros(0, np.float32)
    run.held.clear()
    run.owed += len(sound) * SAMPLE_RATE / run.rate
    samples = _resample(run.resampler, sound, run.rate, flush)
    if flush:
        samples = samples[: max(round(run.owed), 0)]
    if len(samples):
        yield run.place, samples
    run.place += len(samples)
    run.owed -= len(samples)


def _resample(resampler: AudioResampler, sound: NDArray[np.float32], rate: int, flush: bool) -> Samples:
    """Put mono floats through libswresample; with ``flush`` also what it still holds back."""
    outputs: list[Any] = []
    if len(sound):
        frame = AudioFrame.from_ndarray(np.ascontiguousarray(sound)[np.newaxis], format="fltp", layout="mono")
        frame.sample_rate = rate
        outputs += resampler.resample(frame)
    if flush:
        outputs += resampler.resample(None)
    return np.concatenate([np.zeros(0, np.int16), *(out.to_ndarray().reshape(-1) for out in outputs if out)])


def _gapless(
    placed: Iterator[tuple[int, Samples]], position: int, stop: int | None, tally: _Tally
) -> Iterator[Samples]:
    """Yield sound without gaps from ``position`` to ``stop``: silence where there is none, nothing heard twice."""
    shift = decoded = 0
    for place, samples in placed:
        place += shift
        gap = place - position
        if gap > 0:
            room = MOST_SILENCE - tally.silence
            if gap > room:  # so much silence is damage, not film: close the gap, also for what follows
                shift -= gap - room
                tally.leaps += 1
                gap = room
            gap = gap if stop is None else min(gap, stop - position)
            tally.silence += gap
            tally.missing += gap if decoded else 0
            yield from _silence(gap)
            position += gap
            place = min(place, position)
        fresh = samples[max(position - place, 0) :]
        fresh = fresh if stop is None else fresh[: max(stop - position, 0)]
        if len(fresh):
            yield fresh
        position += len(fresh)
        decoded += len(fresh)
        if decoded >= MOST_SAMPLES or (stop is not None and position >= stop):
            return


def _silence(length: int) -> Iterator[Samples]:
    """Yield ``length`` samples of silence in blocks."""
    for done in range(0, length, SAMPLE_RATE):
        yield np.zeros(min(SAMPLE_RATE, length - done), np.int16)


def _blocks(pieces: Iterator[Samples]) -> Iterator[Samples]:
    """Regroup pieces of any size into blocks of one second; the last may be shorter."""
    held: list[Samples] = []
    size = 0
    for piece in pieces:
        held.append(piece)
        size += len(piece)
        if size >= SAMPLE_RATE:
            sound = np.concatenate(held)
            whole = size - size % SAMPLE_RATE
            yield from (sound[at : at + SAMPLE_RATE] for at in range(0, whole, SAMPLE_RATE))
            held, size = [sound[whole:].copy()], size - whole
    if size:
        yield np.concatenate(held)


def _warnings(container: InputContainer, stream: Any, tally: _Tally, reached: float | None) -> Iterator[str]:
    """Yield one line for each kind of damage. ``reached`` is where the sound ended, None if an end was asked for."""
    if tally.bad_packets:
        yield f"{_count(tally.bad_packets, 'damaged piece')} of sound left out; the rest was heard"
    if tally.missing >= SAMPLE_RATE:
        yield f"{_clock(tally.missing / SAMPLE_RATE)} of sound is missing in between and was taken for silence"
    if tally.leaps:
        yield f"its clock leaps in {_count(tally.leaps, 'place')}; times after a leap may be wrong"
    stated = float(stream.duration * stream.time_base) if stream.duration and stream.time_base else 0.0
    stated = stated or (container.duration or 0) / av.time_base
    if reached is None or tally.leaps:
        return
    if tally.broken_off or reached < stated - max(2.0, 0.02 * stated):
        lacking = f"though the file says {_clock(stated)}" if stated > reached else "where the file breaks off"
        yield f"its sound ends at {_clock(reached)} {lacking}; the rest is missing or damaged"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _clock(seconds: float) -> str:
    """Return seconds as people read them: 1:02:03 or 4:05."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02}:{rest:02}" if minutes >= 60 else f"{minutes}:{rest:02}"
