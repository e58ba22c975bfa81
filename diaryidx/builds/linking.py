"""Ties the segments of a film to builds: one best assignment over the whole film, with certainty and evidence.

On film a bike is mostly "this one". Every segment about a build gets a score for each build of the job book from its
clues (`builds.clues`) and from whether the build was in the shop that day. The segments are then settled together: a
walk-round shows a bike once, and in much the same order as the one before. The likeliest assignments of the whole film
are followed segment by segment (as hypotheses in Reid, "An algorithm for tracking multiple targets", IEEE Transactions
on Automatic Control 24(6), 1979), and how likely a build is in a segment is its share of them all. So look-alikes stay
undecided instead of being guessed between.

A link says something of every sentence of its segment. Its certainty is therefore that of the build times the chance
that the segment speaks of one bike from its first to its last sentence (`builds.stretches`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache
from itertools import pairwise

import numpy as np

from diaryidx.builds.certainty import Weighed
from diaryidx.builds.clues import Clue, clues, codes, learned, weight
from diaryidx.builds.dates import GRACE_DAYS, first_day
from diaryidx.builds.deciding import Outcome
from diaryidx.builds.known import Matrix, Places, Shop, Vector, names_of, shop_on_the_day
from diaryidx.builds.said import said_by_sentence
from diaryidx.builds.spoken import tokens
from diaryidx.builds.stretches import SINGLE, States, chance_of_one, sentence_gains
from diaryidx.builds.turns import shows_two, turns
from diaryidx.builds.wishes import shipped_vocabulary
from diaryidx.builds.word_lists import word_set
from diaryidx.records import Build, Candidate, Mention, Reading, Recording, Segment, Sentence, Statement, Subject
from diaryidx.vocabulary.loader import Vocabulary

#: A segment is linked from this certainty on, if no other build is nearly as likely; below, up to `ASK_FROM`, it is
#: told which builds it could be (chosen on the working seeds of `tests/bench/linking.py`).
LINK_FROM = 0.88
CLEAR_LEAD = 6.0
ASK_FROM = 0.15
MOST_CANDIDATES = 4
#: Clues must together speak for a build by this much; nothing is linked because others were less likely in the shop.
LEAST_EVIDENCE = 0.8
#: What it costs a build to be in two segments, in log odds, unless they follow each other (one topic cut in two).
TWICE = 4.0
#: The same for a segment beside one that a person tied to that build: what was decided of one is not so of the next.
BESIDE_DECIDED = -0.3
#: So many assignments of a film are followed, and in each segment builds that score so much less than the best are not,
#: but for the best few.
_HYPOTHESES, _BEHIND, _FEWEST = 600, 9.0, 6
#: How likely a film speaks of a bike that left or came longer than that ago; it is thought of only where it is named.
FAR = 0.03
#: So many bikes stood in the shop where weights were learned; a bike of no job book is as likely in a smaller one.
USUAL_SHOP = 12
#: Where two bikes are shown as one, at best every second statement is of either.
TWO_SHOWN = 0.5
#: What a person's word outweighs everything else by, in log odds.
CERTAIN = 50.0
#: Builds that are likelier than this are shown to whoever decides.
SHOW_FROM = 0.02
_MOST_EVIDENCE = 5
#: A film that shows so many bikes is a walk-round; a bike is taken to be shown where it is so likely.
_A_WALK, _LIKELY = 3, 0.5


def link(
    recording: Recording,
    segments: Sequence[Segment],
    sentences: Sequence[Sentence],
    mentions: Sequence[Mention],
    statements: Sequence[Statement],
    builds: Sequence[Build],
    earlier: Sequence[Statement],
    outcomes: Sequence[Outcome | None] = (),
    *,
    walk: Sequence[str] = (),
    vocabulary: Vocabulary | None = None,
) -> list[Segment]:
    """Tie the segments of one film to builds.

    :param segments: as `builds.topics` cut them; those whose subject is no build are given back as they are, and an
        earlier link of any is forgotten first.
    :param statements: those of this film; ``earlier`` those of films before it, with the builds they were tied to.
    :param outcomes: what people decided about each segment, which is taken as a fact; none means nothing.
    :param walk: job numbers in the order in which films before it showed them (`walk_after`).
    :param vocabulary: the shop's words; None means the shipped ones.
    :returns: the same segments in the same order. A linked one has its build, the probability of it as certainty, and
        evidence in plain words; one that fits several builds alike has no build and says which it could be.
    """
    decided = outcomes or [None] * len(segments)
    is_fact = [outcome is not None and outcome.build is not None for outcome in decided]
    cleared = [segment if fact else _cleared(segment) for segment, fact in zip(segments, is_fact, strict=True)]
    film = Reading(recording.kind, tuple(mentions), tuple(cleared), tuple(statements))
    weighed = weigh(recording, film, sentences, builds, earlier, decided, walk=walk, vocabulary=vocabulary)
    for one in weighed:
        if not is_fact[one.place]:
            cleared[one.place] = _decided(cleared[one.place], one)
    return cleared


def weigh(
    recording: Recording,
    film: Reading,
    sentences: Sequence[Sentence],
    builds: Sequence[Build],
    earlier: Sequence[Statement],
    decided: Sequence[Outcome | None],
    *,
    walk: Sequence[str] = (),
    vocabulary: Vocabulary | None = None,
) -> list[Weighed]:
    """Weigh all builds for the segments of a film that are about a bike; arguments as of `link`.

    :param film: its segments, mentions and statements.
    """
    about = [place for place, segment in enumerate(film.segments) if segment.subject.kind == "build"]
    if not about or not builds:
        return []
    builds = near(builds, recording.date, sentences, [one.build for one in decided if one is not None])
    weights = {build.job_number: in_shop(build, recording.date) for build in builds}
    shop = shop_on_the_day(builds, weights, earlier, vocabulary, recording.date)
    said = said_by_sentence(sentences, film.mentions, film.statements, vocabulary)
    found = [clues(said[film.segments[place].first : film.segments[place].last + 1], shop) for place in about]
    scores = _scores(found, shop)
    scores[:, -1] += weight("no bike")
    for row, place in enumerate(about):
        scores[row] += _settled_by(decided[place], shop)
    turning = turns(sentences, said, set(), recording.kind, shop)
    again = again_gains(about, [float(turning[film.segments[place].first]) for place in about])
    for row in range(1, len(about)):
        if any(one is not None and one.build is not None for one in (decided[about[row - 1]], decided[about[row]])):
            again[row] = BESIDE_DECIDED
    chances = settle(scores, [shop.columns[job] for job in walk if job in shop.columns], again)
    gains, before = sentence_gains(said, turning, shop), prior(shop)
    inside = [slice(film.segments[place].first, film.segments[place].last + 1) for place in about]
    states = States(before, np.full(len(before), np.log(SINGLE)))
    two = [shows_two(sentences[place], said[place].mentions) for place in (film.segments[one].first for one in about)]
    return [
        Weighed(
            place,
            builds,
            found[row],
            chances[row],
            chance_of_one(gains[one], turning[one], states),
            TWO_SHOWN if two[row] else 1.0,
            gains[one],
            turning[one],
            before,
        )
        for row, (place, one) in enumerate(zip(about, inside, strict=True))
    ]


def shown_in_order(segments: Iterable[Segment]) -> list[str]:
    """The builds of a film in the order in which it shows them, those included that are likely but not tied."""
    shown = [one.build or _likeliest(one) for one in segments if one.subject.kind == "build"]
    return list(dict.fromkeys(job for job in shown if job is not None))


def is_walk(order: Sequence[str]) -> bool:
    """Whether a film that shows these builds is a walk-round, which tells in which order bikes stand."""
    return len(order) >= _A_WALK


def walk_after(walk: Sequence[str], order: Sequence[str]) -> list[str]:
    """The order in which bikes stand: that of the last walk-round, with those that it left out where they stood."""
    found = list(order)
    before: str | None = None
    for job in walk:
        if job not in found:
            found.insert(found.index(before) + 1 if before is not None else 0, job)
        before = job
    return found


def _likeliest(segment: Segment) -> str | None:
    best = segment.candidates[0] if segment.candidates else None
    return best.job_number if best is not None and (best.certainty or 0.0) >= _LIKELY else None


def _settled_by(outcome: Outcome | None, shop: Shop) -> Vector:
    """Gains that leave a segment no build but the decided one, and refused ones no chance; the last is for no build."""
    gains = np.zeros(len(shop.builds) + 1)
    if outcome is not None:
        gains[[shop.columns[job] for job in outcome.refused if job in shop.columns]] = -CERTAIN
        if outcome.build is not None:
            gains[shop.columns[outcome.build]] = CERTAIN
    return gains


def near(
    builds: Sequence[Build], day: str | None, sentences: Sequence[Sentence], decided: Iterable[str | None] = ()
) -> list[Build]:
    """The builds that a film of a day may speak of: those that were in the shop, have just left or come soon, and those
    that are named though they were not there.
    """
    named = {*named_far(builds, day, sentences), *(job for job in decided if job is not None)}
    return [build for build in builds if build.job_number in named or in_shop(build, day) > FAR]


def named_far(builds: Sequence[Build], day: str | None, sentences: Sequence[Sentence]) -> set[str]:
    """The builds that are named in a film though they were not in the shop around that day."""
    names = far_names(tuple(builds))
    said = {row for one in sentences for row in _spoken_rows(one)} | codes_said(sentences)
    jobs = {job for key in said & names.keys() for job in names[key]}
    return {build.job_number for build in builds if build.job_number in jobs and in_shop(build, day) <= FAR}


def codes_said(sentences: Iterable[Sentence]) -> frozenset[str]:
    """The job numbers and registrations that sentences may spell."""
    return frozenset(code for one in sentences for code in codes(_spoken_words(one)))


def _spoken_words(sentence: Sentence) -> tuple[str, ...]:
    return tuple(tokens(sentence.text.replace("'s", "")))


def _spoken_rows(sentence: Sentence) -> Iterator[str]:
    """The single words of a sentence, and pairs of them."""
    words = _spoken_words(sentence)
    yield from words
    yield from map(" ".join, pairwise(words))


@lru_cache(maxsize=4)
def far_names(builds: tuple[Build, ...]) -> dict[str, frozenset[str]]:
    """The names that few bikes have, as they are looked for in a film on which the bike is not to be expected.

    :returns: job numbers by job number, registration, and the first two words of nickname and customer.
    """
    names = names_of(builds, shipped_vocabulary())
    found: dict[str, frozenset[str]] = {}
    for kind in ("nickname", "customer", "job number", "registration"):
        for name, jobs in names[kind].items():
            key = " ".join(name.split()[:2])
            found[key] = found.get(key, frozenset()) | jobs
    return found


def in_shop(build: Build, day: str | None) -> float:
    """How likely a film of a day speaks of a build, by its dates in and out alone; above 0, at most 1."""
    filmed, came, left = first_day(day), first_day(build.date_in), first_day(build.date_out)
    grace = timedelta(days=GRACE_DAYS)
    if filmed and left and filmed > left:
        return 0.4 if filmed <= left + grace else FAR
    if filmed and came and filmed < came:
        return 0.3 if filmed >= came - grace else FAR
    if left is None and (build.state or "").lower() in word_set("finished_states"):
        return 0.5
    return 1.0


def again_signs(places: Sequence[int], turning: Sequence[float]) -> Iterator[dict[str, float]]:
    """What tells whether each segment after the first speaks on of the bike of the one before.

    :param places: the places of the segments among all of the film.
    :param turning: the chance that the film turns with the first sentence of each.
    """
    for (one, two), chance in zip(pairwise(places), turning[1:], strict=True):
        name = "again" if two == one + 1 else "again after talk"
        yield {name: 1.0, "again, turn": float(np.log(chance / (1 - chance)))}


def again_gains(places: Sequence[int], turning: Sequence[float]) -> Vector:
    """How much the build of the segment before gains in each segment, as log odds; arguments as of `again_signs`."""
    signs = again_signs(places, turning)
    return np.array([0.0, *(sum(weight(name) * value for name, value in one.items()) for one in signs)])


def settle(scores: Matrix, walk: Sequence[int] = (), again: Vector | None = None) -> Matrix:
    """Probabilities of each build for each segment, settled together.

    :param scores: log scores, one row a segment in the order of the film, one column a build, the last for "none of
        these".
    :param walk: the columns of builds in the order in which they were shown before.
    :param again: what it gains a column to be that of the segment before, one value a segment; None means nothing.
    :returns: probabilities of the same shape; rows add up to 1.
    """
    steps = _step_gains(scores.shape[1], walk)
    none = scores.shape[1] - 1
    chosen = np.empty((1, 0), dtype=np.intp)
    used = np.zeros((1, scores.shape[1]), dtype=bool)
    last, total = np.array([none]), np.zeros(1)  # the last build that was shown
    for row, score in enumerate(scores):
        columns = _worth_following(score)
        gains = total[:, None] + score[columns] + steps[last][:, columns] - TWICE * used[:, columns]
        if row:
            gains += (TWICE * (columns != none) + (again[row] if again is not None else 0.0)) * (
                chosen[:, -1:] == columns
            )
        flat = gains.ravel()
        best = np.sort(np.argpartition(-flat, min(_HYPOTHESES, flat.size) - 1)[:_HYPOTHESES])
        parents, taken = best // len(columns), columns[best % len(columns)]
        total = flat[best]
        chosen = np.column_stack([chosen[parents], taken])
        last = np.where(taken == none, last[parents], taken)
        used = used[parents]
        used[np.arange(len(taken)), taken] = taken != none
    weights = np.exp(total - total.max())
    chances = np.stack([np.bincount(column, weights, scores.shape[1]) for column in chosen.T])
    shares: Matrix = chances / weights.sum()
    return shares


def _worth_following(score: Vector) -> Places:
    """The columns of a segment that are not far behind its best, the first few anyway, and none of these."""
    ranked = np.argsort(-score, kind="stable")
    near = ranked[(score[ranked] >= score[ranked[0]] - _BEHIND) | (np.arange(len(ranked)) < _FEWEST)]
    return np.unique(np.append(near, len(score) - 1))


def _step_gains(columns: int, walk: Sequence[int]) -> Matrix:
    """What it gains a build (column) to be shown next after another one (row), by the order of the walk before."""
    gains = np.zeros((columns, columns))
    forward, backward = learned()["steps"]["forward"], learned()["steps"]["backward"]
    for place, one in enumerate(walk):
        for other_place, other in enumerate(walk):
            step = other_place - place
            if step > 0:
                gains[one, other] = forward[min(step, len(forward)) - 1]
            elif step < 0:
                gains[one, other] = backward[min(-step, len(backward)) - 1]
    return gains


def _cleared(segment: Segment) -> Segment:
    if segment.subject.kind != "build":
        return segment
    return replace(segment, subject=Subject("build"), build=None, certainty=0.0, evidence=(), candidates=())


def _scores(found: Sequence[Sequence[Clue]], shop: Shop) -> Matrix:
    scores = np.tile(prior(shop), (len(found), 1))
    for row, segment_clues in enumerate(found):
        for clue in segment_clues:
            scores[row] += clue.gains
    return scores


def prior(shop: Shop) -> Vector:
    """Log probabilities of each build before anything is said, and last of a bike that is in no job book."""
    builds = weight("in the shop") * np.log(shop.weights)
    scores = np.append(builds, weight("unknown") + np.logaddexp.reduce(builds) - np.log(USUAL_SHOP))
    chances: Vector = scores - np.logaddexp.reduce(scores)
    return chances


def _decided(segment: Segment, weighed: Weighed) -> Segment:
    chances, builds, found = weighed.chances, weighed.builds, weighed.found
    ranked = sorted(range(len(builds)), key=lambda column: -chances[column])[:MOST_CANDIDATES]
    segment = replace(segment, candidates=tuple(_candidates(ranked, weighed)))
    clear = len(ranked) < 2 or chances[ranked[0]] >= CLEAR_LEAD * chances[ranked[1]]
    ranked = [column for column in ranked if _evidence(found, column) >= LEAST_EVIDENCE]
    if not ranked:
        return segment
    best = builds[ranked[0]]
    certainty = weighed.certainty(ranked[0])
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


def _candidates(ranked: Sequence[int], weighed: Weighed) -> Iterator[Candidate]:
    """The builds that a person may choose from, with what speaks for each."""
    for column in ranked:
        if weighed.chances[column] >= SHOW_FROM:
            why = "; ".join(_told(weighed.found, column)) or "was in the shop then"
            yield Candidate(weighed.builds[column].job_number, why, weighed.certainty(column))


def _evidence(found: Sequence[Clue], column: int) -> float:
    return float(sum(clue.gains[column] for clue in found if column in clue.words))


def _told(found: Sequence[Clue], column: int) -> list[str]:
    """The strongest clues in words, each once."""
    gains: dict[str, float] = {}
    for clue in found:
        if (words := clue.words.get(column)) and clue.gains[column] > 0.1:
            gains[words] = gains.get(words, 0.0) + float(clue.gains[column])
    return sorted(gains, key=lambda words: -gains[words])[:_MOST_EVIDENCE]
