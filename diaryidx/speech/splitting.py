"""Cut a film's sound at its silences into stretches that can be heard apart from each other.

A speech engine loses the words' context at every cut, so cuts are rare and lie in long pauses. Each cut depends only on
the sound since the one before, so a film is always cut alike, whatever the size of its blocks and wherever a run began.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE = 16_000  # hertz

# Own choices, tried on the demo's films: long enough to keep context, short enough to keep two cores busy with a film
# of three minutes and to lose little when a run is killed.
SHORTEST = 20.0  # seconds
LONGEST = 45.0  # seconds

HOP = 160  # samples: loudness is measured in steps of 10 ms, common practice in speech processing
SMOOTH = 5  # hops over which loudness is averaged when pauses are sought: shorter sounds don't end a pause
QUIET = 20  # hops: a cut lies in the middle of the quietest 200 ms
PAUSE = 40  # hops: only where it is quiet for 400 ms is it a pause; closures within words last under 200 ms
NOISE_PERCENTILE, SPEECH_PERCENTILE = 10, 90  # of the loudness: what is taken for the noise floor and for speech
PAUSE_SHARE = 0.3  # a pause is no louder than this share of the way, in decibels, from noise floor to speech
FLAT = 6.0  # decibels: where noise and speech are no further apart there are no pauses to be told

SILENCE = 16.0  # root mean square of samples (-66 dB of full scale): below this nobody speaks; own choice


@dataclass(frozen=True)
class Stretch:
    """A piece of a film's sound: ``samples`` are 16 kHz mono int16, from ``start_sample`` up to ``end_sample``.

    ``silent`` says that there is nothing to hear in it, so no engine need be asked.
    """

    number: int
    start_sample: int
    end_sample: int
    samples: NDArray[np.int16] = field(compare=False, repr=False)
    silent: bool = False

    @property
    def start(self) -> float:
        """Seconds from the start of the film."""
        return self.start_sample / SAMPLE_RATE

    @property
    def end(self) -> float:
        """Seconds from the start of the film."""
        return self.end_sample / SAMPLE_RATE


def split(
    blocks: Iterable[NDArray[np.int16]], shortest: float = SHORTEST, longest: float = LONGEST
) -> Iterator[Stretch]:
    """Cut sound into stretches at its silences while it is being decoded; every sample is in exactly one stretch.

    Args:
        blocks: 16 kHz mono int16 samples in blocks of any size; their size doesn't change the cuts.
        shortest, longest: seconds a stretch may last; only the last one may be shorter.

    Yields stretches in order. At most two stretches' samples are held at a time.
    """
    least, most = round(shortest * SAMPLE_RATE), round(longest * SAMPLE_RATE)
    held: list[NDArray[np.int16]] = []
    size = start = number = 0
    for block in blocks:
        held.append(block)
        size += len(block)
        while size > most:
            sound = np.concatenate(held)
            cut = find_cut(sound[:most], least)
            yield _stretch(number, start, sound[:cut])
            held, size, start, number = [sound[cut:].copy()], size - cut, start + cut, number + 1
    if size:
        yield _stretch(number, start, np.concatenate(held))


def find_cut(sound: NDArray[np.int16], least: int) -> int:
    """Return the sample at which to cut ``sound``, between ``least`` and its end.

    The cut lies in the quietest 200 ms of the longest pause; where there is no pause, in the quietest 200 ms at all.
    """
    power = hop_power(sound)
    first, last = -(-least // HOP), len(power)
    begin, end = longest_pause(power, first, last) or (first, last)
    quiet = min(QUIET, end - begin)
    if quiet <= 0:
        return len(sound)
    sums = np.convolve(power[begin:end], np.ones(quiet), "valid")
    return (begin + int(np.argmin(sums)) + quiet // 2) * HOP


def longest_pause(power: NDArray[np.float64], first: int, last: int) -> tuple[int, int] | None:
    """Return the longest pause within hops ``first`` to ``last`` (the earliest of equals), or None."""
    quiet = quiet_hops(power)
    if quiet is None:
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet[first:last].astype(np.int8), [0]]))).reshape(-1, 2)
    lengths = edges[:, 1] - edges[:, 0]
    if not len(lengths) or lengths.max() < PAUSE:
        return None
    begin, end = edges[int(np.argmax(lengths))]
    return first + int(begin), first + int(end)


def quiet_hops(power: NDArray[np.float64]) -> NDArray[np.bool_] | None:
    """Return for each hop whether nobody speaks in it, or None where noise and speech can't be told apart.

    The threshold follows the sound itself: the workshop's noise and the speaker's voice.
    """
    heard = loudness(power)
    floor, speech = np.percentile(heard, [NOISE_PERCENTILE, SPEECH_PERCENTILE])
    if speech - floor < FLAT:
        return None
    return np.asarray(heard <= floor + PAUSE_SHARE * (speech - floor), np.bool_)


def loudness(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return each hop's loudness in decibels above one squared sample unit, averaged over 50 ms."""
    return np.asarray(10 * np.log10(np.convolve(power, np.ones(SMOOTH) / SMOOTH, "same") + 1.0), np.float64)


def hop_power(sound: NDArray[np.int16]) -> NDArray[np.float64]:
    """Return the mean square of each whole hop of 10 ms."""
    hops = sound[: len(sound) // HOP * HOP].reshape(-1, HOP).astype(np.float64)
    return np.asarray((hops * hops).mean(axis=1), np.float64)


def is_silent(sound: NDArray[np.int16]) -> bool:
    """Return whether no 200 ms of the sound are louder than silence."""
    padded = np.concatenate([sound, np.zeros(-len(sound) % HOP, np.int16)])
    power = hop_power(padded)
    if not len(power):
        return True
    width = min(QUIET, len(power))
    return bool(np.convolve(power, np.ones(width) / width, "valid").max() < SILENCE**2)


def _stretch(number: int, start: int, sound: NDArray[np.int16]) -> Stretch:
    return Stretch(number, start, start + len(sound), sound, is_silent(sound))
