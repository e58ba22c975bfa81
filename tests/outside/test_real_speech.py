"""Real people reading aloud, through the whole index: word errors by jiwer and by NIST's sclite.

- Five clips of LibriVox (Jane Austen, *Sense and Sensibility*, chapter 1) with their transcription, from Debian's
  package pocketsphinx-testdata; LibriVox recordings are in the public domain.
- Two clips that come inside the moonshine-voice wheel (0.0.49), without a transcription. What is read is written
  below: the first sentence of Charles Dickens, *A Tale of Two Cities*, and one line of Samuel Beckett, *Worstward Ho*;
  both from memory of the books.

The two scorers align differently: jiwer makes the fewest errors, sclite lets a substitution cost 4 and an insertion or
a deletion 3 (its manual, sclite(1)), so it may prefer insertions and deletions to substitutions. With E the fewest
errors and E' those of sclite's alignment: 3 E' <= the cost of sclite's alignment <= the cost of jiwer's <= 4 E. So
sclite counts at least as many errors as jiwer, and at most a third more.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Mapping
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

import jiwer
import pytest

from diaryidx.indexing import index
from diaryidx.shop import load_shop
from diaryidx.store import reading
from diaryidx.store.database import open_store
from tests.bench.scoring_words import normalise

LIBRIVOX = Path("/usr/share/pocketsphinx/test/data/librivox")
IN_THE_WHEEL = {
    "two_cities": (
        "It was the best of times, it was the worst of times, it was the age of wisdom, it was the age of "
        "foolishness, it was the epoch of belief, it was the epoch of incredulity, it was the season of Light, it "
        "was the season of Darkness, it was the spring of hope, it was the winter of despair, we had everything "
        "before us, we had nothing before us, we were all going direct to Heaven, we were all going direct the "
        "other way. In short, the period was so far like the present period, that some of its noisiest "
        "authorities insisted on its being received, for good or for evil, in the superlative degree of "
        "comparison only."
    ),
    "beckett": "Ever tried. Ever failed. No matter. Try again. Fail again. Fail better.",
}
SHIFTED = ("a b c d e f g".upper().split(), "e f g h i j k".upper().split())

librivox = pytest.mark.skipif(not LIBRIVOX.is_dir(), reason="Debian's pocketsphinx-testdata is not installed")
packaged = pytest.mark.skipif(find_spec("moonshine_voice") is None, reason="the extra [packaged] is not installed")
sclite = pytest.mark.skipif(shutil.which("sctk") is None, reason="NIST's scorer (Debian's sctk) is not installed")

Texts = dict[str, list[str]]


def transcription() -> Texts:
    """The words of each LibriVox clip, as pocketsphinx-testdata writes them ("<s> ... </s> (name)")."""
    lines = re.findall(r"<s> (.*) </s> \((.*)\)", (LIBRIVOX / "transcription").read_text())
    return {name: normalise(text) for text, name in lines}


def heard_by(engine: str, clips: Mapping[str, Path], folder: Path) -> Texts:
    """Index clips as the films of a shop; the words of each as its sentences have them."""
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text(f'[speech]\nengine = "{engine}"\n' + 'model = "mini"\n' * (engine == "vosk"))
    for name, path in clips.items():
        shutil.copy(path, folder / "recordings" / f"{name}.wav")
    shop = load_shop(folder)
    db = open_store(shop.database)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DIARYIDX_HOME", str(folder / "home"))
        outcomes = index(shop, db)
    assert {one.outcome for one in outcomes} == {"indexed"}
    texts = {
        Path(one.path).stem: normalise(" ".join(sentence.heard for sentence in reading.sentences(db.conn, one.id)))
        for one in reading.recordings(db.conn)
    }
    db.close()
    assert texts.keys() == clips.keys()
    return texts


@pytest.fixture(scope="module")
def librivox_heard(tmp_path_factory: pytest.TempPathFactory) -> Texts:
    clips = {name: LIBRIVOX / f"{name}.wav" for name in transcription()}
    return heard_by("packaged", clips, tmp_path_factory.mktemp("librivox") / "shop")


@pytest.fixture(scope="module")
def librivox_misheard(tmp_path_factory: pytest.TempPathFactory) -> Texts:
    """By the demo's mini model, which was trained on synthetic voices only."""
    clips = {name: LIBRIVOX / f"{name}.wav" for name in transcription()}
    return heard_by("vosk", clips, tmp_path_factory.mktemp("librivox-mini") / "shop")


@pytest.fixture(scope="module")
def wheel_heard(tmp_path_factory: pytest.TempPathFactory) -> Texts:
    assets = Path(str(files("moonshine_voice"))) / "assets"
    return heard_by(
        "packaged", {name: assets / f"{name}.wav" for name in IN_THE_WHEEL}, tmp_path_factory.mktemp("wheel") / "shop"
    )


def errors_by_jiwer(spoken: Texts, heard: Texts) -> tuple[int, int]:
    """Word errors and words."""
    made = jiwer.process_words([" ".join(spoken[name]) for name in spoken], [" ".join(heard[name]) for name in spoken])
    return made.substitutions + made.deletions + made.insertions, sum(map(len, spoken.values()))


def errors_by_sclite(spoken: Texts, heard: Texts, folder: Path) -> tuple[int, int]:
    """Word errors and words; texts in NIST's trn format, a line "words (speaker_utterance)"."""
    for file, texts in (("spoken.trn", spoken), ("heard.trn", heard)):
        lines = (f"{' '.join(texts[name])} (clip_{place:04d})\n" for place, name in enumerate(spoken))
        (folder / file).write_text("".join(lines))
    command = [
        "sctk",
        "sclite",
        "-r",
        "spoken.trn",
        "trn",
        "-h",
        "heard.trn",
        "trn",
        "-i",
        "rm",
        "-o",
        "rsum",
        "stdout",
    ]
    table = subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True, timeout=60).stdout
    row = re.search(r"\| Sum +\| +\d+ +(\d+) \| +\d+ +\d+ +\d+ +\d+ +(\d+) ", table)
    assert row, table
    return int(row[2]), int(row[1])


def agree(spoken: Texts, heard: Texts, folder: Path) -> None:
    fewest, words = errors_by_jiwer(spoken, heard)
    errors, counted = errors_by_sclite(spoken, heard, folder)
    assert counted == words
    assert fewest <= errors <= 4 * fewest / 3
    print(f"of {words} words: {fewest} errors by jiwer ({fewest / words:.1%}), {errors} by sclite")


@librivox
@packaged
def test_real_reading_is_heard_with_few_errors(librivox_heard: Texts) -> None:
    """2.8 % on the day; the bound leaves room for another processor's rounding, not for another model."""
    errors, words = errors_by_jiwer(transcription(), librivox_heard)
    assert words > 60
    assert errors / words < 0.12


@packaged
@pytest.mark.parametrize("name", IN_THE_WHEEL)
def test_clips_of_the_wheel_are_heard_with_few_errors(wheel_heard: Texts, name: str) -> None:
    """2.5 % and none on the day."""
    errors, words = errors_by_jiwer({name: normalise(IN_THE_WHEEL[name])}, wheel_heard)
    assert errors / words < 0.12


@librivox
@packaged
def test_the_demos_mini_model_hears_real_people_far_worse(librivox_heard: Texts, librivox_misheard: Texts) -> None:
    """As its README says: about 60 % word errors, which is why it is never picked for anyone's own films."""
    mini, words = errors_by_jiwer(transcription(), librivox_misheard)
    better, _ = errors_by_jiwer(transcription(), librivox_heard)
    assert better / words + 0.2 < mini / words < 1


@librivox
@packaged
@sclite
def test_nists_scorer_counts_alike_where_little_is_misheard(librivox_heard: Texts, tmp_path: Path) -> None:
    agree(transcription(), librivox_heard, tmp_path)


@librivox
@sclite
def test_nists_scorer_counts_alike_where_much_is_misheard(librivox_misheard: Texts, tmp_path: Path) -> None:
    agree(transcription(), librivox_misheard, tmp_path)


@packaged
@sclite
def test_nists_scorer_counts_alike_over_a_long_clip(wheel_heard: Texts, tmp_path: Path) -> None:
    agree({name: normalise(text) for name, text in IN_THE_WHEEL.items()}, wheel_heard, tmp_path)


@sclite
def test_the_two_alignments_really_differ_where_they_should(tmp_path: Path) -> None:
    """Seven substitutions cost sclite more than four deletions and four insertions around three right words."""
    spoken, heard = ({"one": text} for text in SHIFTED)
    assert errors_by_jiwer(spoken, heard) == (7, 7)
    assert errors_by_sclite(spoken, heard, tmp_path) == (8, 7)
