"""The month, as marketing needs it: what moved since the month before, what is new, what was promised, what to cut."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace

from diaryidx.builds.history import open_items, same_item, says_finished
from diaryidx.builds.retold import Retold, retold_films
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import STATUS_WORDS, describe, said_date, thing
from diaryidx.errors import WrongUse
from diaryidx.records import Build, BuildMoved, ProductLine, Promise, Recording, RoundUp, Segment, Sentence, Statement
from diaryidx.store import reading
from diaryidx.wording import DOUBTFUL_BELOW

_MONTH = re.compile(r"\d{4}-(?:0[1-9]|1[0-2])")
#: Lengths that can be posted as a clip, in seconds (common practice, no source).
SHORTEST_CLIP, LONGEST_CLIP = 8.0, 60.0
MOST_CLIPS = 12
#: What makes a stretch worth cutting (our own choice): what is finished, any other news, advice; a known bike; a
#: stretch that begins where its topic does, so that it can be understood alone.
_WORTH = {"done": 2.0, "usual practice": 0.5}
_KNOWN_BUILD, _OPENING = 3.0, 0.5
#: How ``since_last`` begins what is new, and what it says where nothing is.
NEW_ON_THE_LIST, NOTHING_CHANGED = "new on the list", "nothing that was open has changed"
_TEACHING_KINDS = ("tutorial", "questions")


def round_up(db: sqlite3.Connection, month: str) -> RoundUp:
    """Gather a month: a film belongs to the month it is for, which may differ from the day it was filmed.

    Doubtful statements, products, promises and links are left out. Builds come in the order in which films show them,
    then those that only the job book says have left.

    :param month: ``YYYY-MM``.
    :raises WrongUse: the month is written in another way.
    """
    if not _MONTH.fullmatch(month):
        raise WrongUse(f"{month!r} is no month; write it as year and month, such as 2025-11")
    months = {film.id: film.month or "" for film in reading.recordings(db)}
    films = tuple(reversed(reading.recordings(db, month=month)))
    retold = retold_films(db)
    said = [one for one in retold.once(reading.statements(db, month=month)) if one.certainty >= DOUBTFUL_BELOW]
    shown = dict.fromkeys(one.build for one in said if one.build and one.status != "usual practice")
    left = dict.fromkeys(one.job_number for one in reading.builds(db) if (one.date_out or "").startswith(month))
    return RoundUp(
        month=month,
        builds=tuple(_moved(db, reading.build(db, job), month, months, retold) for job in (shown | left) if job),
        products=tuple(
            _priced_first(line for line in retold.once(reading.products(db, month=month)) if _is_sure(line))
        ),
        tutorials=tuple(film for film in films if film.kind in _TEACHING_KINDS),
        dates=tuple(retold.once(reading.events(db, month=month))),
        promises=tuple(promise for promise in retold.once(reading.promises(db, month=month)) if _is_sure(promise)),
        clips=tuple(_clips(db, films, said, retold)),
        recordings=films,
    )


def _is_sure(said: ProductLine | Promise) -> bool:
    return said.certainty >= DOUBTFUL_BELOW


def _is_news(statement: Statement) -> bool:
    return statement.certainty >= DOUBTFUL_BELOW and statement.status != "usual practice"


def _moved(db: sqlite3.Connection, build: Build, month: str, months: dict[str, str], retold: Retold) -> BuildMoved:
    everything = [one for one in retold.once(reading.statements(db, build=build.job_number)) if _is_news(one)]
    before = [one for one in everything if months.get(one.recording or "", "") < month]
    now = [one for one in everything if months.get(one.recording or "", "") == month]
    done = _once(one for one in now if one.status == "done")
    still_open = [one for one in open_items([*before, *now]) if one in now]
    finished = _is_finished(build, month, now)
    since = (
        _since_last(before, done, still_open, months) if now else f"left the workshop on {said_date(build.date_out)}"
    )
    return BuildMoved(build, finished, tuple(done), tuple(still_open), since)


def _is_finished(build: Build, month: str, now: Sequence[Statement]) -> bool:
    """The job book says that it left this month, or a film says of the whole bike that it is finished."""
    if build.date_out:
        return build.date_out.startswith(month)
    whole = [one for one in now if one.status == "done" and one.part is None]
    return any(map(says_finished, now)) or ((build.state or "").lower() in word_set("finished_states") and bool(whole))


def _since_last(
    before: Sequence[Statement], done: Sequence[Statement], still_open: Sequence[Statement], months: dict[str, str]
) -> str:
    """What changed since the films before, in plain words: what was open then and is done or stands otherwise now."""
    if not before:
        return "on film for the first time"
    was_open = open_items(before)
    stood: dict[tuple[str, str], list[Statement]] = {}  # (thing, how it stood then): what is said of it now
    fresh: list[str] = []
    for one in (*done, *still_open):
        earlier = next((past for past in reversed(was_open) if same_item(past, one)), None)
        if earlier is not None:
            then = f"{STATUS_WORDS[earlier.status]} in {said_date(months.get(earlier.recording or ''))}"
            stood.setdefault((thing(one), then), []).append(one)
        elif one.status != "done":
            known = next((now for (name, _), now in stood.items() if name == thing(one)), None)
            if known is None:
                fresh.append(thing(one))
            else:
                known.append(one)
    news = [f"{name}: {_stands_now(then, now)}" for (name, then), now in stood.items()]
    if fresh:
        news.append(f"{NEW_ON_THE_LIST}: {', '.join(dict.fromkeys(fresh))}")
    return "; ".join(dict.fromkeys(news)) or NOTHING_CHANGED


def _stands_now(then: str, now: Sequence[Statement]) -> str:
    """How a thing stood and stands, in one phrase: "waiting in October 2025, now done, paint next"."""
    words: dict[str, None] = {}
    for one in now:
        work = one.task or one.finish
        if one.status == "planned" and work and len(now) > 1:
            words[f"{work} next"] = None
        else:
            words[STATUS_WORDS[one.status]] = None
    if len(words) == 1 and then.startswith(f"{next(iter(words))} in "):
        status = next(iter(words))
        return f"still {status}, as {then.removeprefix(status).strip()}"
    return f"{then}, now {', '.join(words)}"


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


def _clips(
    db: sqlite3.Connection, films: Sequence[Recording], said: Sequence[Statement], retold: Retold
) -> list[Segment]:
    """The best stretch of each topic, those of known bikes with most news first."""
    scored: list[tuple[float, Segment]] = []
    for film in films:
        if film.kind == "bench note":
            continue  # a voice note from the bench is for the shop, nothing to cut a clip from
        spoken = reading.sentences(db, film.id)
        worth = [0.0] * len(spoken)
        for one in said:
            if one.recording == film.id and one.sentence < len(worth):
                worth[one.sentence] += _WORTH.get(one.status, 1.0)
        for line in reading.products(db, month=film.month):
            for place, sentence in enumerate(spoken):
                if line.recording == film.id and line.start < sentence.end and sentence.start < line.end:
                    worth[place] += 1.0
        stretches = (best_stretch(topic, spoken, worth) for topic in reading.segments(db, recording_id=film.id))
        scored += [best for best in stretches if best is not None]
    best_first = [segment for _, segment in sorted(scored, key=lambda pair: -pair[0])]
    return retold.once(best_first)[:MOST_CLIPS]


def best_stretch(segment: Segment, spoken: Sequence[Sentence], worth: Sequence[float]) -> tuple[float, Segment] | None:
    """The whole sentences of a topic, 8 to 60 s long together, in which most is said for their length.

    :param worth: how much is said in each sentence of the film.
    :returns: its score and the segment cut down to it, or None where there is no such stretch or nothing is said in it.
    """
    known = _KNOWN_BUILD if segment.build and segment.certainty >= DOUBTFUL_BELOW else 0.0
    best: tuple[float, Segment] | None = None
    last_place = min(segment.last, len(spoken) - 1)
    for first in range(segment.first, last_place + 1):
        for last in range(first, last_place + 1):
            start, end = spoken[first].start, spoken[last].end
            value = sum(worth[first : last + 1])
            if end - start > LONGEST_CLIP:
                break
            if end - start < SHORTEST_CLIP or not value:
                continue
            opening = _OPENING if first == segment.first else 0.0
            score = known + value + opening - (end - start) / LONGEST_CLIP
            if best is None or score > best[0]:
                best = score, replace(segment, start=start, end=end, first=first, last=last)
    return best
