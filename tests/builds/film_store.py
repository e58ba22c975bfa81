"""Films written down line by line and stored in a real database, for the tests of builds, answers and months."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlite_utils import Database

from diaryidx.records import (
    Entry,
    Event,
    Mention,
    ProductLine,
    Promise,
    Reading,
    Segment,
    Sentence,
    Statement,
    Status,
    Subject,
    SubjectKind,
)  # fmt: skip
from diaryidx.store import writing
from diaryidx.store.writing import RecordingRow

#: Every line of an invented film takes so long, in seconds.
LINE_SECONDS = 5.0


@dataclass(frozen=True)
class Line:
    """A sentence and what is stated in it."""

    text: str
    facts: tuple[Statement, ...] = ()


@dataclass(frozen=True)
class Topic:
    """A stretch of film about one thing; ``build`` is who it is tied to, ``about`` the name of what is no build."""

    lines: tuple[Line, ...]
    title: str = "topic"
    kind: SubjectKind = "build"
    build: str | None = None
    certainty: float = 0.9
    about: str | None = None


def line(text: str, *facts: Statement) -> Line:
    return Line(text, facts)


def topic(*lines: Line, title: str = "topic", kind: SubjectKind = "build", build: str | None = None,
          certainty: float = 0.9, about: str | None = None) -> Topic:  # fmt: skip
    return Topic(lines, title, kind, build, certainty, about)


def fact(status: Status, part: str | None = None, certainty: float = 0.8, **slots: str | None) -> Statement:
    return Statement(status=status, text="", part=part, certainty=certainty, **slots)  # type: ignore[arg-type]


def save_film(
    db: Database,
    film: str,
    date: str | None,
    topics: Sequence[Topic],
    *,
    kind: str = "diary",
    month: str | None = None,
    title: str | None = None,
    entries: Sequence[Entry] = (),
    promises: Sequence[Promise] = (),
    events: Sequence[Event] = (),
    products: Sequence[ProductLine] = (),
    mentions: Sequence[Mention] = (),
) -> None:
    """Store a film of these topics, one line every five seconds."""
    sentences, segments, statements = laid_out(topics)
    month = month or (date[:7] if date else None)
    writing.save_recording(
        db,
        RecordingRow(film, f"{film}.mp4", 1, 1, f"hash of {film}", title or film, kind, date, "file name", month,
                     LINE_SECONDS * len(sentences), True),
    )  # fmt: skip
    reading = Reading(
        kind, tuple(mentions), tuple(segments), tuple(statements), tuple(entries), tuple(promises), tuple(events),  # type: ignore[arg-type]
        tuple(products),
    )  # fmt: skip
    writing.save_reading(db, film, sentences, reading, reading_key="key", engine="invented")


def laid_out(topics: Sequence[Topic]) -> tuple[list[Sentence], list[Segment], list[Statement]]:
    """Topics as sentences, segments and statements with their times and places."""
    sentences: list[Sentence] = []
    segments: list[Segment] = []
    statements: list[Statement] = []
    for place, one in enumerate(topics):
        first = len(sentences)
        subject = Subject(one.kind, one.about or one.build)
        for said in one.lines:
            start = LINE_SECONDS * len(sentences)
            statements += [
                replace(item, text=said.text, sentence=len(sentences), segment=place, start=start, build=one.build,
                        end=start + LINE_SECONDS, subject=subject)
                for item in said.facts
            ]  # fmt: skip
            sentences.append(Sentence(start, start + LINE_SECONDS, said.text, said.text, certainty=0.9))
        last = len(sentences) - 1
        segments.append(
            Segment(sentences[first].start, sentences[last].end, first, last, one.title, subject, one.build,
                    one.certainty)
        )  # fmt: skip
    return sentences, segments, statements
