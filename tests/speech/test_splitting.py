from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.speech.splitting import SAMPLE_RATE, is_silent, split


def noise(seconds: float, level: float, seed: int = 0) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, level, round(seconds * SAMPLE_RATE)).astype(np.int16)


def talk(pattern: list[tuple[float, float]], voice: float = 4000, room: float = 60) -> np.ndarray:
    """Return seconds of voice and seconds of pause, in turns, over a room's noise."""
    pieces = [piece for talking, pause in pattern for piece in (noise(talking, voice), noise(pause, 0))]
    sound = np.concatenate(pieces).astype(np.int32)
    return (sound + noise(len(sound) / SAMPLE_RATE, room, 1)[: len(sound)]).clip(-32768, 32767).astype(np.int16)


def blocks(sound: np.ndarray, sizes: list[int]) -> list[np.ndarray]:
    cuts = np.cumsum(sizes)
    return np.split(sound, cuts[cuts < len(sound)])


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.05, 4), st.floats(0, 30_000)), max_size=25),
    st.lists(st.integers(0, 40_000), max_size=60),
)
def test_every_sample_is_in_exactly_one_stretch_whatever_the_blocks(parts, sizes):
    sound = np.concatenate([np.zeros(0, np.int16), *(noise(*part, seed) for seed, part in enumerate(parts))])
    stretches = list(split(blocks(sound, sizes), 2.0, 5.0))
    assert np.array_equal(np.concatenate([np.zeros(0, np.int16), *(s.samples for s in stretches)]), sound)
    assert [s.number for s in stretches] == list(range(len(stretches)))
    assert [s.end_sample for s in stretches[:-1]] == [s.start_sample for s in stretches[1:]]
    assert all(s.end_sample - s.start_sample == len(s.samples) for s in stretches)
    assert all(2.0 <= s.end - s.start <= 5.0 for s in stretches[:-1])
    assert all(0 < s.end - s.start <= 5.0 for s in stretches[-1:])
    assert stretches == list(split([sound], 2.0, 5.0))


@pytest.mark.parametrize(("voice", "room"), [(500, 0), (500, 60), (8_000, 5), (8_000, 400), (8_000, 2_500)])
def test_cuts_lie_in_the_long_pauses_however_loud_the_room_and_the_voice(room, voice):
    # 24 seconds of short phrases with short pauses, then a long pause, and so on
    sound = talk([(2.6, 0.3)] * 8 + [(0.8, 1.0)] + [(2.6, 0.3)] * 8 + [(0.8, 1.0)] + [(2.6, 0.3)] * 8, voice, room)
    long_pauses = [(24.0, 25.0), (49.0, 50.0)]
    cuts = [stretch.end for stretch in split([sound])][:-1]
    assert len(cuts) == len(long_pauses)
    for cut, (begins, ends) in zip(cuts, long_pauses, strict=True):
        assert begins + 0.05 < cut < ends - 0.05


def test_without_pauses_the_cut_lies_in_the_quietest_place():
    sound = noise(60, 5000)
    dip = slice(33 * SAMPLE_RATE, 33 * SAMPLE_RATE + 4000)  # a quarter of a second, shorter than a pause
    sound[dip] = sound[dip] // 3
    first = next(split([sound]))
    assert 33.0 < first.end < 33.25


def test_stretches_last_twenty_to_forty_five_seconds():
    lengths = [s.end - s.start for s in split([talk([(1.7, 0.5)] * 200)])]
    assert min(lengths[:-1]) >= 20
    assert max(lengths) <= 45


def test_silence_is_marked_so_that_no_engine_is_asked():
    sound = np.concatenate([noise(30, 3000), noise(100, 0), noise(10, 3000)])
    marks = [(s.start, s.end, s.silent) for s in split([sound])]
    assert any(silent for *_rest, silent in marks)
    assert all(start >= 30 and end <= 130 for start, end, silent in marks if silent)
    assert is_silent(noise(3, 4))  # the last bits of a good microphone: -78 dB of full scale
    assert not is_silent(noise(3, 60))  # a voice recorded far too softly: -55 dB
    assert not is_silent(np.concatenate([noise(30, 0), noise(0.25, 100), noise(30, 0)]))
    assert is_silent(np.zeros(0, np.int16))


def test_no_more_than_what_is_needed_is_read_ahead():
    read = 0

    def endless():
        nonlocal read
        while True:
            read += 1
            yield noise(1, 1000, read)

    next(split(endless()))
    assert read <= 46
