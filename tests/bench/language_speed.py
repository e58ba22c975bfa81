"""How fast talk is understood: words a second, start-up, cost by length of text and by size of vocabulary.

Processor time of one thread, as medians of turns in which what is compared takes its turn one after the other, so that
other work on the machine touches both alike.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import spacy

from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Sentence
from diaryidx.vocabulary import Vocabulary, load_vocabulary

TURNS = 9
SHORT, LONGER = 60, 100  # sentences, and how many times as long
_START = (
    "import time; begun = time.process_time(); from diaryidx.language.pipeline import build_pipeline; "
    "from diaryidx.vocabulary import load_vocabulary; build_pipeline(load_vocabulary())('the tank is done'); "
    "print(time.process_time() - begun)"
)


def measure(texts: Sequence[str]) -> None:
    """Print the rows. ``texts`` is talk of the workshop."""
    vocabulary = load_vocabulary()
    nlp = build_pipeline(vocabulary)
    words = sum(len(text.split()) for text in texts)
    ours, blank = _turns([_over(nlp, texts), _over(spacy.blank("en"), texts)])
    print("\nspeed, processor time of one core, medians")
    print(
        f"  words a second: {words / ours:,.0f} (asked for 20,000); spaCy's blank tokenizer alone {words / blank:,.0f}"
    )
    print(f"  start-up to the first sentence: {_start_up():.2f} s (asked for under 1.5)")
    film, long_film = _film(texts, SHORT), _film(texts, SHORT * LONGER)
    short, long = _turns([_reading(nlp, vocabulary, film, 20), _reading(nlp, vocabulary, long_film, 1)], turns=3)
    print(f"  a film {LONGER} times as long costs {long / (short / 20):.0f} times (asked for within 20 %)")
    large = _larger(vocabulary)
    one, ten = _turns([_over(nlp, texts), _over(build_pipeline(large), texts)])
    print(
        f"  with {len(large.terms):,} terms in place of {len(vocabulary.terms):,}: {ten / one:.2f} times the time "
        "(asked for at most 1.3)"
    )


def _over(nlp: Any, texts: Sequence[str]) -> Callable[[], None]:
    def run() -> None:
        for text in texts:
            nlp(text)

    return run


def _film(texts: Sequence[str], count: int) -> list[Sentence]:
    return [Sentence(2.0 * at, 2.0 * at + 1.8, (text := texts[at % SHORT]), text) for at in range(count)]


def _reading(nlp: Any, vocabulary: Vocabulary, film: Sequence[Sentence], times: int) -> Callable[[], None]:
    def read() -> None:
        for _ in range(times):
            read_recording(nlp, film, "diary", "2025-10-05", vocabulary)

    return read


def _turns(tasks: Sequence[Callable[[], None]], turns: int = TURNS) -> list[float]:
    """The median processor time of each task, in seconds; each is done once before."""
    took: list[list[float]] = [[] for _ in tasks]
    for turn in range(turns + 1):
        for task, times in zip(tasks, took, strict=True):
            begun = time.process_time()
            task()
            if turn:
                times.append(time.process_time() - begun)
    return [statistics.median(times) for times in took]


def _start_up() -> float:
    runs = [
        subprocess.run([sys.executable, "-c", _START], capture_output=True, text=True, check=True) for _ in range(5)
    ]
    return statistics.median(float(run.stdout) for run in runs)


def _larger(vocabulary: Vocabulary) -> Vocabulary:
    """A shop with nine times as many invented parts beside the shipped terms, in the same number of words each."""
    draw = random.Random(7)

    def word() -> str:
        return "".join(draw.choice("bdfgklmnprstvz") + draw.choice("aeiou") for _ in range(draw.choice((2, 3, 4))))

    names = {f"{word()} {word()}" for _ in range(9 * len(vocabulary.terms))}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "words.yaml"
        file.write_text("parts:\n" + "".join(f"- {name}\n" for name in sorted(names)), encoding="utf-8")
        return load_vocabulary(file)
