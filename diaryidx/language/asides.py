"""Digressions inside a topic: a chat, the telephone, somebody at the door, then "anyway, back to ...".

They end no topic, and nothing in them is said of the bike. How they begin and end is data (``cues/asides.yaml``).
"""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.film_records import Aside
from diaryidx.language.discourse import after_fillers, opens_with
from diaryidx.language.patterns import Row, patterns, words_in
from diaryidx.language.told import BIKE_LABELS, Told

_FILE = "asides.yaml"
#: An interruption is over after so many sentences or seconds, or it was none (own choice).
MOST_SENTENCES, MOST_SECONDS = 12, 120.0
#: So many sentences before "anyway, back to" may have been the chat, if nothing opened it in words (own choice).
MOST_BEFORE = 5
_TRADE = (*BIKE_LABELS, "PART", "FINISH", "PRODUCT", "PRICE", "SUPPLIER")


def asides(told: Sequence[Told]) -> list[Aside]:
    """Find digressions.

    Arguments:
        told: all sentences of the film.
    Returns: digressions in the order of the film; the sentence that comes back to the topic is not in them.
    """
    found: list[Aside] = []
    place = 1  # the first sentence of a film interrupts nothing
    while place < len(told):
        span = _span(told, place, found[-1].last + 1 if found else 1)
        if span is None:
            place += 1
            continue
        first, last = span
        found.append(Aside(first, last, told[first].sentence.start, told[last].sentence.end))
        place = last + 1
    return found


def places_of(found: Sequence[Aside]) -> frozenset[int]:
    """The places of all sentences in digressions."""
    return frozenset(place for one in found for place in range(one.first, one.last + 1))


def _span(told: Sequence[Told], place: int, earliest: int) -> tuple[int, int] | None:
    """The digression that begins with a sentence, or that it comes back from."""
    one = told[place]
    if _comes_back(one):
        first = place
        while first > max(earliest, place - MOST_BEFORE) and _is_chat(told[first - 1]):
            first -= 1
        return (first, place - 1) if first < place else None
    if not _begins(one):
        return None
    for after in told[place + 1 : place + 1 + MOST_SENTENCES]:
        if after.sentence.start - one.sentence.start > MOST_SECONDS:
            break
        if _comes_back(after):
            return place, after.place - 1
        if opens_with("strong openings", after.words) or opens_with("closings", after.words):
            break
    return (place, place) if _is_chat(one) else None


def _row(one: Told) -> tuple[Row, int]:
    """A sentence as a row, and the place in it behind its fillers."""
    row = Row.of(one.words)
    return row, min(after_fillers(row.signs), max(len(row.signs) - 1, 0))


def _begins(one: Told) -> bool:
    row, place = _row(one)
    return any(patterns(_FILE, "begins").at_start(row, at) for at in range(place + 1)) and not _comes_back(one)


def _comes_back(one: Told) -> bool:
    row, place = _row(one)
    return any(patterns(_FILE, "ends").at_start(row, at) for at in range(place + 1))


def _is_chat(one: Told) -> bool:
    """Whether a sentence has nothing to do with the trade, and does not speak on of what was spoken of before."""
    if one.labelled(*_TRADE) or not one.words or opens_with("strong openings", one.words):
        return False
    place = min(after_fillers(one.words), len(one.words) - 1)
    return one.words[place] not in words_in(_FILE, "speaks on") or _begins(one)
