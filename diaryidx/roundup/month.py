"""The month, as marketing needs it: what moved since the month before, what is new, what was promised, what to cut."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace

from diaryidx.builds.history import open_items, same_item
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import DOUBTFUL_BELOW, STATUS_WORDS, describe, said_date
from diaryidx.errors import WrongUse
from diaryidx.records import Build, BuildMoved, ProductLine, Recording, RoundUp, Segment, Sentence, Statement
from diaryidx.store import reading

_MONTH = re.compile(r"\d{4}-(?:0[1-9]|1[0-2])")
#: Lengths that can be posted as a clip, in seconds (common practice, no source).
SHORTEST_CLIP, LONGEST_CLIP = 8.0, 60.0
MOST_CLIPS = 12
#: How films say of a whole bike that it is finished. Common practice, no source.
_FINISHED_WORDS = re.compile(
    r"\b(?:all (?:done|finished)|(?:is|it's|she's|he's|bike's|now|completely) (?:finished|complete)"
    r"|ready to (?:go|ride|collect)|gone (?:home|back to)|handed over|been collected|picked (?:it|her|him) up)\b"
)


def round_up(db: sqlite3.Connection, month: str) -> RoundUp:
    """Gather a month: a film belongs to the month it is for, which may differ from the day it was filmed.

    Doubtful statements, products and links are left out.

    :param month: ``YYYY-MM``.
    :raises WrongUse: the month is written in another way.
    """
    if not _MONTH.fullmatch(month):
        raise WrongUse(f"{month!r} is no month; write it as year and month, such as 2025-11")
    months = {film.id: film.month or "" for film in reading.recordings(db)}
    films = tuple(reversed(reading.recordings(db, month=month)))
    said = [one for one in reading.statements(db, month=month) if _is_news(one)]
    jobs = dict.fromkeys(one.build for one in said if one.build)
    return RoundUp(
        month=month,
        builds=tuple(
            moved for job in jobs if job and (moved := _moved(db, reading.build(db, job), month, months)) is not None
        ),
        products=tuple(
            _priced_first(
                product for product in reading.products(db, month=month) if product.certainty >= DOUBTFUL_BELOW
            )
        ),
        tutorials=tuple(film for film in films if film.kind in ("tutorial", "questions")),
        dates=tuple(reading.events(db, month=month)),
        promises=tuple(promise for promise in reading.promises(db, month=month) if promise.certainty >= DOUBTFUL_BELOW),
        clips=tuple(_clips(db, films, said)),
        recordings=films,
    )


def _is_news(statement: Statement) -> bool:
    return statement.certainty >= DOUBTFUL_BELOW and statement.status != "usual practice"


def _moved(db: sqlite3.Connection, build: Build, month: str, months: dict[str, str]) -> BuildMoved | None:
    everything = [one for one in reading.statements(db, build=build.job_number) if _is_news(one)]
    before = [one for one in everything if months.get(one.recording or "", "") < month]
    now = [one for one in everything if months.get(one.recording or "", "") == month]
    if not now:
        return None
    done = _once(one for one in now if one.status == "done")
    still_open = [one for one in open_items([*before, *now]) if one in now]
    finished = _is_finished(build, month, now)
    return BuildMoved(build, finished, tuple(done), tuple(still_open), _since_last(before, done, still_open, months))


def _is_finished(build: Build, month: str, now: Sequence[Statement]) -> bool:
    """The job book says that it left this month, or a film says of the whole bike that it is finished."""
    if build.date_out:
        return build.date_out.startswith(month)
    whole = [one for one in now if one.status == "done" and one.part is None]
    said = any(one.task in word_set("finishing_tasks") or _FINISHED_WORDS.search(one.text) for one in whole)
    return said or ((build.state or "").lower() in word_set("finished_states") and bool(whole))


def _since_last(
    before: Sequence[Statement], done: Sequence[Statement], still_open: Sequence[Statement], months: dict[str, str]
) -> str:
    """What changed since the films before, in plain words."""
    if not before:
        return "on film for the first time"
    was_open = open_items(before)
    news = []
    for one in done:
        earlier = next((past for past in reversed(was_open) if same_item(past, one)), None)
        if earlier is not None:
            news.append(f"{describe(one)} is done ({_was(earlier, months)})")
        elif not any(past.status == "done" and same_item(past, one) for past in before):
            news.append(f"{describe(one)} is done")
    for one in still_open:
        earlier = next((past for past in reversed(was_open) if same_item(past, one)), None)
        if earlier is None:
            news.append(f"new: {describe(one)} ({STATUS_WORDS[one.status]})")
        elif earlier.status != one.status:
            news.append(f"{describe(one)} is now {STATUS_WORDS[one.status]} ({_was(earlier, months)})")
        else:
            since = said_date(months.get(earlier.recording or ""))
            news.append(f"{describe(one)} is still {STATUS_WORDS[one.status]}, as in {since}")
    return "; ".join(news) or "nothing new was said"


def _was(earlier: Statement, months: dict[str, str]) -> str:
    return f"was {STATUS_WORDS[earlier.status]} in {said_date(months.get(earlier.recording or ''))}"


def _once(statements: Iterable[Statement]) -> list[Statement]:
    """Each thing once, as it was said last; nothing that has neither part nor task nor product."""
    kept: list[Statement] = []
    for one in statements:
        if one.part or one.task or one.product:
            kept = [past for past in kept if describe(past) != describe(one)]
            kept.append(one)
    return kept


def _priced_first(products: Iterable[ProductLine]) -> list[ProductLine]:
    return sorted(products, key=lambda line: line.price is None)


# --- clips -----------------------------------------------------------------------------------------------------------


def _clips(db: sqlite3.Connection, films: Sequence[Recording], said: Sequence[Statement]) -> list[Segment]:
    """The best stretch of each topic, those of known bikes with most news first."""
    scored: list[tuple[float, Segment]] = []
    for film in films:
        spoken = reading.sentences(db, film.id)
        news = [one for one in said if one.recording == film.id]
        for segment in reading.segments(db, recording_id=film.id):
            best = best_stretch(segment, spoken, news)
            if best is not None:
                scored.append(best)
    return [segment for _, segment in sorted(scored, key=lambda pair: -pair[0])[:MOST_CLIPS]]


def best_stretch(
    segment: Segment, spoken: Sequence[Sentence], news: Sequence[Statement]
) -> tuple[float, Segment] | None:
    """The whole sentences of a topic, 8 to 60 s long together, in which most is said for their length.

    :returns: its score and the segment cut down to it, or None where no such stretch exists.
    """
    worth = dict.fromkeys(range(segment.first, min(segment.last + 1, len(spoken))), 0.0)
    for one in news:
        if one.sentence in worth:
            worth[one.sentence] += 2.0 if one.status == "done" else 1.0
    known = 3.0 if segment.build and segment.certainty >= DOUBTFUL_BELOW else 0.0
    best: tuple[float, Segment] | None = None
    for first in worth:
        for last in range(first, max(worth) + 1):
            start, end = spoken[first].start, spoken[last].end
            if end - start > LONGEST_CLIP:
                break
            if end - start < SHORTEST_CLIP:
                continue
            value = sum(worth[place] for place in range(first, last + 1))
            opening = 0.5 if first == segment.first else 0.0
            score = known + value + opening - (end - start) / LONGEST_CLIP
            if (value or segment.subject.kind != "shop") and (best is None or score > best[0]):
                best = score, replace(segment, start=start, end=end, first=first, last=last)
    return best
