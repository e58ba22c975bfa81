"""Films known again by their sound, on the demo's films encoded anew with PyAV."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from diaryidx.media.decode import SAMPLE_RATE, decode_blocks
from diaryidx.resources import demo_shop_folder
from diaryidx.sameness.alignment import GLANCE, Hashes, Shared, hashes, may_share, shared
from diaryidx.sameness.landmarks import Ear
from tests.sound import encode

Sound = NDArray[np.int16]
#: What the encoders put before the sound, as players hear it, is part of the film; more than that is an error.
WITHIN = 0.1


def seconds(start: float, end: float) -> slice:
    return slice(round(start * SAMPLE_RATE), round(end * SAMPLE_RATE))


@cache
def sound(name: str) -> Sound:
    return np.concatenate(list(decode_blocks(next(demo_shop_folder().rglob(f"*{name}*.webm")))))


def hashes_of(samples: Sound, every: int = 1) -> Hashes:
    ear = Ear()
    ear.hear(samples)
    return hashes(ear.landmarks(), every)


@cache
def film(name: str) -> Hashes:
    return hashes_of(sound(name))


def again(path: Path) -> Sound:
    return np.concatenate(list(decode_blocks(path)))


CODECS = [
    ("x.mp3", "libmp3lame", 22050, 32000),
    ("x.mp3", "libmp3lame", 16000, 16000),
    ("x.ogg", "libopus", 48000, 8000),
    ("x.m4a", "aac", 22050, 24000),
]


@pytest.mark.parametrize(("name", "codec", "rate", "bit_rate"), CODECS)
def test_a_film_encoded_anew_and_trimmed_is_known_with_its_offset(
    tmp_path: Path, name: str, codec: str, rate: int, bit_rate: int
) -> None:
    cut = sound("October diary")[seconds(7.123, 160.9)]
    found = shared(hashes_of(again(encode(tmp_path / name, cut, codec, rate, bit_rate))), film("October diary"))
    assert len(found) == 1
    assert found[0].other_start - found[0].start == pytest.approx(7.123, abs=WITHIN)
    assert found[0].seconds > 0.97 * len(cut) / SAMPLE_RATE


@pytest.mark.parametrize("decibels", [20, 10, 5])
def test_noise_of_a_workshop_over_it_does_not_hide_it(decibels: float) -> None:
    cut = sound("October diary")[seconds(20.0, 120.0)].astype(float)
    noise = np.random.default_rng(1).normal(0, np.sqrt(np.mean(cut**2)) * 10 ** (-decibels / 20), len(cut))
    (found,) = shared(hashes_of((0.5 * (cut + noise)).clip(-32768, 32767).astype(np.int16)), film("October diary"))
    assert found.other_start - found.start == pytest.approx(20.0, abs=WITHIN)


def test_a_cut_is_found_piece_by_piece_in_the_footage_it_was_made_from(tmp_path: Path) -> None:
    pieces = [(30.3, 55.1), (81.7, 100.2), (20.0, 26.0), (141.4, 150.9), (190.0, 230.0)]
    raw = sound("October diary")
    path = encode(tmp_path / "cut.m4a", np.concatenate([raw[seconds(*piece)] for piece in pieces]), "aac", 44100, 64000)
    found = shared(hashes_of(again(path)), film("October diary"))
    assert len(found) == len(pieces)
    start = 0.0
    for one, (begin, end) in zip(found, pieces, strict=True):
        assert one.other_start - one.start == pytest.approx(begin - start, abs=WITHIN)
        assert one.start == pytest.approx(start, abs=2.0)  # a pause at a cut belongs to either side
        assert one.end == pytest.approx(start + end - begin, abs=2.0)
        start += end - begin


def test_two_films_of_the_same_speakers_share_nothing() -> None:
    names = ("September diary", "October diary", "November diary", "brake pads", "chain")
    for one in names:
        for other in names:
            if one != other:
                assert shared(film(one), film(other)) == []
                assert not may_share(hashes_of(sound(one), GLANCE), hashes_of(sound(other), GLANCE))


def test_films_that_begin_with_one_jingle_share_only_that() -> None:
    jingle = sound("chain")[seconds(0, 12)]
    one, other = (np.concatenate([jingle, sound(name)[seconds(0, 90)]]) for name in ("October diary", "November diary"))
    (found,) = shared(hashes_of(one), hashes_of(other))
    assert (found.start, found.other_start) == (0.0, 0.0)
    assert found.end == pytest.approx(12, abs=1.0)


def test_a_glance_sees_what_is_shared() -> None:
    cut = sound("October diary")[seconds(60, 95)]
    assert may_share(hashes_of(cut, GLANCE), hashes_of(sound("October diary"), GLANCE))


def test_nothing_and_silence_share_nothing() -> None:
    silence = hashes_of(np.zeros(SAMPLE_RATE * 60, np.int16))
    assert shared(silence, silence) == []
    assert shared(silence, film("chain")) == []
    assert not may_share(silence, film("chain"))


def test_a_film_shares_all_of_itself() -> None:
    (whole,) = shared(film("chain"), film("chain"))
    assert whole == Shared(0.0, film("chain").seconds, 0.0, whole.hashes)
