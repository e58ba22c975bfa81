from __future__ import annotations

import os
import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest
from media_films import tone, write_film

from diaryidx.errors import MediaError
from diaryidx.media.decode import SAMPLE_RATE, decode_blocks

CLIPS = Path("/usr/share/pocketsphinx/test/data/librivox")


def decode(path: Path, *window: float) -> np.ndarray:
    return np.concatenate([np.zeros(0, np.int16), *decode_blocks(path, *window)])


def decode_with_warnings(path: Path) -> tuple[np.ndarray, list[str]]:
    warnings: list[str] = []
    blocks = list(decode_blocks(path, on_warning=warnings.append))
    return np.concatenate([np.zeros(0, np.int16), *blocks]), warnings


def loud(sound: np.ndarray) -> list[tuple[float, float]]:
    """Return the stretches, in seconds, that are not silent (to 10 ms)."""
    frames = np.abs(sound[: len(sound) // 160 * 160].reshape(-1, 160).astype(np.int32)).max(axis=1) > 1000
    edges = np.flatnonzero(np.diff(np.concatenate([[0], frames.astype(int), [0]])))
    return [(a / 100, b / 100) for a, b in edges.reshape(-1, 2)]


def pitch(sound: np.ndarray) -> float:
    """Return the strongest frequency in hertz."""
    return float(np.argmax(np.abs(np.fft.rfft(sound * np.hanning(len(sound))))) * SAMPLE_RATE / len(sound))


def test_16_khz_mono_sound_comes_through_unchanged(film):
    sound = np.random.default_rng(0).integers(-32768, 32767, 40_000).astype(np.int16)
    assert np.array_equal(decode(film("a.wav", sound=sound, rate=16_000)), sound)


@pytest.mark.skipif(not CLIPS.is_dir(), reason="Debian's pocketsphinx-testdata is not installed")
def test_real_speech_equals_what_the_standard_library_reads():
    clip = sorted(CLIPS.glob("*.wav"))[0]
    with wave.open(str(clip)) as file:
        assert np.array_equal(decode(clip), np.frombuffer(file.readframes(file.getnframes()), np.int16))


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000])
def test_every_rate_keeps_pitch_and_length(film, rate):
    sound = decode(film("a.wav", sound=tone(2, rate), rate=rate))
    assert len(sound) == 2 * SAMPLE_RATE
    assert pitch(sound) == pytest.approx(440, abs=1)


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("a.mp4", {"codec": "aac", "picture_seconds": 3}),
        ("a.mov", {"codec": "pcm_s24le", "picture_seconds": 3}),
        ("a.webm", {"codec": "libopus", "picture_seconds": 3, "picture_codec": "libvpx"}),
        ("a.mkv", {"codec": "ac3", "picture_seconds": 3}),
        ("a.avi", {"codec": "mp3", "picture_seconds": 3}),
        ("a.ts", {"codec": "aac", "picture_seconds": 3}),
        ("a.mp3", {"codec": "mp3"}),
        ("a.flac", {"codec": "flac"}),
        ("a.3gp", {"codec": "aac"}),
        ("a.wv", {"codec": "wavpack"}),
        ("a.aiff", {"codec": "pcm_s16be"}),
        ("u8.wav", {"codec": "pcm_u8"}),
        ("f64.wav", {"codec": "pcm_f64le"}),
        ("mulaw.wav", {"codec": "pcm_mulaw"}),
    ],
)
def test_a_tone_lies_where_it_was_put_in_every_container(film, name, how):
    sound = np.concatenate([tone(1, level=0), tone(1), tone(1, level=0)])
    [(begins, ends)] = loud(decode(film(name, sound=sound, **how)))
    # 70 ms: AAC in raw streams keeps its encoder's run-in of 1,024 to 2,112 samples (ISO/IEC 14496-3, from memory)
    assert (begins, ends) == (pytest.approx(1.0, abs=0.07), pytest.approx(2.0, abs=0.07))


def test_eight_channels_are_averaged(film):
    one_of_eight = np.zeros((8, 48_000), np.int16)
    one_of_eight[5] = tone(1, level=0.8)
    for name, codec in (("a.wav", "pcm_s16le"), ("a.mkv", "flac")):
        sound = decode(film(name, sound=one_of_eight, layout="7.1", codec=codec))
        assert pitch(sound) == pytest.approx(440, abs=2)
        assert np.abs(sound).max() == pytest.approx(32767 * 0.8 / 8, rel=0.02)


def test_channels_without_a_known_layout_are_averaged_too(film, tmp_path):
    path = tmp_path / "field recorder.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((8, 2, 48_000, 0, "NONE", ""))
        file.writeframes(np.repeat(tone(1)[:, np.newaxis], 8, axis=1).tobytes())
    assert np.abs(decode(path)).max() == pytest.approx(16383, rel=0.02)


def test_sound_that_begins_late_or_pauses_stays_at_film_time(film):
    starts = [(1.5, 0, 48_000), (4.0, 48_000, 96_000)]
    sound = decode(film("a.mkv", sound=tone(2), starts=starts, picture_seconds=6))
    assert loud(sound) == [(1.5, 2.5), (4.0, 5.0)]


def test_overlapping_sound_is_not_heard_twice(film):
    both = np.concatenate([tone(2, hertz=440), tone(2, hertz=1500)])
    sound = decode(film("a.mkv", sound=both, starts=[(0.0, 0, 96_000), (1.5, 96_000, 192_000)]))
    assert len(sound) == pytest.approx(3.5 * SAMPLE_RATE, abs=SAMPLE_RATE * 0.05)
    assert pitch(sound[: 2 * SAMPLE_RATE]) == pytest.approx(440, abs=1)
    assert pitch(sound[-SAMPLE_RATE:]) == pytest.approx(1500, abs=1)


def test_a_clock_that_leaps_by_years_does_not_tear_the_sound_apart(film):
    path = film("a.mkv", sound=tone(20), starts=[(0.0, 0, 480_000), (1e8, 480_000, 960_000)])
    sound, warnings = decode_with_warnings(path)
    assert len(sound) == pytest.approx(20 * SAMPLE_RATE, abs=800)
    assert ["clock leaps in 1 place" in line for line in warnings] == [True]


def test_two_transport_streams_joined_end_to_end_are_both_heard(film, tmp_path):
    """As cameras join their files: the second begins its clock anew."""
    path = tmp_path / "joined.ts"
    path.write_bytes(film("a.ts", sound=tone(10), codec="aac").read_bytes() * 2)
    sound, warnings = decode_with_warnings(path)
    assert len(sound) == pytest.approx(20 * SAMPLE_RATE, rel=0.02)
    assert any("clock leaps" in line for line in warnings)


def test_a_window_is_cut_to_the_sample(film):
    stairs = np.concatenate([tone(1, hertz=300 + 100 * number) for number in range(12)])
    for name, codec in (("a.wav", "pcm_s16le"), ("a.mkv", "pcm_s16le"), ("a.mp4", "aac"), ("a.mp3", "mp3")):
        path = film(name, sound=stairs, codec=codec)
        part, whole = decode(path, 7.25, 8.75), decode(path)
        assert len(part) == 1.5 * SAMPLE_RATE
        if codec == "pcm_s16le":
            assert np.abs(part.astype(int) - whole[round(7.25 * SAMPLE_RATE) :][: len(part)]).max() <= 400
        assert pitch(part[: SAMPLE_RATE // 2]) == pytest.approx(1000, abs=4)
        assert pitch(part[-SAMPLE_RATE // 2 :]) == pytest.approx(1100, abs=4)
    assert len(decode(path, 500.0)) == 0


def test_blocks_are_one_second_long(film):
    sizes = [len(block) for block in decode_blocks(film("a.wav", sound=tone(3.25)))]
    assert sizes == [16_000, 16_000, 16_000, 4_000]


def test_without_a_sound_track_there_is_one_clear_line(film):
    with pytest.raises(MediaError, match="no sound track") as error:
        decode(film("a.mp4", picture_seconds=1))
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("a.mkv", {"codec": "flac"}),
        ("a.webm", {"codec": "libopus"}),
        ("a.ts", {"codec": "aac"}),
        ("a.mp3", {"codec": "mp3"}),
    ],
)
def test_of_a_truncated_film_all_that_is_there_is_heard(film, name, how):
    path = film(name, sound=tone(20), **how)
    size = path.stat().st_size
    os.truncate(path, size // 2)
    sound, warnings = decode_with_warnings(path)
    assert 8 * SAMPLE_RATE < len(sound) < 12.5 * SAMPLE_RATE
    if name in ("a.mkv", "a.webm"):  # those state their length, so the loss is known
        assert any("ends at 0:" in line and "0:20" in line for line in warnings)


def test_an_mp4_cut_off_before_its_index_gets_one_clear_line(film):
    path = film("a.mp4", sound=tone(5), codec="aac")
    os.truncate(path, path.stat().st_size // 2)
    with pytest.raises(MediaError, match="not a video or audio file"):
        decode(path)


def test_an_mp4_with_its_index_in_front_is_heard_up_to_where_it_is_cut_off(film):
    path = film("a.mp4", sound=tone(20), codec="aac", options={"movflags": "faststart"})
    os.truncate(path, path.stat().st_size // 2)
    sound, warnings = decode_with_warnings(path)
    assert 8 * SAMPLE_RATE < len(sound) < 12 * SAMPLE_RATE
    assert any("rest is missing" in line for line in warnings)


@pytest.mark.parametrize(
    ("name", "codec"), [("a.mp4", "aac"), ("a.mkv", "flac"), ("a.webm", "libopus"), ("a.ts", "aac")]
)
def test_damage_is_passed_over_and_what_follows_keeps_its_time(film, name, codec):
    path = film(name, sound=np.concatenate([tone(4), tone(1, level=0), tone(4)]), codec=codec)
    data = bytearray(path.read_bytes())
    for at in range(len(data) // 4, len(data) // 4 + 6000, 300):
        data[at : at + 200] = np.random.default_rng(at).bytes(200)
    path.write_bytes(data)
    sound, warnings = decode_with_warnings(path)
    assert loud(sound)[-1] == (pytest.approx(5.0, abs=0.07), pytest.approx(9.0, abs=0.07))
    assert warnings
    assert all("sound" in line and "\n" not in line for line in warnings)


def test_a_film_of_which_nothing_decodes_is_an_error(film):
    path = film("a.wav", sound=tone(1), codec="adpcm_ms")
    os.truncate(path, 90)
    with pytest.raises(MediaError):
        decode(path)


def test_an_absurd_sample_rate_does_no_harm(film):
    path = film("a.wav", sound=tone(1))
    for rate in (0, 1, 7, 2**31 - 1, 2**32 - 1):
        data = bytearray(path.read_bytes())
        data[24:28] = rate.to_bytes(4, "little")
        path.write_bytes(data)
        try:
            assert len(decode(path)) < 60 * SAMPLE_RATE
        except MediaError as error:
            assert "\n" not in str(error)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read from Linux's /proc")
def test_memory_does_not_grow_with_the_length_of_the_film(tmp_path):
    """Thirty minutes against one: the peak of a fresh process may differ by the noise of an allocator only."""
    peaks = {}
    for minutes in (1, 30):
        sound = np.tile(tone(60, 8_000), minutes)
        path = write_film(tmp_path / f"{minutes}.wav", sound=sound, rate=8_000, codec="pcm_mulaw")
        program = (
            "import re, sys, pathlib\n"
            "from diaryidx.media.decode import decode_blocks\n"
            "n = sum(len(block) for block in decode_blocks(pathlib.Path(sys.argv[1])))\n"
            "peak = re.search(r'VmHWM:\\s+(\\d+)', pathlib.Path('/proc/self/status').read_text())\n"
            "print(n, peak[1])"
        )
        run = subprocess.run([sys.executable, "-c", program, path], capture_output=True, text=True, check=True)
        samples, peaks[minutes] = map(int, run.stdout.split())
        assert samples == pytest.approx(60 * minutes * SAMPLE_RATE, rel=0.01)
    assert peaks[30] - peaks[1] < 6_000  # kilobytes; the samples alone would be 57,600
