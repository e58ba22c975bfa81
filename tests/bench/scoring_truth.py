"""What is truly said in the demo films, with the seconds at which it is heard: for scoring only.

The truth files (``fixtures/truth``) quote the exact words of a script; when they are heard is worked out from
``fixtures/timings``, which know the start and end of every spoken line, and within a line from the number of letters
before the quote and the 0.4 s of silence that the films have between two sentences. That is right to about half a
second.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
TRUTH, TIMINGS = FIXTURES / "truth", FIXTURES / "timings"
KINDS_OF_THINGS = ("products", "prices", "dates", "promises", "questions", "references", "cautions")
#: Silence between two sentences of one line, in seconds, as `fixtures/script.py` makes it.
BETWEEN_SENTENCES = 0.4


@dataclass(frozen=True)
class TrueLine:
    """One turn of one voice; ``start`` and ``end`` in seconds of the film."""

    start: float
    end: float
    say: str


@dataclass(frozen=True)
class TrueTopic:
    """One topic of one film; ``name`` is unique among all films."""

    name: str
    subject: str
    builds: tuple[str, ...]
    text: str
    start: float
    end: float
    lines: tuple[TrueLine, ...]


@dataclass(frozen=True)
class Thing:
    """A statement, product, date, promise or question of the truth: its words, when they are heard, its fields."""

    topic: TrueTopic
    words: str
    start: float
    end: float
    fields: Mapping[str, Any]

    @property
    def optional(self) -> bool:
        """Neither missed when it is absent nor wrong when it is present."""
        return bool(self.fields.get("optional"))

    def right(self, name: str) -> tuple[Any, ...]:
        """The values of a field that are right, None among them where leaving it empty is right as well."""
        value = self.fields[name]
        return tuple(value) if isinstance(value, list) else (value,)


@dataclass(frozen=True)
class TrueFilm:
    """One film of the demo and all that is truly in it. ``path`` is below the shop's recordings folder."""

    name: str
    path: str
    complete: bool
    topics: tuple[TrueTopic, ...]
    statements: tuple[Thing, ...]
    things: Mapping[str, tuple[Thing, ...]] = field(default_factory=dict)

    def topic_at(self, seconds: float) -> TrueTopic:
        """The topic that is spoken of at a moment."""
        return next((topic for topic in self.topics if seconds < topic.end), self.topics[-1])

    def topic(self, identity: str) -> TrueTopic:
        """A topic by its id in the truth file."""
        return next(topic for topic in self.topics if topic.name == f"{self.name}/{identity}")


def load_films() -> list[TrueFilm]:
    """Every film that has a truth file and timings, in the order of their names."""
    return [_film(path.stem) for path in sorted(TIMINGS.glob("*.json")) if (TRUTH / f"{path.stem}.yaml").is_file()]


def load_across(name: str) -> list[dict[str, Any]]:
    """A truth file of journeys across films: "questions", "builds" or "months"."""
    loaded: list[dict[str, Any]] = _read(name)[name]
    return loaded


def words_with_times(film: TrueFilm) -> Iterator[tuple[str, float, float]]:
    """Every word as written, with the seconds at which it begins and ends."""
    for topic in film.topics:
        for line in topic.lines:
            for match in re.finditer(r"\S+", line.say):
                yield match.group(), moment_in(line, match.start()), moment_in(line, match.end())


def moment_in(line: TrueLine, place: int) -> float:
    """When a character of a line is heard, in seconds."""
    breaks = [match.start() + 1 for match in re.finditer(r"[.?!](?=\s)", line.say)]
    spoken = line.end - line.start - BETWEEN_SENTENCES * len(breaks)
    silences = sum(place > one for one in breaks)
    return line.start + spoken * place / max(len(line.say), 1) + BETWEEN_SENTENCES * silences


def when_said(topic: TrueTopic, words: str) -> tuple[float, float]:
    """When words of a topic are heard: start and end in seconds."""
    first = topic.text.index(words)
    return _moment(topic.lines, first, begins=True), _moment(topic.lines, first + len(words), begins=False)


def _moment(lines: Sequence[TrueLine], place: int, *, begins: bool) -> float:
    for line in lines:
        if place < len(line.say) or (place == len(line.say) and not begins):
            return moment_in(line, place)
        place -= len(line.say) + 1
    return lines[-1].end


def _film(name: str) -> TrueFilm:
    truth, timings = _read(name), json.loads((TIMINGS / f"{name}.json").read_text(encoding="utf-8"))
    times = {topic["topic"]: topic for topic in timings["topics"]}
    topics = {topic["id"]: _topic(name, topic, times[topic["id"]], timings["lines"]) for topic in truth["topics"]}
    statements = [
        _thing(topics[topic["id"]], statement["words"], statement)
        for topic in truth["topics"]
        for statement in topic.get("statements", ())
    ]
    things = {
        kind: tuple(_thing(topics[one["topic"]], one.get("answer") or one["words"], one) for one in truth[kind])
        for kind in KINDS_OF_THINGS
    }
    return TrueFilm(name, truth["film"], truth["complete"], tuple(topics.values()), tuple(statements), things)


def _topic(film: str, topic: Mapping[str, Any], time: Mapping[str, Any], lines: Sequence[Any]) -> TrueTopic:
    said = tuple(TrueLine(one["start"], one["end"], one["say"]) for one in lines if one["topic"] == topic["id"])
    text = " ".join(line.say for line in said)
    return TrueTopic(
        f"{film}/{topic['id']}",
        topic["subject"]["kind"],
        tuple(topic["builds"]),
        text,
        time["start"],
        time["end"],
        said,
    )


def _thing(topic: TrueTopic, words: str, fields: Mapping[str, Any]) -> Thing:
    start, end = when_said(topic, words)
    return Thing(topic, words, start, end, fields)


def _read(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = yaml.safe_load((TRUTH / f"{name}.yaml").read_text(encoding="utf-8"))
    return loaded
