"""The segmental model against an enumeration of every way to cut, written from its definition."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.builds.known import Matrix, Vector
from diaryidx.builds.stretches import States, best_cuts, chance_of_one

STATES = States(np.log(np.array([0.5, 0.3, 0.2])), np.log(np.array([0.2, 0.2, 1.0])))
CHANCES = st.floats(0.01, 0.95)
SENTENCE = st.tuples(CHANCES, *[st.floats(-4, 4)] * 3)


def every_way(length: int) -> Iterator[tuple[int, ...]]:
    for count in range(length):
        for cuts in combinations(range(1, length), count):
            yield (0, *cuts)


def likelihood(starts: tuple[int, ...], gains: Matrix, turning: Vector) -> float:
    """Of one way to cut: each stretch has one state, turns at its start and nowhere else."""
    total = 1.0
    for first, end in pairwise([*starts, len(gains)]):
        total *= turning[first] if first else 1.0
        total *= float(np.prod(1 - turning[first + 1 : end]))
        of_state = np.exp(STATES.prior + gains[first:end].sum(axis=0))
        total *= float((of_state * (np.exp(STATES.single) if end - first == 1 else 1.0)).sum())
    return total


@settings(deadline=None, max_examples=80)
@given(st.lists(SENTENCE, min_size=1, max_size=7))
def test_the_best_cuts_and_the_chance_of_one_are_those_of_all_ways_to_cut(film: list[tuple[float, ...]]) -> None:
    turning, gains = np.array([row[0] for row in film]), np.array([row[1:] for row in film])
    ways = {starts: likelihood(starts, gains, turning) for starts in every_way(len(film))}
    starts, states = best_cuts(gains, turning, STATES)
    assert ways[tuple(starts)] == pytest.approx(max(ways.values()), rel=1e-6)
    assert len(states) == len(starts)
    assert chance_of_one(gains, turning, STATES) == pytest.approx(ways[(0,)] / sum(ways.values()), abs=1e-6)


def test_a_stretch_has_the_state_that_all_its_sentences_speak_for() -> None:
    gains = np.array([[2.0, 0, 0], [0, 0.1, 0], [2.0, 0, 0], [-2, 3.0, 0], [0, 0, 0], [-2, 3.0, 0]])
    turning = np.array([0.1, 0.1, 0.1, 0.3, 0.1, 0.1])
    starts, states = best_cuts(gains, turning, STATES)
    assert starts == [0, 3]
    assert [int(np.argmax(one)) for one in states] == [0, 1]
    assert chance_of_one(gains, turning, STATES) < 0.1 < 0.8 < chance_of_one(gains[:3], turning[:3], STATES)


def test_a_film_of_hours_is_cut_in_a_blink_and_keeps_its_numbers() -> None:
    chance = np.random.default_rng(1)
    gains = chance.normal(0, 2, (3000, 3))
    starts, _ = best_cuts(gains, np.full(3000, 0.05), STATES)
    assert starts[0] == 0 and starts == sorted(set(starts))
    assert 0 <= chance_of_one(gains[:300], np.full(300, 0.05), STATES) <= 1
