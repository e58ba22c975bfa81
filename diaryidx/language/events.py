"""Events for the calendar: shows, open days, days on which the shop is closed; tentative where the talk is."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.language.dates import resolve
from diaryidx.language.discourse import opens_with, phrases, words_of
from diaryidx.language.found import Found
from diaryidx.language.hedges import date_hedge
from diaryidx.language.told import Told, capital
from diaryidx.records import Event

_MARKS = (".", "?", "!")


def events(told: Sequence[Told], said_on: str | None) -> list[Event]:
    """Find events for the calendar.

    Arguments:
        told: all sentences of the film.
        said_on: ISO date of the film, from which "the third of October" is reckoned.
    Returns: events in the order of the film; ``date`` an ISO day or month where one was said,
        ``tentative`` where hedged.
    """
    found: list[Event] = []
    for place, one in enumerate(told):
        event = _closure(one, said_on) or _event(one, said_on)
        if event is None and announces_event(one) and place + 1 < len(told):
            event = _dated_after(one, told[place + 1], said_on)
        if event is not None:
            found.append(event)
    return found


def tells_event(one: Told) -> bool:
    """Whether a sentence tells of an event for the calendar."""
    return _closure(one, None) is not None or _event(one, None) is not None


def announces_event(one: Told) -> bool:
    """Whether a sentence only names an event ("the open day"); its date may follow."""
    span = _noun(one.words)
    if span is None or len(one.words) > 8 or one.labelled("PART", "DATE") or one.has_kind("earlier", "asked"):
        return False
    last = len(one.words) - (one.words[-1] in _MARKS)
    return all(clause.aspect == "none" for clause in one.clauses) or (
        opens_with("strong openings", one.words) and span[1] == last
    )  # "before we go the open day"


def _dated_after(one: Told, after: Told, said_on: str | None) -> Event | None:
    """An event whose date is told in the next sentence: "the open day | it'll be the tenth of april we think"."""
    span, dates = _noun(one.words), after.labelled("DATE")
    if (
        span is None
        or not dates
        or after.labelled("PART")
        or not {"it", "that", "this", "which"} & set(after.words[:4])
    ):
        return None
    name = capital(one.quote(_name_start(one, span[0]), span[1]))
    date = resolve(dates[0].value or {}, said_on)
    hedge = date_hedge(after, dates[0])
    tentative = hedge is not None or after.has_kind("hedge", "condition")
    text = f"{one.text} {after.text}"
    place = _place(one, span[1]) or _place(after, 0)
    return Event(name, one.sentence.start, after.sentence.end, date, place, tentative, text, hedge)


def _event(one: Told, said_on: str | None) -> Event | None:
    span = _noun(one.words)
    if span is None:
        return None
    dates = [
        date
        for date in one.labelled("DATE")
        if (date.value or {}).get("relative") != "last" and (date.value or {}).get("days", 1) > 0
    ]
    dates.sort(key=lambda date: date.start < span[1])  # "before christmas the last day for orders is the 16th"
    if not dates and not (phrases("event verbs").within(one.words) and not one.has_kind("earlier", "asked")):
        return None
    if not dates and not any(
        clause.aspect in ("future", "progressive", "changing") and clause.subject in ("shop", "you", "thing", "none")
        for clause in one.clauses
    ):
        return None
    name = capital(one.quote(_name_start(one, span[0]), span[1]))
    date = resolve(dates[0].value or {}, said_on) if dates else None
    if date is not None and said_on is not None and date < said_on[: len(date)]:
        return None  # told of as it was
    hedge = date_hedge(one, dates[0] if dates else None)
    tentative = hedge is not None or _is_open(one, dates[0] if dates else None)
    return Event(name, one.sentence.start, one.sentence.end, date, _place(one, span[1]), tentative, one.text, hedge)


def _is_open(one: Told, date: Found | None) -> bool:
    """Whether the clause with the date, or any if none was said, is hedged or a condition."""
    clauses = [clause for clause in one.clauses if date is None or clause.start <= date.start < clause.end]
    return any(not clause.kinds.isdisjoint(("hedge", "condition")) for clause in clauses)


def _closure(one: Told, said_on: str | None) -> Event | None:
    if not phrases("closures").within(one.words) or not one.labelled("DATE"):
        return None
    date = resolve(one.labelled("DATE")[0].value or {}, said_on)
    hedge = date_hedge(one, one.labelled("DATE")[0])
    tentative = hedge is not None or one.has_kind("hedge")
    return Event("Workshop closed", one.sentence.start, one.sentence.end, date, None, tentative, one.text, hedge)


def _noun(words: Sequence[str]) -> tuple[int, int] | None:
    """The words that name an event, the longest first; "show" only as a noun."""
    table, start = phrases("events"), 0
    while (span := table.find(words, start)) is not None:
        if span[1] - span[0] > 1 or words[span[0]] not in words_of("events that are also verbs"):
            return span
        before = words[span[0] - 1] if span[0] else ""
        after = words[span[1]] if span[1] < len(words) else ""
        if (
            before
            and before not in words_of("before a verb that looks like an event")
            and after not in words_of("after a verb that looks like an event")
        ):
            return span
        start = span[1]
    return None


def _name_start(one: Told, place: int) -> int:
    """Back over the words of the event's name ("harbour lane | bike show"), three at most."""
    dated = {word for date in one.labelled("DATE") for word in range(date.start, date.end)}
    start = place
    while (
        start > 0
        and place - start < 3
        and one.words[start - 1] not in words_of("never in an event's name")
        and one.words[start - 1].isalpha()
        and start - 1 not in dated
    ):
        start -= 1
    return start


def _place(one: Told, after: int) -> str | None:
    """The place named after the event: "at the harbour hall", "in Fernby"."""
    words = one.words
    dated = {word for date in one.labelled("DATE") for word in range(date.start, date.end)}
    for at in range(after, len(words) - 1):
        if words[at] not in ("at", "in", "near") or at + 1 in dated:
            continue
        start = at + 1
        start += words[start] in ("the", "our") and start + 1 < len(words)
        if words[start] in words_of("no places"):
            continue
        end = start
        while end < len(words) and end - start < 4 and words[end] not in words_of("ends a place") and end not in dated:
            end += 1
        if end > start:
            return capital(one.quote(start, end))
    return None
