"""The invented shop of `withy_bank.yaml` as a database that the product's own reading made, and how well it is asked.

``python tests/faq/withy_bank.py`` prints the figures of both halves; ``--errors`` what went wrong in the working half.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from sqlite_utils import Database

from diaryidx.faq.search import ask
from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Answer, Build, Passage, Sentence
from diaryidx.store import writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary, shipped_data

#: Seconds a spoken word takes, and the pause behind a sentence (about 150 words a minute; common practice, no source).
WORD_SECONDS, PAUSE_SECONDS = 0.35, 0.6
HALVES = ("working", "report")


@cache
def shop_data() -> dict[str, Any]:
    """The job book and the films."""
    return _yaml("withy_bank.yaml")


@cache
def questions() -> dict[str, list[dict[str, Any]]]:
    """What people ask, by half."""
    return _yaml("people_ask.yaml")


def _yaml(name: str) -> dict[str, Any]:
    data: dict[str, Any] = yaml.safe_load(Path(__file__).with_name(name).read_text(encoding="utf-8"))
    return data


def shop_vocabulary() -> Vocabulary:
    """The shipped words and the names in this job book."""
    return load_vocabulary(builds=_builds())


def _builds() -> list[Build]:
    return [Build(**row) for row in shop_data()["job_book"]]


def spoken(film: Mapping[str, Any]) -> list[Sentence]:
    """A film's sentences with their times."""
    said: list[Sentence] = []
    start = 1.0
    for text in film["says"]:
        end = start + WORD_SECONDS * len(text.split())
        said.append(Sentence(start, end, text, text, certainty=0.9))
        start = end + PAUSE_SECONDS
    return said


def save_shop(db: Database) -> None:
    """Read every film as `index` would and store what is found."""
    vocabulary = shop_vocabulary()
    writing.save_builds(db, _builds())
    nlp = build_pipeline(vocabulary)
    for film in shop_data()["films"]:
        said, name, day = spoken(film), film["id"], film["date"].isoformat()
        row = RecordingRow(name, f"{name}.mp4", 1, 1, f"hash of {name}", film["title"], film["kind"], day, "file name",
                           day[:7], said[-1].end, True)  # fmt: skip
        writing.save_recording(db, row)
        found = read_recording(nlp, said, film["kind"], day, vocabulary)
        writing.save_reading(db, name, said, found, reading_key="key", engine="invented")


# --- scores ----------------------------------------------------------------------------------------------------------


@dataclass
class Score:
    """Counts of one half, and the questions that went wrong."""

    counts: dict[str, list[bool]] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)

    def add(self, measure: str, good: bool, shown: str) -> None:
        self.counts.setdefault(measure, []).append(good)
        if not good:
            self.errors.append(f"{measure}: {shown}")

    def share(self, measure: str) -> float:
        """How many were good, from 0 to 1."""
        return sum(self.counts[measure]) / len(self.counts[measure])


def score_half(db: sqlite3.Connection, vocabulary: Vocabulary, half: str) -> Score:
    """Ask every question of a half."""
    score = Score()
    for question in questions()[half]:
        answer = ask(db, question["ask"], vocabulary)
        first = answer.answers[0] if answer.answers else None
        shown = f"{question['ask']!r} -> {'ANSWERED' if answer.answered else 'open'} " + (
            f"{first.recording} {first.certainty} {first.text[:150]!r}" if first else "nothing"
        )
        if "answer" in question:
            right = [any(_is_right(passage, *one) for one in _answers(question)) for passage in answer.answers[:3]]
            score.add("right passage first", answer.answered and bool(right) and right[0], shown)
            score.add("right among three", answer.answered and any(right), shown)
            score.add("text quotes it", answer.answered and first is not None and _quotes(first, question), shown)
            score.add("not answered wrongly", not answer.answered or any(right[:1]), shown)
        else:
            score.add("left unanswered", not answer.answered, shown)
        _score_cautions(score, question, answer)
    return score


def _score_cautions(score: Score, question: Mapping[str, Any], answer: Answer) -> None:
    care = set() if question["care"] == "none" else set(question["care"])
    found = set(caution_classes(answer))
    shown = f"{question['ask']!r}: {sorted(found)}, not {sorted(care)}"
    if care:
        score.add("cautions there", care <= found, shown)
    score.add("no caution too many", found <= care | set(question.get("may", ())), shown)


def caution_classes(answer: Answer) -> Iterator[str]:
    """The kinds of caution that an answer carries."""
    for name, texts in shipped_data("cautions.yaml")["classes"].items():
        if any(text in answer.cautions for text in texts):
            yield name


def _is_right(passage: Passage, film: str, words: str) -> bool:
    return passage.recording == film and any(
        words in one.text and passage.start < one.end and one.start < passage.end for one in _film(film)
    )


def _quotes(passage: Passage, question: Mapping[str, Any]) -> bool:
    return any(passage.recording == film and words in passage.text.lower() for film, words in _answers(question))


def _answers(question: Mapping[str, Any]) -> list[list[str]]:
    return [question[name] for name in ("answer", "also") if name in question]


@cache
def _film(name: str) -> list[Sentence]:
    return next(spoken(film) for film in shop_data()["films"] if film["id"] == name)


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        db = open_store(Path(folder) / "shop.db")
        save_shop(db)
        vocabulary = shop_vocabulary()
        scores = {half: score_half(db.conn, vocabulary, half) for half in HALVES}
        db.close()
    for measure in scores["working"].counts:
        figures = [
            f"{half} {score.share(measure):4.0%} of {len(score.counts[measure])}" for half, score in scores.items()
        ]
        print(f"{measure:22} {'   '.join(figures)}")
    if "--errors" in sys.argv:
        print(*scores["working"].errors, sep="\n")


if __name__ == "__main__":
    main()
