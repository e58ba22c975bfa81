"""Where somebody points while filmed: "this one here", "you can see there"; with the very second of the pointing word.

How people point is data (``cues/pointing.yaml``).
"""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.film_records import Pointing
from diaryidx.language.discourse import after_fillers
from diaryidx.language.found import Found
from diaryidx.language.patterns import Match, Row, patterns
from diaryidx.language.told import Told
from diaryidx.language.word_times import word_times

_FILE = "pointing.yaml"
APART = 1.5  # seconds: whoever points twice in less shows one thing; own choice
NEAR = 6  # words from the pointing word within which a part is the one pointed at; own choice


def pointings(told: Sequence[Told]) -> list[Pointing]:
    """Find the moments at which somebody points.

    Arguments:
        told: all sentences of the film.
    Returns: moments in the order of the film, at least ``APART`` seconds from each other.
    """
    found: list[Pointing] = []
    for one in told:
        for pointing in _of_sentence(one):
            if not found or pointing.at - found[-1].at >= APART:
                found.append(pointing)
    return found


def _of_sentence(one: Told) -> list[Pointing]:
    parts = one.labelled("PART")
    row = Row.of(one.words, ((part.start, part.end, "PART") for part in parts))
    apart = [(match.start, match.end) for match in patterns(_FILE, "not pointing").find(row)]
    found = []
    matches = list(patterns(_FILE, "points").find(row))
    first = min(after_fillers(row.signs), max(len(row.signs) - 1, 0))
    at_once = patterns(_FILE, "points at once").at_start(row, first)
    if at_once and not any(match.start < at_once.end for match in matches):
        matches.insert(0, at_once)
    for match in matches:
        start, end = match.mark or (match.end - 1, match.end)
        if not any(first <= start < last for first, last in apart):
            found.append(_pointing(one, match, start, end, parts))
    return found


def _pointing(one: Told, match: Match, start: int, end: int, parts: Sequence[Found]) -> Pointing:
    near = sorted((abs(part.start - start), part.canonical) for part in parts if abs(part.start - start) <= NEAR)
    return Pointing(
        text=one.quote(match.start, match.end).strip(" ,.?!"), at=round(word_times(one, start, end)[0], 3),
        sentence=one.place, part=near[0][1] if near else None,
    )  # fmt: skip
