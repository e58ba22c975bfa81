"""Which stretches of two films are the same sound, from their landmarks.

A hash is made of each landmark and each of the next few: both pitches and the time between them. What two films share
is found as A. Wang describes it: equal hashes whose places in both films differ by the same time pile up at the true
offset, while chance ones are scattered. A film may be cut from another in several pieces, so the hashes that agree on
an offset are told apart into runs, each a stretch of both films.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from diaryidx.sameness.landmarks import SECONDS_A_FRAME, Landmarks

#: Each landmark is paired with so many of those that follow it within so many frames (2 seconds) and bins.
FAN_OUT, LONGEST_STEP, WIDEST_STEP = 6, 63, 96
#: A shared stretch is at least so long, has at least so many equal hashes in all and a second, and no longer hole.
SHORTEST, LEAST_HASHES, LEAST_DENSE, LONGEST_HOLE = 3.0, 10, 1.0, 2.5
#: Stretches of one offset are one, whatever is between them, if that is no longer than this; silence has no landmarks.
LONGEST_BRIDGE, SAME_OFFSET = 30.0, 0.1
#: How far a stretch goes on beyond its first and last equal hash: to a cut, and to the end of a film.
TO_A_CUT, TO_AN_END = 1.25, 20.0
#: A first look takes so many-th pitches only, and goes on where so many of their hashes agree.
GLANCE, GLANCE_HASHES = 4, 6
#: Equal hashes agree on an offset when they differ by no more than a frame.
_NEAR = 1
#: What is heard more often than this in one film tells nothing about where it is.
_MOST_REPEATED = 24

Integers = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Shared:
    """From ``start`` to ``end`` of one film one hears what begins at ``other_start`` in the other; all in seconds.

    ``hashes`` counts the equal hashes that say so.
    """

    start: float
    end: float
    other_start: float
    hashes: int

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Hashes:
    """The hashes of a film, sorted, the frame at which each is, and the length of the film in seconds."""

    values: Integers
    frames: Integers
    seconds: float


def hashes(landmarks: Landmarks, every: int = 1) -> Hashes:
    """The hashes of a film; with ``every`` only those of each so-many-th pitch, for a first look."""
    frames, bins = landmarks.frames.astype(np.int64), landmarks.bins.astype(np.int64)
    values, places = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    paired = np.zeros(len(frames), dtype=int)
    for ahead in range(1, 4 * FAN_OUT):
        step, rise = frames[ahead:] - frames[:-ahead], bins[ahead:] - bins[:-ahead]
        fits = (
            (bins[:-ahead] % every == 0)
            & (step > 1)
            & (step <= LONGEST_STEP)
            & (np.abs(rise) <= WIDEST_STEP)
            & (paired[:-ahead] < FAN_OUT)
        )
        paired[:-ahead][fits] += 1
        values.append(bins[:-ahead][fits] << 16 | (rise[fits] + 128) << 8 | step[fits])
        places.append(frames[:-ahead][fits])
    all_values, all_places = np.concatenate(values), np.concatenate(places)
    order = np.argsort(all_values, kind="stable")
    return Hashes(all_values[order], all_places[order], landmarks.seconds)


def shared(one: Hashes, other: Hashes) -> list[Shared]:
    """The stretches that two films share, in the order of the first one; none of them overlap there."""
    here, there = _equal(one, other)
    found: list[Shared] = []
    for run in sorted(_runs(here, there), key=lambda run: -run.hashes):
        found += _not_covered(run, found)
    return _widened(_bridged(sorted(found, key=lambda run: run.start)), one.seconds, other.seconds)


def may_share(one: Hashes, other: Hashes) -> bool:
    """Whether two films may have sound in common, from the hashes of every `GLANCE`-th pitch alone."""
    here, there = _equal(one, other)
    values, counts = np.unique(there - here, return_counts=True)
    return next(_piled_up(values, counts, GLANCE_HASHES), None) is not None


def _equal(one: Hashes, other: Hashes) -> tuple[Integers, Integers]:
    """The frames of every pair of equal hashes, in the first film and in the other."""
    first = np.searchsorted(other.values, one.values, "left")
    count = np.searchsorted(other.values, one.values, "right") - first
    count[count > _MOST_REPEATED] = 0
    here = np.repeat(one.frames, count)
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return here, other.frames[np.repeat(first, count) + within]


def _runs(here: Integers, there: Integers) -> Iterator[Shared]:
    """Runs of equal hashes that agree on an offset."""
    offsets = there - here
    values, counts = np.unique(offsets, return_counts=True)
    for offset in _piled_up(values, counts, LEAST_HASHES):
        near = np.abs(offsets - offset) <= _NEAR
        frames, at = here[near], offsets[near]
        order = np.argsort(frames, kind="stable")
        frames, at = frames[order], at[order]
        holes = np.flatnonzero(np.diff(frames) * SECONDS_A_FRAME > LONGEST_HOLE) + 1
        for run, steps in zip(np.split(frames, holes), np.split(at, holes), strict=True):
            seconds = float(run[-1] - run[0]) * SECONDS_A_FRAME
            if seconds >= SHORTEST and len(run) >= max(LEAST_HASHES, LEAST_DENSE * seconds):
                start, shift = float(run[0]) * SECONDS_A_FRAME, float(np.mean(steps)) * SECONDS_A_FRAME
                yield Shared(start, start + seconds, start + shift, len(run))


def _piled_up(values: Integers, counts: Integers, least: float) -> Iterator[int]:
    """Offsets at which hashes pile up, the highest pile first, and none that is a neighbour's slope."""
    together = counts.copy()
    for step in (-1, 1):
        places = np.searchsorted(values, values + step)
        places[places == len(values)] = 0
        together += np.where(values[places] == values + step, counts[places], 0)
    taken: set[int] = set()
    for place in np.argsort(-together, kind="stable"):
        if together[place] < least:
            return
        offset = int(values[place])
        if not taken & {offset - 1, offset, offset + 1}:
            taken.add(offset)
            yield offset


def _bridged(runs: Sequence[Shared]) -> list[Shared]:
    """Runs of one offset that follow each other, as one."""
    found: list[Shared] = []
    for run in runs:
        last = found[-1] if found else run
        moved = (run.other_start - run.start) - (last.other_start - last.start)
        if found and abs(moved) <= SAME_OFFSET and run.start - last.end <= LONGEST_BRIDGE:
            both = last.hashes + run.hashes
            shift = (last.other_start - last.start) + moved * run.hashes / both
            found[-1] = Shared(last.start, run.end, last.start + shift, both)
        else:
            found.append(run)
    return found


def _widened(runs: Sequence[Shared], seconds: float, other_seconds: float) -> list[Shared]:
    """Runs that go on to the cuts and ends at either side of them, where those are near."""
    found: list[Shared] = []
    for place, run in enumerate(runs):
        before = found[-1].end if found else 0.0
        after = runs[place + 1].start if place + 1 < len(runs) else seconds
        left = min(run.start - before, run.other_start)
        right = min(after - run.end, other_seconds - (run.other_start + run.seconds))
        left = left if place == 0 and left <= TO_AN_END else min(left, TO_A_CUT)
        right = right if place + 1 == len(runs) and right <= TO_AN_END else min(right, TO_A_CUT, (after - run.end) / 2)
        left, right = max(left, 0.0), max(right, 0.0)
        found.append(Shared(run.start - left, run.end + right, run.other_start - left, run.hashes))
    return found


def _not_covered(run: Shared, found: list[Shared]) -> Iterator[Shared]:
    """What of a run is not in others, if that is long enough by itself."""
    free = [(run.start, run.end)]
    for one in found:
        free = [
            part
            for start, end in free
            for part in ((start, min(end, one.start)), (max(start, one.end), end))
            if part[1] - part[0] >= SHORTEST
        ]
    for start, end in free:
        yield Shared(start, end, run.other_start + start - run.start, round(run.hashes * (end - start) / run.seconds))
