from __future__ import annotations

import os
import re
import subprocess
import sys
import wave
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.errors import SpeechError
from diaryidx.speech import packaged_engine
from diaryidx.speech.hearing import Job, hear_all
from diaryidx.speech.packaged_engine import PackagedEngine, is_steady, place_words
from diaryidx.speech.splitting import SAMPLE_RATE, split

CLIPS = Path("/usr/share/pocketsphinx/test/data/librivox")  # Debian's pocketsphinx-testdata


@pytest.fixture(scope="module")
def engine() -> PackagedEngine:
    pytest.importorskip("moonshine_voice", reason="the extra [packaged] is not installed")
    return PackagedEngine()


def noise(seconds: float, level: float) -> np.ndarray:
    return np.random.default_rng(0).normal(0, level, round(seconds * SAMPLE_RATE)).astype(np.int16)


def plain(text: str) -> str:
    """Return a text as LibriVox's transcription writes it: lower case, no punctuation, titles spelt out."""
    return " ".join(re.sub(r"[^a-z ]", " ", text.lower().replace("mr.", "mister")).split())


@pytest.mark.skipif(not CLIPS.is_dir(), reason="Debian's pocketsphinx-testdata is not installed")
def test_real_read_speech_is_heard_with_few_errors(engine):
    """Five LibriVox clips with their transcription (pocketsphinx-testdata), scored by jiwer: 2.8 % on the day."""
    from jiwer import wer

    spoken, heard = [], []
    for line in (CLIPS / "transcription").read_text().splitlines():
        text, name = re.fullmatch(r"<s> (.*) </s> \((.*)\)", line).groups()
        with wave.open(str(CLIPS / f"{name}.wav")) as clip:
            samples = np.frombuffer(clip.readframes(clip.getnframes()), np.int16)
        words = engine.hear(samples)
        assert words[0].word[0].isupper()
        assert all(0 <= word.start <= word.end <= len(samples) / SAMPLE_RATE for word in words)
        assert all(word.estimated and word.certainty is None for word in words)
        spoken.append(text)
        heard.append(plain(" ".join(word.word for word in words)))
    assert wer(spoken, heard) < 0.07


@pytest.mark.skipif(not CLIPS.is_dir(), reason="Debian's pocketsphinx-testdata is not installed")
def test_real_speech_is_heard_alike_by_any_number_of_workers_and_in_any_order(engine):
    clips = []
    for path in sorted(CLIPS.glob("*.wav"))[1:]:
        with wave.open(str(path)) as clip:
            clips.append(np.frombuffer(clip.readframes(clip.getnframes()), np.int16))
    stretches = list(split(clips, 2.0, 4.0))
    runs = []
    for workers, order in ((1, stretches), (3, stretches[::-1])):
        heard = hear_all((Job(None, stretch) for stretch in order), engine, workers)
        runs.append([one.words for one in sorted(heard, key=lambda one: one.stretch_number)])
    assert runs[0] == runs[1]


def test_silence_hiss_and_hum_are_no_words(engine):
    hum = (np.sin(np.arange(5 * SAMPLE_RATE) * 2 * np.pi * 120 / SAMPLE_RATE) * 6000).astype(np.int16)
    for sound in (np.zeros(5 * SAMPLE_RATE, np.int16), noise(5, 30), noise(5, 3000), hum, np.zeros(0, np.int16)):
        assert engine.hear(sound) == ()


def test_its_processes_end_with_it_and_print_nothing():
    pytest.importorskip("moonshine_voice", reason="the extra [packaged] is not installed")
    program = (
        "import numpy\n"
        "from diaryidx.speech.packaged_engine import PackagedEngine\n"
        "engine = PackagedEngine()\n"
        "worker = engine._idle.get(); engine._idle.put(worker); print(worker.process.pid)"
    )
    folder = Path(__file__).parents[2]
    run = subprocess.run([sys.executable, "-c", program], cwd=folder, capture_output=True, check=False)
    assert (run.returncode, run.stderr) == (0, b"")
    with pytest.raises(ProcessLookupError):
        os.kill(int(run.stdout), 0)


@pytest.mark.skipif(not CLIPS.is_dir(), reason="Debian's pocketsphinx-testdata is not installed")
def test_a_process_that_dies_or_has_heard_enough_is_replaced(engine, monkeypatch):
    with wave.open(str(sorted(CLIPS.glob("*.wav"))[1])) as clip:
        samples = np.frombuffer(clip.readframes(clip.getnframes()), np.int16)
    words = engine.hear(samples)
    assert words

    def process():
        worker = engine._idle.get()
        engine._idle.put(worker)
        return worker.process

    before = process()
    before.kill()
    before.wait()
    assert engine.hear(samples) == words
    monkeypatch.setattr(packaged_engine, "REPLACED_AFTER", 1.0)
    after = process()
    assert after.pid != before.pid
    assert engine.hear(samples) == words
    assert after.poll() is not None  # it had heard enough, and is gone


def test_sound_over_which_it_always_dies_is_one_clear_line(engine, monkeypatch):
    def die(worker, samples):
        raise packaged_engine.WorkerDied

    monkeypatch.setattr(packaged_engine, "ask", die)
    with pytest.raises(SpeechError, match="crashes"):
        engine.hear(np.concatenate([noise(0.2, level) for level in (3000, 300, 5000, 100, 2000) * 3]))


def test_where_it_does_not_load_one_line_says_so(monkeypatch, tmp_path):
    monkeypatch.setattr(packaged_engine, "version", lambda package: "0.0.49")
    for program in ("raise SystemExit(3)", 'print(\'{"error": "OSError: GLIBC_2.34"}\')'):
        (tmp_path / "worker.py").write_text(program)
        monkeypatch.setattr(packaged_engine, "WORKER", tmp_path / "worker.py")
        with pytest.raises(SpeechError, match="doesn't work on this machine") as error:
            PackagedEngine()
        assert "\n" not in str(error.value)


def test_words_are_placed_where_it_is_loud():
    sound = np.concatenate([noise(1, 20), noise(1, 4000), noise(2, 20), noise(1, 4000), noise(1, 20)])
    words = place_words(["Four.", "Pads."], sound, 100.0)
    assert [(word.start, word.end) for word in words] == [
        (pytest.approx(101, abs=0.06), pytest.approx(102, abs=0.06)),
        (pytest.approx(104, abs=0.06), pytest.approx(105, abs=0.06)),
    ]


@given(st.lists(st.text(max_size=8), max_size=30), st.integers(0, 40_000), st.floats(0, 5000))
def test_placed_words_are_in_order_and_inside_the_piece(tokens, length, level):
    sound = noise(length / SAMPLE_RATE, level)
    words = place_words(tokens, sound, 3.0)
    assert [word.word for word in words] in ([], [token for token in tokens if any(map(str.isalnum, token))])
    times = [time for word in words for time in (word.start, word.end)]
    assert times == sorted(times)
    assert all(3.0 <= time <= 3.0 + max(length, 160) / SAMPLE_RATE + 1e-3 for time in times)


def test_too_few_words_for_so_much_sound_are_a_guess():
    assert place_words(["You"], noise(5, 3000), 0.0) == []
    assert place_words(["♪♪♪"], noise(1, 3000), 0.0) == []
    assert len(place_words(["it", "was", "scored", "quite", "badly"], noise(2, 3000), 0.0)) == 5


def test_steady_sounds_are_told_from_talk():
    assert is_steady(noise(5, 3000))
    assert not is_steady(np.concatenate([noise(0.2, level) for level in (3000, 300, 5000, 100, 2000) * 3]))
