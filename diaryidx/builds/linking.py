"""Ties the segments of a film to builds: one best assignment over the whole film, with certainty and evidence.

On film a bike is mostly "this one". Every segment about a build gets a score for each build of the job book from its
clues (`builds.clues`) and from whether the build was in the shop that day. The segments are then settled together: a
walk-round shows a bike once, so a build that one segment needs is less likely in the others. That is a pairwise model,
solved by mean-field iteration (Jordan et al., "An introduction to variational methods for graphical models", Machine
Learning 37, 1999), which needs no search and leaves look-alikes undecided instead of guessing between them.

A link says something of every sentence of its segment. Its certainty is therefore that of the build times the chance
that the segment speaks of one bike from its first to its last sentence (`builds.stretches`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from diaryidx.builds.clues import Clue, clues
from diaryidx.builds.deciding import Outcome
from diaryidx.builds.known import Matrix, Shop, Vector, shop_on_the_day
from diaryidx.builds.said import Said, said_by_sentence, together
from diaryidx.builds.stretches import SINGLE, States, chance_of_one, sentence_gains
from diaryidx.builds.turns import shows_two, turns
from diaryidx.builds.word_lists import word_set
from diaryidx.records import Build, Candidate, Mention, Recording, Segment, Sentence, Statement, Subject

#: A segment is linked from this probability on, if no other build is nearly as likely; below, up to `ASK_FROM`, it is
#: told which builds it could be (chosen on `tests/bench/bench_linking_small.py`: nine links in ten right there).
LINK_FROM = 0.8
CLEAR_LEAD = 6.0
ASK_FROM = 0.15
MOST_CANDIDATES = 4
#: The chance that a bike on film is none of the job book's (our own estimate).
UNKNOWN_BUILD = 0.06
#: Clues must together speak for a build by this much; nothing is linked because others were less likely in the shop.
LEAST_EVIDENCE = 0.8
#: What it costs a build to be in two segments, in log odds: much, unless they follow each other (one topic cut in two).
TWICE, TWICE_IN_A_ROW = 2.5, 0.3
#: What the order of the last walk-round gains the build that came next then.
SAME_ORDER = 0.4
#: How long before a bike comes in and after it leaves a film may still speak of it, in days.
GRACE_DAYS = 31
#: What a person's word outweighs everything else by, in log odds.
CERTAIN = 50.0
#: Builds that are likelier than this are shown to whoever decides.
SHOW_FROM = 0.02
_ITERATIONS, _SETTLED = 40, 1e-4
_MOST_EVIDENCE = 5


def link(
    recording: Recording,
    segments: Sequence[Segment],
    sentences: Sequence[Sentence],
    mentions: Sequence[Mention],
    statements: Sequence[Statement],
    builds: Sequence[Build],
    earlier: Sequence[Statement],
    outcomes: Sequence[Outcome | None] = (),
) -> list[Segment]:
    """Tie the segments of one film to builds.

    :param segments: as `builds.topics` cut them; those whose subject is no build are given back as they are, and an
        earlier link of any is forgotten first.
    :param statements: those of this film; ``earlier`` those of films before it, with the builds they were tied to.
    :param outcomes: what people decided about each segment, which is taken as a fact; none means nothing.
    :returns: the same segments in the same order. A linked one has its build, the probability of it as certainty, and
        evidence in plain words; one that fits several builds alike has no build and says which it could be.
    """
    decided = outcomes or [None] * len(segments)
    is_fact = [outcome is not None and outcome.build is not None for outcome in decided]
    cleared = [segment if fact else _cleared(segment) for segment, fact in zip(segments, is_fact, strict=True)]
    about = [place for place, segment in enumerate(cleared) if segment.subject.kind == "build"]
    if not about or not builds:
        return cleared
    shop = shop_on_the_day(builds, {build.job_number: in_shop(build, recording.date) for build in builds}, earlier)
    said = said_by_sentence(sentences, mentions, statements)
    found = [clues(together(said[cleared[place].first : cleared[place].last + 1]), shop) for place in about]
    scores = _scores(found, shop)
    for row, place in enumerate(about):
        scores[row] += _settled_by(decided[place], shop)
    chances = settle(scores, _order_gains(builds, earlier))
    turning = turns(sentences, said, {segment.first for segment in segments}, recording.kind, shop)
    whole = _whole([cleared[place] for place in about], said, turning, shop)
    for row, place in enumerate(about):
        first = cleared[place].first
        two = shows_two(sentences[first], said[first].mentions)  # at best every second statement is of either
        sure = chances[row] * whole[row] * (0.5 if two else 1.0)
        if not is_fact[place]:
            cleared[place] = _decided(cleared[place], chances[row], sure, found[row], builds)
    return cleared


def _settled_by(outcome: Outcome | None, shop: Shop) -> Vector:
    """Gains that leave a segment no build but the decided one, and refused ones no chance; the last is for no build."""
    gains = np.zeros(len(shop.builds) + 1)
    if outcome is not None:
        gains[[shop.columns[job] for job in outcome.refused if job in shop.columns]] = -CERTAIN
        if outcome.build is not None:
            gains[shop.columns[outcome.build]] = CERTAIN
    return gains


def in_shop(build: Build, day: str | None) -> float:
    """How likely a film of a day speaks of a build, by its dates in and out alone; above 0, at most 1."""
    filmed, came, left = _first_day(day), _first_day(build.date_in), _first_day(build.date_out)
    grace = timedelta(days=GRACE_DAYS)
    if filmed and left and filmed > left:
        return 0.4 if filmed <= left + grace else 0.03
    if filmed and came and filmed < came:
        return 0.3 if filmed >= came - grace else 0.03
    if left is None and (build.state or "").lower() in word_set("finished_states"):
        return 0.5
    return 1.0


def settle(scores: Matrix, order: Mapping[int, int]) -> Matrix:
    """Probabilities of each build for each segment, settled together.

    :param scores: log scores, one row a segment in the order of the film, one column a build, the last for "none of
        these".
    :param order: the build that came next in the last walk-round, by column.
    :returns: probabilities of the same shape; rows add up to 1.
    """
    chances = _normalised(scores)
    rows = np.arange(len(scores))
    near = (np.abs(rows[:, None] - rows[None, :]) == 1).astype(float)
    cost = TWICE * (1 - near - np.eye(len(rows))) + TWICE_IN_A_ROW * near
    before, after = np.array(list(order), dtype=int), np.array(list(order.values()), dtype=int)
    for _ in range(_ITERATIONS):
        adjusted = scores.copy()
        adjusted[:, :-1] -= (cost @ chances)[:, :-1]
        if len(before):
            adjusted[1:, after] += SAME_ORDER * chances[:-1, before]
            adjusted[:-1, before] += SAME_ORDER * chances[1:, after]
        before_this, chances = chances, 0.5 * chances + 0.5 * _normalised(adjusted)
        if np.abs(chances - before_this).max() < _SETTLED:
            break
    return chances


def _cleared(segment: Segment) -> Segment:
    if segment.subject.kind != "build":
        return segment
    return replace(segment, subject=Subject("build"), build=None, certainty=0.0, evidence=(), candidates=())


def _scores(found: Sequence[Sequence[Clue]], shop: Shop) -> Matrix:
    scores = np.tile(prior(shop), (len(found), 1))
    for row, segment_clues in enumerate(found):
        for clue in segment_clues:
            scores[row] += clue.with_unknown
    return scores


def _whole(segments: Sequence[Segment], said: Sequence[Said], turning: Vector, shop: Shop) -> list[float]:
    """How likely each segment is of one bike from its first to its last sentence."""
    gains = sentence_gains(said, turning, shop)
    inside = [slice(segment.first, segment.last + 1) for segment in segments]
    chances = prior(shop)
    states = States(chances, np.full(len(chances), np.log(SINGLE)))
    return [chance_of_one(gains[one], turning[one], states) for one in inside]


def prior(shop: Shop) -> Vector:
    """Log probabilities of each build before anything is said, and last of a bike that is in no job book."""
    shares = shop.weights / shop.weights.sum() * (1 - UNKNOWN_BUILD)
    chances: Vector = np.log(np.append(shares, UNKNOWN_BUILD))
    return chances


def _order_gains(builds: Sequence[Build], earlier: Sequence[Statement]) -> dict[int, int]:
    """Which build came next in the last film before this one that showed any, by their columns."""
    columns = {build.job_number: column for column, build in enumerate(builds)}
    linked = [one for one in earlier if one.build in columns and one.recording]
    if not linked:
        return {}
    last = [one.build for one in linked if one.recording == linked[-1].recording]
    shown = [columns[job] for job in dict.fromkeys(last) if job]
    return dict(pairwise(shown))


def _decided(
    segment: Segment, chances: Vector, sure: Vector, found: Sequence[Clue], builds: Sequence[Build]
) -> Segment:
    ranked = sorted(range(len(builds)), key=lambda column: -chances[column])[:MOST_CANDIDATES]
    segment = replace(segment, candidates=tuple(_candidates(ranked, chances, found, builds)))
    clear = len(ranked) < 2 or chances[ranked[0]] >= CLEAR_LEAD * chances[ranked[1]]
    ranked = [column for column in ranked if _evidence(found, column) >= LEAST_EVIDENCE]
    if not ranked:
        return segment
    best = builds[ranked[0]]
    certainty = round(min(float(sure[ranked[0]]), 0.99), 3)
    if certainty >= LINK_FROM and clear:
        return replace(
            segment,
            build=best.job_number,
            subject=Subject("build", best.job_number),
            certainty=certainty,
            evidence=tuple(_told(found, ranked[0])),
        )
    candidates = [builds[column] for column in ranked if chances[column] >= ASK_FROM]
    if not candidates:
        return segment
    could_be = "could be " + " or ".join(f"job {build.job_number}" for build in candidates)
    return replace(segment, certainty=certainty, evidence=(could_be, *_told(found, ranked[0])))


def _candidates(
    ranked: Sequence[int], chances: Vector, found: Sequence[Clue], builds: Sequence[Build]
) -> Iterator[Candidate]:
    """The builds that a person may choose from, with what speaks for each."""
    for column in ranked:
        if chances[column] >= SHOW_FROM:
            why = "; ".join(_told(found, column)) or "was in the shop then"
            yield Candidate(builds[column].job_number, why, round(min(float(chances[column]), 0.99), 3))


def _evidence(found: Sequence[Clue], column: int) -> float:
    return float(sum(clue.gains[column] for clue in found if column in clue.words))


def _told(found: Sequence[Clue], column: int) -> list[str]:
    """The strongest clues in words, each once."""
    gains: dict[str, float] = {}
    for clue in found:
        if (words := clue.words.get(column)) and clue.gains[column] > 0.1:
            gains[words] = gains.get(words, 0.0) + float(clue.gains[column])
    return sorted(gains, key=lambda words: -gains[words])[:_MOST_EVIDENCE]


def _normalised(scores: Matrix) -> Matrix:
    weights = np.exp(scores - scores.max(axis=1, keepdims=True))
    normal: Matrix = weights / weights.sum(axis=1, keepdims=True)
    return normal


def _first_day(day: str | None) -> date | None:
    try:
        return date.fromisoformat(day if day and len(day) > len("YYYY-MM") else f"{day}-01") if day else None
    except ValueError:
        return None
