"""A history in words, as lines of plain text for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from diaryidx.builds.standing import OpenItem, PartState, news_since, open_in_full, systems
from diaryidx.builds.wording import (
    CHANGE_WORDS,
    STATUS_WORDS,
    conflict_words,
    describe,
    item_words,
    open_words,
    said_date,
    state_words,
)
from diaryidx.film_records import CustomerPart
from diaryidx.records import History, Note, Promise, Recording, Statement
from diaryidx.remark_wording import customer_part_words
from diaryidx.wording import clock, doubt


def describe_history(history: History, recordings: Sequence[Recording], since: str | None = None) -> list[str]:
    """A history as lines of plain text: what is new, what is open, what disagrees, the state by system, the timeline.

    :param recordings: the films, for their titles and dates; those that are missing are shown by their id.
    :param since: the day from which things are new; without it, the customer's last visit, if one is known.
    """
    sources = _Sources({film.id: film for film in recordings}, {note.id: note for note in history.notes})
    lines = [_headline(history)]
    lines += _since(history, since, sources)
    lines += _section("Still open", [_open_line(item, sources) for item in open_in_full(history)])
    lines += _section("From the customer", [_customer_line(one, sources) for one in history.customer_parts])
    lines += _section("Promised on film", [_promise_line(one, sources) for one in history.promises])
    voice = {film.id for film in recordings if film.kind == "bench note"}
    for heading in dict.fromkeys(conflict_words(*pair, voice) for pair in history.conflicts):
        pairs = [pair for pair in history.conflicts if conflict_words(*pair, voice) == heading]
        lines += _section(heading, [f"{sources.quote(one)}\n    but {sources.quote(other)}" for one, other in pairs])
    for kind, heading in CHANGE_WORDS.items():
        changed = [one for one in history.changes if one.kind == kind]
        told = [f"{sources.quote(one.earlier)}\n    then {sources.quote(one.later)}" for one in changed]
        lines += _section(heading, told)
    lines += _state(history)
    lines += _timeline(history, sources)
    if not history.statements and not history.notes:
        lines += ["", "Nothing has been said of it on film yet."]
    return "\n".join(lines).split("\n")


def _section(heading: str, told: Sequence[str]) -> list[str]:
    return ["", heading, *(f"  {line}" for line in told)] if told else []


def _headline(history: History) -> str:
    build = history.build
    bike = " ".join(word for word in (build.make, build.model) if word)
    dated = " ".join(word for word in (build.year, bike if bike != build.name else None) if word)
    due = f"promised for {said_date(build.promised)}" if build.promised and not build.date_out else None
    facts = [word for word in (dated, build.colour, build.state, due) if word]
    return ", ".join([f"Job {build.job_number}: {build.name}", *facts])


@dataclass(frozen=True, slots=True)
class _Sources:
    """How the films, notes and the job book are named beside what they say."""

    films: Mapping[str, Recording]
    notes: Mapping[int, Note]

    def name(self, statement: Statement) -> str:
        if statement.note is not None:
            return self.note_name(self.notes[statement.note])
        return "Job book" if statement.recording is None else self.film_name(statement.recording)

    def film_name(self, recording: str) -> str:
        film = self.films.get(recording)
        return f"{film.title}, {said_date(film.date or film.month)}" if film else recording

    def note_name(self, note: Note) -> str:
        return f"Note {note.id} by {note.author}, {said_date(note.date)}"

    def day(self, statement: Statement) -> str:
        film = self.films.get(statement.recording or "")
        return statement.said_on or (film.date if film else None) or ""

    def place(self, statement: Statement) -> str:
        if statement.source == "book":
            return "job book"
        at = f", {clock(statement.start)}" if statement.recording else ""
        return f"{self.name(statement)}{at}{self.also(statement)}"

    def quote(self, statement: Statement) -> str:
        at = f" at {clock(statement.start)}" if statement.recording else ""
        day = f", {said_date(statement.when)}" if statement.source == "book" and statement.when else ""
        return f'{self.name(statement)}{day}{at}{self.also(statement)}: "{statement.text}"{self.plays(statement)}'

    def plays(self, statement: Statement) -> str:
        """Where a quotation plays on the site."""
        return (
            "" if statement.recording is None else f" (plays at /films/{statement.recording}?t={statement.start:.1f})"
        )

    def also(self, statement: Statement) -> str:
        """The other films that hold the same words."""
        return "".join(f"; also {self.film_name(film)}, {clock(start)}" for film, start in statement.also)


def _since(history: History, since: str | None, sources: _Sources) -> list[str]:
    day = since or history.last_visit
    if day is None:
        return []
    visit = "" if since else " (the customer's last visit)"
    news = [_line(one, f"{sources.place(one)}: ") for one in news_since(history, day)]
    return ["", f"New since {said_date(day)}{visit}", *(news or ["  nothing"])]


def _open_line(item: OpenItem, sources: _Sources) -> str:
    return f"{item_words(item.statement)}: {open_words(item)} ({sources.place(item.statement)})" + _doubt(
        item.statement
    )


def _customer_line(one: CustomerPart, sources: _Sources) -> str:
    unsure = doubt(one.certainty)
    words = customer_part_words(one) + (f" ({unsure})" if unsure else "")
    return f'{words}, {sources.film_name(one.recording or "")} at {clock(one.start)}: "{one.text}"'


def _promise_line(promise: Promise, sources: _Sources) -> str:
    due = f", by {said_date(promise.due)}" if promise.due else ""
    return f'{sources.film_name(promise.recording or "")} at {clock(promise.start)}{due}: "{promise.text}"'


def _state(history: History) -> list[str]:
    lines = []
    for system, parts in systems(history).items():
        lines += [f"  {system}", *(f"    {_part_line(part)}" for part in parts)]
    return ["", "As it stands", *lines] if lines else []


def _part_line(part: PartState) -> str:
    name = ", ".join(word for word in (part.part, part.side) if word)
    return f"{name}: {state_words(part)}" + _doubt(part.latest)


def _doubt(statement: Statement) -> str:
    """How far to trust a line, in brackets; a person's word is told too."""
    told = [
        words for words in (doubt(statement.certainty), "checked by a person" if statement.decided else "") if words
    ]
    return f" ({', '.join(told)})" if told else ""


def _timeline(history: History, sources: _Sources) -> list[str]:
    """Blocks of lines under the film or note that they come from, in the order of days."""
    blocks: dict[str, tuple[str, list[str]]] = {}
    for statement in history.statements:
        _day, lines = blocks.setdefault(sources.name(statement), (sources.day(statement), []))
        at = f"{clock(statement.start)}  " if statement.recording else ""
        lines.append(_line(statement, at, sources.also(statement)))
    for note in history.notes:
        _day, lines = blocks.setdefault(sources.note_name(note), (note.date, []))
        if not lines:
            lines.append(f'  "{" ".join(note.text.split())}"')
        lines += [f"  photo: {photo.name}" for photo in note.photos]
    in_order = sorted(blocks.items(), key=lambda block: block[1][0])
    return [line for name, (_day, lines) in in_order for line in ("", name, *_quoted_once(lines))]


def _quoted_once(lines: Iterable[str]) -> list[str]:
    """Lines of one film; of several from the same words only the last has them, so that they stand once."""
    listed = list(lines)
    return [
        line.partition('  "')[0]
        if place + 1 < len(listed) and _words(line) == _words(listed[place + 1]) != ""
        else line
        for place, line in enumerate(listed)
    ]


def _words(line: str) -> str:
    return line[2:].partition('  "')[2]


def _line(statement: Statement, before: str, also: str = "") -> str:
    quoted = f'  "{statement.text}"' if describe(statement) != statement.text else ""
    return f"  {before}{STATUS_WORDS[statement.status]}: {describe(statement)}{_doubt(statement)}{also}{quoted}"
