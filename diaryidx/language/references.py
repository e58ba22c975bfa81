"""Other films that a film refers to: "the film we made on fork seals", "as we said last month".

Here the words are recognised, with all that they say of the film that is meant; which film that is, is settled over the
whole archive (`builds.film_references`). How people refer to films is data (``cues/references.yaml``).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from functools import cache
from typing import Any

from diaryidx.film_records import FilmReference
from diaryidx.language.discourse import phrases_of
from diaryidx.language.found import Found
from diaryidx.language.patterns import Match, Row, patterns, words_in
from diaryidx.language.phrases import opened
from diaryidx.language.segments import is_greeting
from diaryidx.language.told import Told
from diaryidx.language.word_times import word_times
from diaryidx.vocabulary.loader import shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key

_FILE = "references.yaml"
_TERMS = ("PART", "TASK", "FINISH", "PRODUCT", "MAKE", "MODEL", "NICKNAME")
MOST_ABOUT = 7  # words that say what a film is about; own choice
TALK_AROUND = 3  # sentences that "a tutorial on that" may mean: this one and those before; own choice
#: How sure the words themselves are; a word for a film leaves less doubt than a date alone (own estimates).
SURE = {"to come": 0.9, "signs": 0.9, "said before": 0.75, "said last": 0.6}


def film_references(told: Sequence[Told]) -> list[FilmReference]:
    """Find what refers to other films.

    Arguments:
        told: all sentences of the film.
    Returns: references in the order of the film, none of them resolved; at most one for each stretch of words.
    """
    return [reference for one in told for reference in _of_sentence(told, one)]


def _of_sentence(told: Sequence[Told], one: Told) -> Iterator[FilmReference]:
    dates = [found for found in one.labelled("DATE") if not _is_film_word(one, found)]
    taken_words = {place for found in (*dates, *one.labelled("PART")) for place in range(found.start, found.end)}
    films = list(_film_words(one.words, taken_words))
    signs = [(date.start, date.end, "DATE") for date in dates]
    row = Row.of(one.words, [*((start, end, "FILM") for start, end, _ in films), *signs])
    here = list(patterns(_FILE, "this film").find(row))
    if one.has_kind("joke") or is_greeting(one):
        return  # "welcome to the September diary" means this one
    taken: list[Match] = []
    for name, certainty in SURE.items():
        for match in patterns(_FILE, name).find(row):
            if any(_overlap(match, other) for other in (*here, *taken)) or not _holds(one, match, name, dates):
                continue
            taken.append(match)
            yield _reference(told, one, match, name, films, dates, certainty)


def _holds(one: Told, match: Match, name: str, dates: Sequence[Found]) -> bool:
    """Whether a date is of the past where one must be, and nobody else is speaking ("he said last month")."""
    within = [date for date in dates if match.start <= date.start < match.end]
    if name == "said before":
        return any(_is_past(date.value or {}) for date in within)
    return name != "said last" or not one.has_kind("asked")


def _is_past(value: dict[str, Any]) -> bool:
    """Whether a date may be of the past: a month without a year may, "next week" may not."""
    return value.get("relative") != "next" and value.get("days", -1) < 0


def _overlap(one: Match, other: Match) -> bool:
    return one.start < other.end and other.start < one.end


def _reference(
    told: Sequence[Told],
    one: Told,
    match: Match,
    name: str,
    films: Sequence[tuple[int, int, str]],
    dates: Sequence[Found],
    certainty: float,
) -> FilmReference:
    film = next((kind for start, _, kind in films if match.start <= start < match.end), None)
    about, about_end = _about(one, films)
    date = next((date for date in dates if match.start - 1 <= date.start <= match.end + 2), None)
    date = date or (dates[0] if len(dates) == 1 and film and name != "said last" else None)
    coming = name == "to come" or (date is not None and not _is_past(date.value or {}))
    end = max(match.end, about_end, date.end if date and date.start <= match.end + 2 else 0)
    start, until = word_times(one, match.start, end)
    before = one.words[match.start : match.end]
    stands = about is None or " ".join(about) in words_in(_FILE, "stands for the talk")
    return FilmReference(
        text=one.quote(match.start, end).strip(" ,.?!"), start=start, end=until, sentence=one.place,
        kind=None if film in (None, "film") else film, when=date.value if date else None, coming=coming,
        nth="last" if phrases_of(_FILE, "last").within(before) and not coming and not date else None,
        about=() if stands or about is None else tuple(about),
        terms=() if stands else _terms_of([one], *_span(one, about)),
        around=_terms_of(told[max(0, one.place - TALK_AROUND + 1) : one.place + 1]), certainty=certainty,
    )  # fmt: skip


def _about(one: Told, films: Sequence[tuple[int, int, str]]) -> tuple[list[str] | None, int]:
    """The words that say what a film is about and where they end; None where there are none."""
    row = Row.of(one.words, [(start, end, "FILM") for start, end, _ in films])
    match = patterns(_FILE, "about").first(row)
    if match is None:
        return None, 0
    end, stops = match.end, words_in(_FILE, "stops")
    while end < len(one.words) and end - match.end < MOST_ABOUT and one.words[end] not in stops:
        end += 1
    words = one.words[match.end : end]
    return (words, end) if words else (None, 0)


def _span(one: Told, words: Sequence[str] | None) -> tuple[int, int]:
    """Where a run of words stands in a sentence."""
    wanted = list(words or ())
    start = next((at for at in range(len(one.words)) if one.words[at : at + len(wanted)] == wanted), 0)
    return start, start + len(wanted)


def _terms_of(told: Sequence[Told], start: int = 0, end: int | None = None) -> tuple[str, ...]:
    return tuple(dict.fromkeys(
        found.canonical
        for one in told
        for found in one.labelled(*_TERMS)
        if start <= found.start < (len(one.words) if end is None else end)
    ))  # fmt: skip


# --- what films are called -------------------------------------------------------------------------------------------


@cache
def _film_phrases() -> dict[tuple[str, ...], str]:
    """Every name for a film, as words, with the kind that it says."""
    found: dict[tuple[str, ...], str] = {}
    for kind, names in shipped_data(_FILE)["films"].items():
        for name in names:
            for phrase in opened(name):
                found.setdefault(tuple(spoken_key(phrase).split()), kind)
    return found


_LONGEST_NAME = 6


def _film_words(words: Sequence[str], taken: Collection[int]) -> Iterator[tuple[int, int, str]]:
    """Where a film is named: first and last word (not included) and the kind of film that is said.

    Words at the places ``taken`` are dates and parts ("the chain guide").
    """
    table, place = _film_phrases(), 0
    while place < len(words):
        sizes = range(min(_LONGEST_NAME, len(words) - place), 0, -1)
        length = next((size for size in sizes if tuple(words[place : place + size]) in table), 0)
        if length and place not in taken and not _other_meaning(words, place, place + length):
            yield place, place + length, table[tuple(words[place : place + length])]
        place += max(length, 1)


def _other_meaning(words: Sequence[str], start: int, end: int) -> bool:
    """Whether a film is no film: "a film of oil", "the protective film"."""
    before, behind = phrases_of(_FILE, "no film behind"), phrases_of(_FILE, "no film before")
    held = any(before.at(words, at) == start - at for at in range(max(0, start - 3), start))
    return held or (end < len(words) and behind.at(words, end) > 0)


def _is_film_word(one: Told, date: Found) -> bool:
    """Whether what was read as a date is none here."""
    return " ".join(one.words[date.start : date.end]) in ("now", "today")
