"""Sentences with their meaning in a plain format (see the head of working_set.yaml): reading the file, and scoring."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

SLOTS = ("status", "part", "side", "task", "finish", "quantity", "said_by", "who", "when")
LABELS = {
    "P": "PART", "T": "TASK", "F": "FINISH", "S": "SIDE", "Q": "QUANTITY", "W": "PERSON", "D": "DATE", "$": "PRICE",
    "M": "MEASURE",
}  # fmt: skip
_MARK = re.compile(r"\{([PTFSQWD$M]) ([^}]*)\}")


@dataclass(frozen=True)
class Case:
    """One sentence: text, marked spans (start, end, label; None where it is not marked for spans), and its meaning.

    ``after`` are sentences said before it, ``said_on`` the ISO date of its film.
    """

    text: str
    after: tuple[str, ...]
    film: str
    spans: tuple[tuple[int, int, str], ...] | None
    means: tuple[tuple[tuple[str, str], ...], ...]
    said_on: str | None = None


def load_set(path: Path) -> list[Case]:
    """Read a set."""
    return [_case(entry) for entry in yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)]


def _case(entry: dict[str, Any]) -> Case:
    text, spans = "", []
    place = 0
    for mark in _MARK.finditer(entry["say"]):
        text += entry["say"][place : mark.start()]
        spans.append((len(text), len(text) + len(mark.group(2)), LABELS[mark.group(1)]))
        text += mark.group(2)
        place = mark.end()
    text += entry["say"][place:]
    marked = None if "unmarked" in entry else tuple(spans)
    means = tuple(_slots(statement) for statement in entry["means"])
    return Case(text, tuple(entry.get("after", ())), entry.get("film", "diary"), marked, means)


def _slots(statement: dict[str, str]) -> tuple[tuple[str, str], ...]:
    unknown = statement.keys() - set(SLOTS)
    assert not unknown, f"unknown slots {unknown}"
    filled = {"said_by": "shop", **statement}
    return tuple((slot, filled[slot]) for slot in SLOTS if slot in filled)


def read_case(nlp: Any, vocabulary: Any, case: Case) -> tuple[list[Any], list[Any]]:
    """Statements and mentions that the product makes of the case's own sentence."""
    from diaryidx.language.reading import read_recording
    from diaryidx.records import Sentence

    texts = [*case.after, case.text]
    told = [Sentence(2.0 * place, 2.0 * place + 1.8, text, text) for place, text in enumerate(texts)]
    reading = read_recording(nlp, told, case.film, case.said_on, vocabulary)  # type: ignore[arg-type]
    last = len(texts) - 1
    statements = [one for one in reading.statements if one.sentence == last]
    return statements, [one for one in reading.mentions if one.sentence == last]


def slots_of(statement: Any, slots: Sequence[str] = SLOTS) -> tuple[tuple[str, str], ...]:
    """A product statement in the form of the set."""
    return tuple((slot, str(value)) for slot in slots if (value := getattr(statement, slot)) is not None)


@dataclass
class StatementScore:
    """Whole statements: right, made, wanted. Status: right of those statements whose part and task are found."""

    right: int = 0
    made: int = 0
    wanted: int = 0
    status_right: int = 0
    status_of: int = 0
    sentences_right: int = 0
    sentences: int = 0

    @property
    def precision(self) -> float:
        return self.right / self.made if self.made else 1.0

    @property
    def recall(self) -> float:
        return self.right / self.wanted if self.wanted else 1.0

    @property
    def f1(self) -> float:
        total = self.precision + self.recall
        return 2 * self.precision * self.recall / total if total else 0.0

    def add(self, wanted: Sequence[tuple[tuple[str, str], ...]], made: Sequence[tuple[tuple[str, str], ...]]) -> bool:
        """Count one sentence; returns whether all of it is right."""
        right = sum((Counter(wanted) & Counter(made)).values())
        self.right, self.made, self.wanted = self.right + right, self.made + len(made), self.wanted + len(wanted)
        self.sentences += 1
        whole = right == len(made) == len(wanted)
        self.sentences_right += whole
        for want, got in _pairs(wanted, made):
            self.status_of += 1
            self.status_right += want["status"] == got["status"]
        return whole


def _pairs(wanted: Sequence[Any], made: Sequence[Any]) -> Iterator[tuple[dict[str, str], dict[str, str]]]:
    left = [dict(one) for one in made]
    for want in map(dict, wanted):
        key = (want.get("part"), want.get("side"))
        hit = next((one for one in left if (one.get("part"), one.get("side")) == key), None)
        if hit is not None:
            left.remove(hit)
            yield want, hit


def paired(wanted: Sequence[Any], made: Sequence[Any]) -> list[tuple[dict[str, str], dict[str, str]]]:
    """Statements of both sides that speak of the same part, task or finish, those first that have most in common."""
    wants, makes = [dict(one) for one in wanted], [dict(one) for one in made]
    alike = {
        (i, j): sum(want.get(slot) == value for slot, value in make.items())
        + 2 * (want.get("part") == make.get("part"))
        for i, want in enumerate(wants)
        for j, make in enumerate(makes)
        if any(slot in make and want.get(slot) == make[slot] for slot in ("part", "task", "finish"))
    }
    pairs: list[tuple[int, int]] = []
    for i, j in sorted(alike, key=lambda one: -alike[one]):
        if all(i != one and j != other for one, other in pairs):
            pairs.append((i, j))
    return [(wants[i], makes[j]) for i, j in pairs]


def shown(slots: tuple[tuple[str, str], ...]) -> str:
    """A statement on one line."""
    return ", ".join(f"{slot} {value}" for slot, value in slots if (slot, value) != ("said_by", "shop"))
