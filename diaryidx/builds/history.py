"""What is known of one build: every statement in film order, what is still open, and where films disagree."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from diaryidx.builds.wishes import exclude_each_other, shipped_vocabulary, wishes
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import STATUS_WORDS, describe, said_date
from diaryidx.records import OPEN_STATUSES, Build, History, Note, Recording, Statement
from diaryidx.store import reading
from diaryidx.wording import DOUBTFUL_BELOW, clock, doubt

_SETTLING = ("done", "ruled out", "earlier work")
_STATED = ("done", "in progress", "earlier work")


#: How films say of a whole bike that it is finished. Common practice, no source.
_FINISHED_WORDS = re.compile(
    r"\b(?:all (?:done|finished)|(?:is|it's|she's|he's|bike's|now|completely) (?:finished|complete)"
    r"|ready to (?:go|ride|collect)|gone (?:home|back to)|handed over|been collected|picked (?:it|her|him) up)\b"
)


def history(db: sqlite3.Connection, build: Build) -> History:
    """Everything said of a build, oldest first: what the job book says was asked for, then the films and notes.

    Usual practice is left out: it is true of no bike in particular.
    """
    said = [one for one in said_of(db, build.job_number) if one.status != "usual practice"]
    notes = tuple(note for note in reading.notes(db, build=build.job_number) if note.undone_at is None)
    statements = (*wishes(build), *said)
    return History(build, statements, tuple(open_items(statements, build)), tuple(conflicts(said)), notes)


def said_of(db: sqlite3.Connection, job_number: str | None = None) -> list[Statement]:
    """What films and notes say of one build, or of all, in the order of days."""
    filmed, noted = reading.statements(db, build=job_number), reading.note_statements(db, build=job_number)
    if not noted:
        return filmed
    dates = reading.film_dates(db)
    return sorted((*filmed, *noted), key=lambda one: one.said_on or dates.get(one.recording or "") or "")


def open_items(statements: Iterable[Statement], build: Build | None = None) -> list[Statement]:
    """The latest statement of each part, side and task, where that is still asked for, planned, going on or waiting.

    A later statement settles or replaces an earlier one of the same part when sides and tasks can be the same: unnamed
    fits any, "both" fits each; a doubtful one settles nothing. What nobody can tell apart from another thing (no part,
    task or product) is left out, unless it stands in the job book. Wishes of a build that the job book calls finished
    are no longer open.

    :param statements: in the order in which they were said.
    """
    finished = build is not None and is_finished(build)
    still_open: list[Statement] = []
    for said in statements:
        if finished and said.source == "book":
            continue
        if said.source != "book" and not (said.part or said.task or said.product):
            continue
        if said.status not in OPEN_STATUSES and (said.status not in _SETTLING or said.certainty < DOUBTFUL_BELOW):
            continue
        still_open = [one for one in still_open if not same_item(one, said)]
        if said.status in OPEN_STATUSES:
            still_open.append(said)
    return still_open


def is_finished(build: Build) -> bool:
    """Whether the job book says that a build is finished or has left."""
    state = " ".join((build.state or "").lower().split())
    return bool(build.date_out) or state in word_set("finished_states")


def says_finished(statement: Statement) -> bool:
    """Whether a statement says of a whole bike that it is finished or has left."""
    if statement.status != "done" or statement.part is not None:
        return False
    return statement.task in word_set("finishing_tasks") or bool(_FINISHED_WORDS.search(statement.text.lower()))


def same_item(one: Statement, other: Statement) -> bool:
    """Whether two statements can be about the same part (or product), side and task of a bike."""
    if (one.part or other.part) and one.part != other.part:
        return False
    if not (one.part or other.part) and (one.product or other.product) and one.product != other.product:
        return False
    if not (one.part or one.product or one.task) or not (other.part or other.product or other.task):
        return one.text == other.text
    return _sides_meet(one.side, other.side) and (one.task is None or other.task is None or one.task == other.task)


def conflicts(statements: Sequence[Statement]) -> list[tuple[Statement, Statement]]:
    """Pairs of statements that cannot both be true and that nothing said in between explains.

    Two kinds: the same part and side has two different finishes; the same task is done and later still to do. A change
    of mind (the new finish was asked for or planned before) and work done again are no conflicts, nor is what is
    doubtful.

    :param statements: in the order in which they were said.
    """
    by_part: dict[str, list[Statement]] = {}
    for one in statements:
        if one.part and one.certainty >= DOUBTFUL_BELOW:
            by_part.setdefault(one.part, []).append(one)
    found = []
    for said in by_part.values():
        for (first, earlier), (second, later) in combinations(enumerate(said), 2):
            if (
                (earlier.recording, earlier.note) == (later.recording, later.note)
                or not _sides_meet(earlier.side, later.side)
                or _said_again(later)
            ):
                continue
            before, after = [*said[:first], *said[first + 1 : second]], said[second + 1 :]
            if _finishes_disagree(earlier, later, before) or _undone(earlier, later, after):
                found.append((earlier, later))
    return found


def _finishes_disagree(earlier: Statement, later: Statement, before: Sequence[Statement]) -> bool:
    """Two finishes that one part cannot have, the later one never asked for or planned."""
    if earlier.status not in _STATED or later.status not in ("done", "in progress"):
        return False
    if not (earlier.finish and later.finish) or not exclude_each_other(earlier.finish, later.finish):
        return False
    wished = [one.finish for one in before if one.status in OPEN_STATUSES and one.finish]
    return not any(
        exclude_each_other(earlier.finish, wish) and not exclude_each_other(later.finish, wish) for wish in wished
    )


def _undone(earlier: Statement, later: Statement, after: Sequence[Statement]) -> bool:
    """Done in one film, still to do in a later one, and not done again since."""
    if earlier.status != "done" or later.status not in ("planned", "in progress", "waiting"):
        return False
    if earlier.task is None or earlier.task != later.task:
        return False
    if earlier.finish and later.finish and exclude_each_other(earlier.finish, later.finish):
        return False
    return not any(one.status in _SETTLING and same_item(one, later) for one in after)


def _said_again(statement: Statement) -> bool:
    return not word_set("again").isdisjoint(statement.text.lower().split())


def _sides_meet(one: str | None, other: str | None) -> bool:
    return one is None or other is None or one == other or "both" in (one, other)


def by_system(statements: Iterable[Statement]) -> dict[str, list[Statement]]:
    """Statements by the system of the bike that their part belongs to, in the order of first appearance."""
    vocabulary = shipped_vocabulary()
    grouped: dict[str, list[Statement]] = {}
    for statement in statements:
        term = vocabulary.term(statement.part, "PART")
        grouped.setdefault((term and term.system) or "other", []).append(statement)
    return grouped


def describe_history(history: History, recordings: Sequence[Recording]) -> list[str]:
    """A history as lines of plain text: what is open, what disagrees, then the timeline film by film.

    :param recordings: the films, for their titles and dates; those that are missing are shown by their id.
    """
    sources = _Sources({film.id: film for film in recordings}, {note.id: note for note in history.notes})
    lines = [_headline(history.build)]
    if history.open:
        lines += ["", "Still open"]
        lines += [f"  {describe(one)}: {STATUS_WORDS[one.status]} {sources.since(one)}" for one in history.open]
    if history.conflicts:
        lines += ["", "The films disagree"]
        lines += [f"  {sources.quote(one)}\n    but {sources.quote(other)}" for one, other in history.conflicts]
    lines += _timeline(history, sources)
    if not history.statements and not history.notes:
        lines += ["", "Nothing has been said of it on film yet."]
    return "\n".join(lines).split("\n")


def _headline(build: Build) -> str:
    bike = " ".join(word for word in (build.make, build.model) if word)
    dated = " ".join(word for word in (build.year, bike if bike != build.name else None) if word)
    facts = [word for word in (dated, build.colour, build.state) if word]
    return ", ".join([f"Job {build.job_number}: {build.name}", *facts])


@dataclass(frozen=True, slots=True)
class _Sources:
    """How the films, notes and the job book are named beside what they say."""

    films: Mapping[str, Recording]
    notes: Mapping[int, Note]

    def name(self, statement: Statement) -> str:
        if statement.note is not None:
            return self.note_name(self.notes[statement.note])
        if statement.recording is None:
            return "Job book"
        film = self.films.get(statement.recording)
        return f"{film.title}, {said_date(film.date or film.month)}" if film else statement.recording

    def note_name(self, note: Note) -> str:
        return f"Note {note.id} by {note.author}, {said_date(note.date)}"

    def day(self, statement: Statement) -> str:
        film = self.films.get(statement.recording or "")
        return statement.said_on or (film.date if film else None) or ""

    def since(self, statement: Statement) -> str:
        if statement.source == "book":
            return f"in the job book{f', {said_date(statement.when)}' if statement.when else ''}"
        return f"({self.name(statement)}{f', {clock(statement.start)}' if statement.recording else ''})"

    def quote(self, statement: Statement) -> str:
        at = f" at {clock(statement.start)}" if statement.recording else ""
        return f'{self.name(statement)}{at}: "{statement.text}"'


def _timeline(history: History, sources: _Sources) -> list[str]:
    """Blocks of lines under the film or note that they come from, in the order of days."""
    blocks: dict[str, tuple[str, list[str]]] = {}
    for statement in history.statements:
        _day, lines = blocks.setdefault(sources.name(statement), (sources.day(statement), []))
        lines.append(_line(statement))
    for note in history.notes:
        _day, lines = blocks.setdefault(sources.note_name(note), (note.date, []))
        if not lines:
            lines.append(f'  "{" ".join(note.text.split())}"')
        lines += [f"  photo: {photo.name}" for photo in note.photos]
    in_order = sorted(blocks.items(), key=lambda block: block[1][0])
    return [line for name, (_day, lines) in in_order for line in ("", name, *lines)]


def _line(statement: Statement) -> str:
    doubtful = doubt(statement.certainty)
    note = f" ({doubtful})" if doubtful else ""
    at = f"{clock(statement.start)}  " if statement.recording else ""
    quoted = f'  "{statement.text}"' if describe(statement) != statement.text else ""
    return f"  {at}{STATUS_WORDS[statement.status]}: {describe(statement)}{note}{quoted}"
