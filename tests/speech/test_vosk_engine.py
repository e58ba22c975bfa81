from __future__ import annotations

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from diaryidx.errors import SpeechError
from diaryidx.resources import mini_model_folder
from diaryidx.speech import vosk_engine
from diaryidx.speech.hearing import Job, hear_all
from diaryidx.speech.splitting import SAMPLE_RATE, split
from diaryidx.speech.vosk_engine import VoskEngine


@pytest.fixture(scope="module")
def engine(tmp_path_factory) -> VoskEngine:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DIARYIDX_HOME", str(tmp_path_factory.mktemp("home")))
        return VoskEngine(mini_model_folder())


def test_it_hears_words_with_times_and_certainties(engine, speech):
    words = engine.hear(speech)
    text = " ".join(word.word for word in words)
    assert "changing the front brake pads" in text
    assert all(a.end <= b.start + 1e-6 for a, b in pairwise(words))
    assert all(0 <= word.start < word.end <= len(speech) / SAMPLE_RATE for word in words)
    assert all(word.certainty is not None and 0 <= word.certainty <= 1 and not word.estimated for word in words)


def test_times_are_those_of_the_sound_and_not_of_the_padding(engine, speech):
    """Speech is louder than the silence put around it: its first and last loud 10 ms tell when it was spoken."""
    begins = next(stretch.end_sample for stretch in split([speech], 4.0, 9.0))
    spoken = speech[begins : begins + 5 * SAMPLE_RATE]
    silence = np.zeros(2 * SAMPLE_RATE, np.int16)
    sound = np.concatenate([silence, spoken, silence])
    loud = np.flatnonzero(np.abs(sound.reshape(-1, 160).astype(int)).max(axis=1) > 1500) / 100
    words = engine.hear(sound)
    assert words[0].start == pytest.approx(loud[0], abs=0.12)
    assert words[-1].end == pytest.approx(loud[-1], abs=0.2)


def test_silence_and_nothing_are_heard_as_no_words(engine):
    assert engine.hear(np.zeros(4 * SAMPLE_RATE, np.int16)) == ()
    assert engine.hear(np.zeros(0, np.int16)) == ()


def test_tokens_that_are_no_words_are_dropped():
    heard = [
        {"word": "[unk]", "start": 0.3, "end": 0.4, "conf": 1.0},
        {"word": "pads", "start": 0.1, "end": 9.9, "conf": 1.7},
    ]
    [word] = vosk_engine._words([json.dumps({"result": heard}), "{}", '{"text": ""}'], 5.0)
    assert (word.word, word.start, word.end, word.certainty) == ("pads", 0.0, 5.0, 1.0)


def test_words_do_not_depend_on_the_number_of_workers(engine, speech):
    stretches = list(split([speech[: 16 * SAMPLE_RATE]], 2.0, 4.0))
    assert len(stretches) > 3
    runs = []
    for workers in (1, 2, 3):
        heard = hear_all((Job(None, stretch) for stretch in stretches), engine, workers)
        runs.append([one.words for one in sorted(heard, key=lambda one: one.stretch_number)])
    assert runs[0] == runs[1] == runs[2]


def test_one_model_serves_many_threads_at_once(engine, speech):
    piece = speech[: 4 * SAMPLE_RATE]
    with ThreadPoolExecutor(4) as threads:
        assert len(set(threads.map(engine.hear, [piece] * 4))) == 1


def test_the_fingerprint_follows_the_model_and_not_its_place(engine, model_copy, home, monkeypatch):
    copied = VoskEngine(model_copy)
    assert copied.fingerprint.replace(copied.model, "") == engine.fingerprint.replace(engine.model, "")
    words = model_copy / "graph" / "words.txt"
    words.write_bytes(words.read_bytes()[:-1] + b" ")
    assert VoskEngine(model_copy).fingerprint != copied.fingerprint


@pytest.mark.parametrize(
    ("file", "damage"),
    [
        ("am/final.mdl", "cut"),
        ("am/final.mdl", "noise"),
        ("graph/HCLr.fst", "cut"),
        ("graph/Gr.fst", "noise"),
        ("conf/mfcc.conf", "noise"),
        ("graph/phones/word_boundary.int", "noise"),
        ("am/final.mdl", "gone"),
        ("graph/Gr.fst", "gone"),
        ("graph/HCLr.fst", "empty"),
        ("conf/mfcc.conf", "gone"),
    ],
)
def test_a_damaged_model_is_one_clear_line_and_never_the_end_of_the_process(model_copy, home, file, damage):
    path = model_copy / file
    content = path.read_bytes()
    if damage == "gone":
        path.unlink()
    else:
        damaged = {"cut": content[: len(content) // 3], "noise": os.urandom(2000) + content[2000:], "empty": b""}
        path.write_bytes(damaged[damage])
    with pytest.raises(SpeechError, match="vosk-model-copy") as error:
        VoskEngine(model_copy)
    assert "\n" not in str(error.value)
    assert "again" in str(error.value)


def test_a_model_that_breaks_after_it_was_tried_is_tried_again(model_copy, home):
    VoskEngine(model_copy)
    assert (home / "proofs.json").is_file()
    path = model_copy / "am" / "final.mdl"
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(SpeechError, match="damaged"):
        VoskEngine(model_copy)


def test_a_tried_model_is_not_tried_again(home, monkeypatch):
    VoskEngine(mini_model_folder())
    monkeypatch.setattr(subprocess, "run", None)
    VoskEngine(mini_model_folder())


@pytest.mark.parametrize("make", [lambda folder: None, lambda folder: folder.mkdir(), lambda folder: folder.touch()])
def test_what_is_no_model_is_named(tmp_path, home, make):
    make(tmp_path / "something")
    with pytest.raises(SpeechError, match="something"):
        VoskEngine(tmp_path / "something")


def test_listening_prints_nothing(home):
    program = (
        "import sys, pathlib, numpy\n"
        "from diaryidx.speech.vosk_engine import VoskEngine\n"
        "VoskEngine(pathlib.Path(sys.argv[1])).hear(numpy.zeros(16000, numpy.int16))"
    )
    run = subprocess.run([sys.executable, "-c", program, mini_model_folder()], capture_output=True, check=True)
    assert (run.stdout, run.stderr) == (b"", b"")


@pytest.mark.parametrize(
    ("modules", "unloaded"),
    [
        ("speech.vosk_engine, diaryidx.speech.packaged_engine, diaryidx.speech.hearing", "vosk moonshine_voice spacy"),
        ("speech.home, diaryidx.media.identity, diaryidx.media.dates", "numpy av httpx"),  # a run with nothing to do
    ],
)
def test_importing_loads_nothing_heavy(modules, unloaded):
    program = f"import sys, diaryidx.{modules}; sys.exit(any(name in sys.modules for name in {unloaded.split()!r}))"
    assert subprocess.run([sys.executable, "-c", program], cwd=Path(__file__).parents[2], check=False).returncode == 0
