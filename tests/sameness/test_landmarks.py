"""Landmarks of a film: the same whatever the blocks, small, packed without loss."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from diaryidx.sameness.landmarks import METHOD, MOST_A_SECOND, Ear, Landmarks, packed, unpacked

SPEECH_LIKE = np.random.default_rng(5).normal(0, 3000, 50 * 16000).astype(np.int16)


def heard(sound: NDArray[np.int16], block: int = 16000) -> Landmarks:
    ear = Ear()
    for start in range(0, len(sound), block):
        ear.hear(sound[start : start + block])
    return ear.landmarks()


@pytest.mark.parametrize("block", [1, 500, 16000, 10**7])
def test_landmarks_do_not_depend_on_the_size_of_the_blocks(block: int) -> None:
    sound = SPEECH_LIKE[: 2 * 16000] if block == 1 else SPEECH_LIKE
    once, often = heard(sound), heard(sound, block)
    assert np.array_equal(once.frames, often.frames) and np.array_equal(once.bins, often.bins)
    assert once.seconds == len(sound) / 16000


def test_they_are_in_the_order_of_time_and_not_many() -> None:
    found = heard(SPEECH_LIKE)
    assert np.all(np.diff(found.frames) >= 0)
    assert 5 * 50 < len(found.frames) <= MOST_A_SECOND * 51
    assert len(packed(found)) < 2 * len(found.frames)  # bytes; about 60 kB an hour


@given(st.integers(0, 3000))
@settings(max_examples=15, deadline=None)
def test_a_tone_is_found_at_its_pitch(hertz: int) -> None:
    tone = (8000 * np.sin(2 * np.pi * (hertz + 200) * np.arange(16000) / 16000)).astype(np.int16)
    found = heard(np.concatenate([np.zeros(8000, np.int16), tone, np.zeros(8000, np.int16)]))
    assert len(found.bins) and np.median(np.abs(found.bins * (16000 / 1024) - (hertz + 200))) < 16


def test_silence_and_nothing_have_none() -> None:
    for samples in (0, 100, 16000 * 45):
        assert len(heard(np.zeros(samples, np.int16)).frames) == 0


def test_packing_loses_nothing() -> None:
    found = heard(SPEECH_LIKE)
    again = unpacked(packed(found), found.seconds)
    assert np.array_equal(found.frames, again.frames) and np.array_equal(found.bins, again.bins)
    assert again.seconds == found.seconds


def test_the_method_is_named_anew_when_its_landmarks_change() -> None:
    """What is stored was made by the named method: change METHOD whenever this test has to change."""
    found = heard(SPEECH_LIKE)
    assert (METHOD, len(found.frames), int(found.frames.sum()), int(found.bins.sum())) == (
        "landmarks 1",
        600,
        468608,
        77399,
    )
