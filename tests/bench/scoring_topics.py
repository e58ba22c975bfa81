"""Topics: where they begin, and which build each is tied to.

A cut is right if a topic of the truth begins within 2 s of it, one to one; every question inside a
questions-and-answers part may begin a topic as well (it is no error to cut there, nor to leave it).

A topic of the truth is judged by the found stretches whose middle lies in it, or, where it has none, by the stretch
that covers its own middle. Its build is right if every tied one of them is tied to a build of the topic, and at least
one is; wrong if one is tied to another; left open if none is tied. A topic about no build is right if nothing is
tied.
"""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.records import Segment
from tests.bench.scoring_measures import Sheet
from tests.bench.scoring_truth import TrueFilm, TrueTopic, when_said

NEAR = 2.0  # seconds
_STEP = "topics"


def score_topics(film: TrueFilm, segments: Sequence[Segment], sheet: Sheet) -> None:
    """Score the topic stretches of one film."""
    _score_cuts(film, [segment.start for segment in segments[1:]], sheet)
    for topic in film.topics:
        _score_build(topic, segments, sheet)


def _score_cuts(film: TrueFilm, cuts: Sequence[float], sheet: Sheet) -> None:
    begins = {topic.start: topic for topic in film.topics[1:]}
    allowed = [when_said(one.topic, one.fields["asked"])[0] for one in film.things["questions"]]
    found = _one_to_one(list(begins), cuts)
    for start, topic in begins.items():
        hit = start in found
        sheet.f1(_STEP, "where they begin", topic.name, (hit, 0, not hit))
        if not hit:
            sheet.errors["topics not cut"].append(f"{topic.name} at {start:.0f} s: {topic.text[:60]!r}")
    for cut in cuts:
        if cut not in found.values() and not any(abs(cut - start) <= NEAR for start in allowed):
            topic = film.topic_at(cut)
            sheet.f1(_STEP, "where they begin", topic.name, (0, 1, 0))
            sheet.errors["topics cut too often"].append(f"{topic.name} at {cut:.0f} s")


def _one_to_one(true: Sequence[float], found: Sequence[float]) -> dict[float, float]:
    """Each true moment with the found one nearest to it, each found one used once."""
    near = sorted((abs(one - other), one, other) for one in true for other in found if abs(one - other) <= NEAR)
    partner: dict[float, float] = {}
    for _, one, other in near:
        if one not in partner and other not in partner.values():
            partner[one] = other
    return partner


def _score_build(topic: TrueTopic, segments: Sequence[Segment], sheet: Sheet) -> None:
    mine = [one for one in segments if topic.start <= (one.start + one.end) / 2 < topic.end]
    middle = (topic.start + topic.end) / 2
    mine = mine or [one for one in segments if one.start <= middle < one.end]
    tied = {one.build for one in mine if one.build}
    if topic.builds:
        outcomes = {"right": bool(tied) and tied <= set(topic.builds), "left open": not tied}
        outcomes["wrong"] = not any(outcomes.values())
        for outcome in ("right", "wrong", "left open"):
            sheet.measure(_STEP, f"build {outcome}").add(topic.name, outcomes[outcome])
    else:
        sheet.measure(_STEP, "about no build, and tied to none").add(topic.name, not tied)
    if (tied or topic.builds) and not (tied and tied <= set(topic.builds)):
        evidence = [f"{one.title!r} {one.subject.kind} {one.build} {list(one.evidence)}" for one in mine]
        sheet.errors["topics' builds"].append(f"{topic.name}: {sorted(tied) or 'open'}, not {topic.builds}: {evidence}")
