"""What the shop develops itself: a record a development, with its thread through the films.

A development is known by its name: one that a person put into ``words.yaml``, or one that a film called a development.
Its thread is every stretch about it, and, where the name is the shop's own and no everyday part, every sentence that
names it.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

import yaml
from sqlite_utils import Database

from diaryidx.errors import NotFound
from diaryidx.records import Development, DevelopmentMoment
from diaryidx.store import reading, writing
from diaryidx.vocabulary.loader import Vocabulary

_STATES_FILE = Path(__file__).with_name("developments.yaml")
#: Sentences that a moment holds where a name falls in talk about something else: the one that names it and those after,
#: and where it falls in talk about no bike, up to so many (our own choice).
AFTER_IN_PASSING, LONGEST_MOMENT = 1, 8


def refresh_developments(db: Database, vocabulary: Vocabulary) -> None:
    """Make the records anew from what films said; nothing that a person decided is in them."""
    own = {name.lower(): name for name in vocabulary.developments}
    said = [name for name in reading.development_names(db.conn) if name.lower() not in own]
    records = []
    for name in (*own.values(), *said):
        thread = thread_of(db.conn, name, by_name=_is_own_name(name, vocabulary))
        if thread:
            records.append(Development(name, _state(thread), thread, by_name=_is_own_name(name, vocabulary)))
    writing.save_developments(db, records)


def developments(db: sqlite3.Connection) -> list[Development]:
    """Every development with its thread, that spoken of last first."""
    found = [
        Development(name, state, thread_of(db, name, by_name=by_name), by_name)
        for name, state, by_name in reading.development_records(db)
    ]
    return sorted(found, key=lambda one: (one.thread[-1].date or "") if one.thread else "", reverse=True)


def development(db: sqlite3.Connection, words: str) -> Development:
    """One development by its name, or by words that only one name has.

    :raises NotFound: none has this name, or several have; the message names them.
    """
    everything = developments(db)
    wanted = set(_words(words))
    exact = [one for one in everything if _words(one.name) == _words(words)]
    found = exact or [one for one in everything if wanted and wanted <= set(_words(one.name))]
    if len(found) == 1:
        return found[0]
    known = ", ".join(one.name for one in found or everything) or "none yet"
    raise NotFound(f"no development is called {words.strip()[:60]!r}; there are: {known}")


def thread_of(db: sqlite3.Connection, name: str, *, by_name: bool) -> tuple[DevelopmentMoment, ...]:
    """What films said of a development, oldest first.

    :param by_name: also take sentences that name it outside the stretches about it.
    """
    moments = []
    for film, date, title in reading.films_about(db, name, by_name=by_name):
        sentences = reading.sentences(db, film)
        for first, last, build in _stretches(db, film, name, len(sentences), by_name):
            said = sentences[first : last + 1]
            text = " ".join(sentence.text for sentence in said)
            moments.append(
                DevelopmentMoment(film, title, date, said[0].start, said[-1].end, text, state_said(text), build)
            )
    return tuple(moments)


def state_said(text: str) -> str | None:
    """How far a development is by what is said, or None where nothing tells."""
    plain = f" {' '.join(_words(text))} "
    return next((state for state, phrases in _states().items() if any(phrase in plain for phrase in phrases)), None)


def _stretches(
    db: sqlite3.Connection, film: str, name: str, count: int, by_name: bool
) -> list[tuple[int, int, str | None]]:
    """The first and last sentence of each stretch of a film about a development, and the bike it was said of."""
    segments = reading.segments(db, recording_id=film)
    about = [one for one in segments if one.subject.kind in ("development", "product") and one.subject.id == name]
    found: list[tuple[int, int, str | None]] = [(one.first, one.last, None) for one in about]
    for place in reading.sentences_naming(db, film, name) if by_name else ():
        if any(first <= place <= last for first, last, _build in found):
            continue
        segment = next((one for one in segments if one.first <= place <= one.last), None)
        of_bike = segment is not None and segment.subject.kind == "build"
        end = segment.last if segment else count - 1
        last = min(place + (AFTER_IN_PASSING if of_bike else LONGEST_MOMENT - 1), end)
        found.append((place, last, segment.build if segment else None))
    return sorted(found, key=lambda one: one[:2])


def _state(thread: Sequence[DevelopmentMoment]) -> str | None:
    return next((moment.state for moment in reversed(thread) if moment.state), None)


def _is_own_name(name: str, vocabulary: Vocabulary) -> bool:
    """Whether a name stands in the shop's own words and so means this thing and no everyday part."""
    terms = vocabulary.by_canonical.get(name.lower(), ())
    return any(term.origin == "words.yaml" for term in terms)


@cache
def _states() -> dict[str, tuple[str, ...]]:
    raw: dict[str, list[str]] = yaml.safe_load(_STATES_FILE.read_text(encoding="utf-8"))
    return {state: tuple(_padded(phrases)) for state, phrases in raw.items()}


def _padded(phrases: Iterable[str]) -> Iterable[str]:
    return (f" {' '.join(_words(str(phrase)))} " for phrase in phrases)


def _words(text: str) -> list[str]:
    """Words without case, "it'll" as "it" and "'ll", so that phrases begin and end between words."""
    return re.findall(r"'\w+|\w+", text.lower().replace("’", "'"))
