"""What no film said, and what the shop develops itself: two lists for whoever plans the next film."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import replace

from diaryidx.builds.developments import developments
from diaryidx.builds.gaps import Evidence, gaps
from diaryidx.builds.wording import said_date
from diaryidx.records import Build
from diaryidx.shapes import development_json, gaps_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.moments import Moment, also_in
from diaryidx.site.page import Asked, Page
from diaryidx.site.wording import capitalised, sentence_words

#: A gap as the page shows it: its heading, the address of its bike if any, what is missing, the moments that show it.
Line = tuple[str, str | None, str, list[Moment]]


def gaps_page(db: sqlite3.Connection, shop: Shop, _asked: Asked) -> Page:
    """Bikes that were left out, that wait, that the job book does not know, or of which book and films disagree."""
    found = gaps(db, words=vocabulary_of(db, shop))
    sections = [
        ("Not in the last diaries", [
            _line(one.build, f"Left out of {one.diaries} in a row", [one.last] if one.last else [])
            for one in found.left_out
        ]),
        ("Waiting longest", [
            _line(one.build, _waiting_words(one.what, one.on, one.since, one.days), one.evidence)
            for one in found.waiting
        ]),
        ("Bikes that are not in the job book", [
            (sentence_words(one.title), None, capitalised(one.why), _moments(one.evidence))
            for one in found.unknown_bikes
        ]),
        ("Finished in the job book, spoken of as open", [
            _line(one.build, f"The job book says: {one.book}", one.evidence) for one in found.finished_but_open
        ]),
        ("Still here in the job book, spoken of as finished", [
            _line(one.build, f"The job book says: {one.book}", one.evidence) for one in found.open_but_finished
        ]),
    ]  # fmt: skip
    shown = [(heading, lines) for heading, lines in sections if lines]
    return Page("gaps.html", "What no film said", {"sections": shown}, gaps_json(found), "builds")


def developments_page(db: sqlite3.Connection, _shop: Shop, _asked: Asked) -> Page:
    """Every development with its thread through the films, that spoken of last first."""
    found = developments(db)
    shown = [
        (
            capitalised(one.name),
            one.state,
            [
                (_moment(at.recording, at.title, at.date, at.start, at.text), at.state, at.build)
                for at in reversed(one.thread)
            ],
        )
        for one in found
    ]
    data = {"developments": [development_json(one) for one in found]}
    return Page("developments.html", "What we develop", {"developments": shown}, data, "builds")


def _line(build: Build, words: str, evidence: Iterable[Evidence]) -> Line:
    return f"Job {build.job_number}: {build.name}", build_address(build.job_number), words, _moments(evidence)


def _waiting_words(what: str, on: str | None, since: str | None, days: int | None) -> str:
    whom = f", on {on}" if on else ""
    long = f", {days} day{'' if days == 1 else 's'}" if days is not None else ""
    return capitalised(f"{what}{whom}, since {said_date(since) if since else 'an unknown day'}{long}")


def _moments(evidence: Iterable[Evidence]) -> list[Moment]:
    return [
        replace(
            _moment(one.recording, one.title or f"note {one.note}", one.date, one.start or 0.0, one.text),
            also=also_in(
                [(other.recording, other.start) for other in one.also],
                {other.recording: (other.title, None) for other in one.also},
            ),
        )
        for one in evidence
    ]


def _moment(recording: str | None, title: str, day: str | None, start: float, text: str) -> Moment:
    return Moment(recording, title, day, start, sentence_words(text))
