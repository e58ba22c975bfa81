"""Films as stretches of one bike each: how much each sentence speaks for each build, and where stretches begin.

A segmental hidden Markov model (Rabiner, "A tutorial on hidden Markov models and selected applications in speech
recognition", Proceedings of the IEEE 77(2), 1989, section IV.D): a state holds for a whole stretch of sentences. A
stretch is weighed over all its possible states, so that a bike that is not known yet is no less one bike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaryidx.builds.clues import heard_stay_clues, name_clues, stays_heard, thing_clues
from diaryidx.builds.known import Matrix, Shop, Vector
from diaryidx.builds.said import Said

#: From this chance of a turn on, what was said of a part before is not added to what is said of it now.
NEW_TOPIC = 0.5
#: How often a bike is spoken of in one sentence alone, against going on (our own estimate).
SINGLE = 0.2
#: Stretches so much less likely than the best, as a logarithm, are followed no further.
_BEAM = 25.0
#: The lowest log odds that another bike has a part of a stretch, and the highest.
LOWEST = 10.0


@dataclass(frozen=True, slots=True)
class States:
    """The states that a stretch may have, as log probabilities.

    ``prior``: of each state when a stretch begins; ``single``: of a stretch that ends with the sentence that began it.
    """

    prior: Vector
    single: Vector


def sentence_gains(said: Sequence[Said], turning: Vector, shop: Shop) -> Matrix:
    """How much each sentence speaks for each build, and last for a bike of no job book, as log odds against any bike.

    What is said of one thing in several sentences counts once.
    """
    gains = np.zeros((len(said), len(shop.builds) + 1))
    new_topics = frozenset(np.flatnonzero(turning >= NEW_TOPIC).tolist())
    for place, (one, things) in enumerate(zip(said, thing_clues(said, new_topics, shop), strict=True)):
        stay = heard_stay_clues(set(stays_heard(one)), shop)
        for clue in (*name_clues([one], shop), *stay, *things):
            gains[place] += clue.gains
    return gains


def best_cuts(gains: Matrix, turning: Vector, states: States) -> tuple[list[int], list[Vector]]:
    """Where stretches of one state each begin, and how likely each state is in each stretch.

    :param gains: log likelihoods of what is said, one row a sentence, one column a state.
    :param turning: the chance that a stretch begins with each sentence, above 0 and below 1; the first one's is not
        used.
    :returns: the first sentences of the stretches, and for each the log probabilities of its states, not normalised.
    """
    starts = np.empty(0, dtype=np.intp)
    sums = np.empty((0, gains.shape[1]))  # one row for each start that a stretch may have which still goes on
    best = 0.0
    began: list[tuple[int, Vector]] = []  # of the best stretch that ends with each sentence: its start and its states
    for place in range(len(gains)):
        turn = np.log(turning[place]) if place else 0.0
        sums = np.vstack([sums + np.log1p(-turning[place]), best + turn + states.prior]) + gains[place]
        starts = np.append(starts, place)
        totals = _totals(sums, states)
        winner = int(np.argmax(totals))
        best = float(totals[winner])
        began.append((int(starts[winner]), sums[winner]))
        alive = totals >= best - _BEAM
        starts, sums = starts[alive], sums[alive]
    place, stretches = len(gains) - 1, []
    while place >= 0:
        stretches.append(began[place])
        place = began[place][0] - 1
    return [start for start, _ in reversed(stretches)], [chances for _, chances in reversed(stretches)]


def chance_of_one(gains: Matrix, turning: Vector, states: States) -> float:
    """How likely a stretch is of one state from its first to its last sentence, among all ways to cut it.

    Arguments as of `best_cuts`.
    """
    sums = states.prior[None, :] + gains[0]  # the first row never turns, each other one turned at a place of its own
    for place in range(1, len(gains)):
        totals = _totals(sums, states)
        alive = totals >= totals.max() - _BEAM
        alive[0] = True
        fresh = _log_sum(totals[None, :]) + np.log(turning[place]) + states.prior
        sums = np.vstack([sums[alive] + np.log1p(-turning[place]), fresh]) + gains[place]
    totals = _totals(sums, states)
    return float(np.exp(totals[0] - _log_sum(totals[None, :])[0]))


def chance_of_another(gains: Matrix, turning: Vector, prior: Vector, column: int) -> float:
    """How much speaks for it that a stretch has a state only up to some sentence or from one on, as log odds.

    Arguments as of `best_cuts`; ``prior`` are the log probabilities of all states, ``column`` the state. One sentence
    alone has the lowest odds there are.
    """
    if len(gains) == 1:
        return -LOWEST
    others = np.delete(gains - gains[:, [column]], column, axis=1)
    before, after = np.cumsum(others, axis=0)[:-1], np.cumsum(others[::-1], axis=0)[::-1][1:]
    turned = np.log(turning[1:]) - np.log1p(-turning[1:])
    ways = np.stack([before, after]) + np.delete(prior, column) + turned[:, None]
    return float(np.clip(np.logaddexp.reduce(ways, axis=None), -LOWEST, LOWEST))


def _totals(sums: Matrix, states: States) -> Vector:
    """How likely the stretches of each row end here; the last row's has only begun here."""
    return np.append(_log_sum(sums[:-1]), _log_sum(sums[-1:] + states.single))


def _log_sum(rows: Matrix) -> Vector:
    if not len(rows):
        return np.empty(0)
    highest = rows.max(axis=1)
    total: Vector = highest + np.log(np.exp(rows - highest[:, None]).sum(axis=1))
    return total
