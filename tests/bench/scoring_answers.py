"""What people ask the finished shop: customers' questions, builds by description, what moved in a month.

A question is answered right if the product says that it is answered and a passage is of the right film and overlaps the
words of an answer (with 0.7 s of slack). One that nobody has answered on film must be left unanswered.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from diaryidx.builds.finding import find_build
from diaryidx.errors import NotFound
from diaryidx.faq.search import ask
from diaryidx.records import Build, Passage
from diaryidx.roundup.month import round_up
from diaryidx.vocabulary.loader import Vocabulary
from tests.bench.scoring_measures import Sheet
from tests.bench.scoring_truth import TrueFilm, load_across, when_said

SLACK = 0.7  # seconds
FIRST_FEW = 3
_STEP = "answers"


def score_answers(
    db: sqlite3.Connection,
    films: Mapping[str, TrueFilm],
    recordings: Mapping[str, str],
    vocabulary: Vocabulary,
    sheet: Sheet,
) -> None:
    """Ask every question of the truth.

    :param films: by their names; ``recordings`` their ids in the database.
    """
    for question in load_across("questions"):
        words, right = question["ask"], _stretches(question["answers"], films, recordings)
        answer = ask(db, words, vocabulary)
        hits = [_is_right(passage, right) for passage in answer.answers[:FIRST_FEW]] if answer.answered else []
        first = answer.answers[0] if answer.answers else None
        shown = f"{words!r}: first {first.text[:90] if first else None!r}"
        if right:
            sheet.measure(_STEP, "right passage first").add(words, bool(hits[:1]) and hits[0])
            sheet.measure(_STEP, f"right passage among the first {FIRST_FEW}").add(words, any(hits))
            sheet.measure(_STEP, "answered, but wrongly first").add(words, bool(hits) and not hits[0])
            if not (hits and hits[0]):
                kind = "answered wrongly" if hits and not any(hits) else "right, not first" if hits else "unanswered"
                sheet.errors[f"questions {kind}"].append(shown)
        else:
            sheet.measure(_STEP, "nobody answered it: left unanswered").add(words, not answer.answered)
            if answer.answered:
                sheet.errors["questions answered that nobody answered"].append(shown)
        if question["cautions"]:
            sheet.measure(_STEP, "cautions where they belong").add(words, bool(answer.cautions))
            if not answer.cautions:
                sheet.errors["cautions missed"].append(repr(words))


def score_finding(db: sqlite3.Connection, sheet: Sheet) -> None:
    """Builds by a number, a name or a description: exactly those that fit."""
    for description in load_across("builds"):
        words, right = description["words"], set(description["jobs"])
        try:
            found = find_build(db, words)
        except NotFound:
            found = []
        jobs = {found.job_number} if isinstance(found, Build) else {one.job_number for one in found}
        sheet.measure(_STEP, "builds by description: exactly those that fit").add(words, jobs == right)
        if jobs != right:
            sheet.errors["builds by description"].append(f"{words!r}: {sorted(jobs)}, not {sorted(right)}")


def score_months(db: sqlite3.Connection, sheet: Sheet) -> None:
    """Builds that a month's round-up names, and those that it says are finished."""
    for month in load_across("months"):
        found = round_up(db, month["month"])
        named = {one.build.job_number for one in found.builds}
        finished = {one.build.job_number for one in found.builds if one.finished}
        for name, true, had in (("moved", set(month["moved"]), named), ("finished", set(month["finished"]), finished)):
            for job in true | had:
                sheet.f1("months", f"builds {name}", f"{month['month']} {job}", _counts(job, true, had))
            if true != had:
                shown = f"{month['month']}: missed {sorted(true - had)}, too many {sorted(had - true)}"
                sheet.errors[f"month: builds {name}"].append(shown)


def _counts(job: str, true: set[str], had: set[str]) -> tuple[float, float, float]:
    return job in true and job in had, job not in true, job not in had


def _stretches(
    answers: Sequence[Mapping[str, Any]], films: Mapping[str, TrueFilm], recordings: Mapping[str, str]
) -> list[tuple[str, float, float]]:
    found = []
    for answer in answers:
        film = films[answer["film"]]
        start, end = when_said(film.topic(answer["topic"]), answer["words"])
        found.append((recordings[film.path], start, end))
    return found


def _is_right(passage: Passage, right: Sequence[tuple[str, float, float]]) -> bool:
    return any(
        passage.recording == recording and passage.start < end + SLACK and passage.end > start - SLACK
        for recording, start, end in right
    )
