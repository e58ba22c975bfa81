"""The steps of a tutorial with their tools, parts, torques and warnings, so that all of it can be laid out beforehand.

What names tools and materials and what warns is data (``cues/steps.yaml``); values with units are those that
``transcript.numbers`` reads.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diaryidx.film_records import Need, Step, StepWarning
from diaryidx.language.discourse import after_fillers, phrases_of
from diaryidx.language.found import Found
from diaryidx.language.patterns import Row, patterns, words_in
from diaryidx.language.segments import CLOSING, Stretch
from diaryidx.language.told import Told, capital
from diaryidx.language.torques import torques_told
from diaryidx.language.word_times import word_times

_FILE = "steps.yaml"
BEFORE = "What you need"
WHOLE_WORDS = 24  # a sentence of up to so many is quoted whole where a part of it warns; own choice

_PARTED = frozenset(("without", "unless", "but", "so", "because", "just", "then", ",", ".", ";"))


def steps(told: Sequence[Told], stretches: Sequence[Stretch]) -> list[Step]:
    """The steps of a tutorial.

    Arguments:
        told: all sentences of the film.
        stretches: its topic stretches, of which some are steps.
    Returns: steps in order, from number 1; number 0 is what the opening says is needed, and what is warned of in
        questions and the goodbye.
    """
    found: list[Step] = []
    number = 0
    for stretch in stretches:
        if stretch.asks or stretch.title == CLOSING:
            warned = _step(0, stretch, told[stretch.first : stretch.last + 1]).warnings
            if warned:
                found.append(_aside(stretch, told, warned))
            continue
        number += stretch.step
        step = _step(number if stretch.step else 0, stretch, told[stretch.first : stretch.last + 1])
        if stretch.step or step.tools or step.needed or step.torques or step.warnings:
            found.append(step)
    return found


def _step(number: int, stretch: Stretch, told: Sequence[Told]) -> Step:
    tools, parts, needed = [], [], []
    for one in told:
        for found in one.labelled("PART"):
            if _is_scrap(one, found):
                word = one.words[found.start]
                needed += [] if _is_kept_off(one, found) else [Need(word, word)]
                continue
            if _is_tool(found):
                tools += [] if _is_kept_off(one, found) else [_need(one, found)]
                continue
            parts.append(found.canonical)
            if _is_needed(one, found) and not _is_kept_off(one, found):
                needed.append(_need(one, found))
    return Step(
        number=number, title=stretch.title if stretch.step else BEFORE,
        start=told[0].sentence.start, end=told[-1].sentence.end, first=stretch.first, last=stretch.last,
        tools=_once(tools), parts=tuple(dict.fromkeys(parts)), needed=_once(needed),
        torques=tuple(torques_told(told, _is_tool)),
        warnings=tuple(warning for one in told for warning in _warnings(one)),
    )  # fmt: skip


def _aside(stretch: Stretch, told: Sequence[Told], warned: tuple[StepWarning, ...]) -> Step:
    """What is warned of in a question or a goodbye: it is true of the whole tutorial."""
    start, end = told[stretch.first].sentence.start, told[stretch.last].sentence.end
    return Step(0, stretch.title, start, end, stretch.first, stretch.last, warnings=warned)


def _once(needs: Sequence[Need]) -> tuple[Need, ...]:
    return tuple({need.said: need for need in reversed(needs)}.values())[::-1]


def _is_tool(found: Found) -> bool:
    """Whether a thing is a tool: it is listed with them, or belongs to the workshop (stands, lifts)."""
    return found.term is not None and (found.term.system == "tools" or found.term.part_of == "workshop")


def _is_scrap(one: Told, found: Found) -> bool:
    """Whether a thing is only stuff: "a bit of | wire" is no loom."""
    if found.end - found.start > 1 or one.words[found.start] not in words_in(_FILE, "scrap"):
        return False
    scraps = phrases_of(_FILE, "scraps")
    return any(scraps.at(one.words, at) == found.start - at for at in range(max(0, found.start - 2), found.start))


def _is_kept_off(one: Told, found: Found) -> bool:
    """Whether a thing is named as not needed or as a danger: "don't get | petrol or brake fluid | on the tyre"."""
    row = Row.of(one.words)
    if any(match.start < found.end <= match.end for match in patterns(_FILE, "dangers of materials").find(row)):
        return True
    return any(
        match.start < found.start and _PARTED.isdisjoint(one.words[match.end : found.start])
        for match in patterns(_FILE, "not needed").find(row)
    )


def _need(one: Told, found: Found) -> Need:
    """A tool or material as it is said, with its size before it ("10mm allen key")."""
    size = next((measure for measure in one.labelled("MEASURE") if measure.end == found.start), None)
    return Need(found.canonical, one.quote(size.start if size else found.start, found.end).lower())


def _is_needed(one: Told, found: Found) -> bool:
    """Whether a part or material is to be had ready: named as needed, or new, or used up by the work."""
    if one.has_kind("condition"):
        return False  # "if it's scored you need a new disc"
    if one.words[found.end - 1] in words_in(_FILE, "materials"):
        return True
    fresh = phrases_of(_FILE, "fresh")
    if any(fresh.at(one.words, at) == found.start - at for at in range(max(0, found.start - 3), found.start)):
        return True
    return any(match.start <= found.start for match in patterns(_FILE, "needs").find(Row.of(one.words)))


def _warnings(one: Told) -> Iterator[StepWarning]:
    """The warning of a sentence, with what stands before it where that is short."""
    row = Row.of(one.words)
    first = after_fillers(one.words)
    none = {match.start for match in patterns(_FILE, "no warnings").find(row)}
    begun = {clause.start for clause in one.clauses if clause.subject == "none"}
    for match in patterns(_FILE, "warnings").find(row):
        if match.start in none:
            continue
        if (
            match.start <= first
            or match.start in begun
            or one.words[match.start - 1] in words_in(_FILE, "may stand before")
        ):
            whole = len(one.words) - first <= WHOLE_WORDS  # "if it doesn't feel right, don't ride it"
            begins = first if whole else match.start
            text = capital(one.quote(begins, len(one.words)).strip(" ,"))
            yield StepWarning(text, word_times(one, begins, begins + 1)[0])
            return
    if patterns(_FILE, "warnings anywhere").first(row):
        text = capital(one.quote(first, len(one.words)).strip(" ,"))
        yield StepWarning(text, word_times(one, first, first + 1)[0])
