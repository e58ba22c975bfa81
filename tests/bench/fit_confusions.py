"""Learns how sounds are misheard, from the working half only: ``python -m tests.bench.fit_confusions``.

Stretches that an engine got wrong are aligned, sound by sound, with what was said, and the alignments counted; counting
and aligning take turns (Viterbi training: E. S. Ristad and P. N. Yianilos, "Learning String-Edit Distance", IEEE PAMI
20(5), 1998). Sounds seldom heard lean on their articulatory features. Prints ``confusions.yaml``.
"""

from __future__ import annotations

from collections.abc import Iterator
from difflib import SequenceMatcher

import numpy as np
from numpy.typing import NDArray

from diaryidx.transcript.repair.confusions import VOWELS, feature_distances
from diaryidx.transcript.repair.pronouncing import phonemes, ways_to_say
from tests.bench.repair_data import as_heard, hearings, shops

ROUNDS = 6
LEAN = 25.0  # made-up observations a sound that follow its features
SHARPNESS = 9.0  # how fast the made-up ones fall with distance
LONGEST = 60  # sounds of a stretch; longer ones are aligned too loosely to teach anything
MOST = 9.0  # a cost; what was never met may still happen
Pair = tuple[NDArray[np.intp], NDArray[np.intp]]


def misheard_stretches() -> Iterator[Pair]:
    """Said and heard sounds of each stretch that an engine got wrong."""
    number = {sound: place for place, sound in enumerate(phonemes())}
    for shop in (one for one in shops() if one.half == "working"):
        for one in hearings(shop):
            said, heard = as_heard(shop.sentences[one.place]).split(), as_heard(one.sentence.heard).split()
            for kind, first, last, start, end in SequenceMatcher(None, said, heard, autojunk=False).get_opcodes():
                if kind != "replace":
                    continue
                sounds = [
                    np.array([number[one] for word in words for one in ways_to_say(word, {})[0]], np.intp)
                    for words in (said[first:last], heard[start:end])
                ]
                if all(0 < len(some) <= LONGEST for some in sounds):
                    yield sounds[0], sounds[1]


def prior() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Likelihoods before anything was counted: of each heard sound and of nothing, and of an added sound."""
    vowel = np.array([name in VOWELS for name in phonemes()])
    likely = np.exp(-SHARPNESS * feature_distances()) * np.where(vowel[:, None] == vowel[None, :], 1.0, 0.05)
    np.fill_diagonal(likely, 0)
    likely *= 0.35 / likely.sum(axis=1, keepdims=True)
    np.fill_diagonal(likely, 0.5)
    return likely, np.full(len(vowel), 0.15), np.full(len(vowel), 0.1 / len(vowel))


def align(said: NDArray[np.intp], heard: NDArray[np.intp], costs: list[NDArray[np.float64]]) -> list[tuple[int, int]]:
    """The cheapest alignment: pairs of numbers, -1 for nothing."""
    swap, lost, added = costs
    rows, columns = len(said), len(heard)
    table = np.zeros((rows + 1, columns + 1))
    table[1:, 0] = np.cumsum(lost[said])
    table[0, 1:] = np.cumsum(added[heard])
    for row in range(1, rows + 1):
        for column in range(1, columns + 1):
            table[row, column] = min(
                table[row - 1, column - 1] + swap[said[row - 1], heard[column - 1]],
                table[row - 1, column] + lost[said[row - 1]],
                table[row, column - 1] + added[heard[column - 1]],
            )
    pairs = []
    row, column = rows, columns
    while row or column:
        if row and column and table[row, column] == table[row - 1, column - 1] + swap[said[row - 1], heard[column - 1]]:
            row, column = row - 1, column - 1
            pairs.append((int(said[row]), int(heard[column])))
        elif row and table[row, column] == table[row - 1, column] + lost[said[row - 1]]:
            row -= 1
            pairs.append((int(said[row]), -1))
        else:
            column -= 1
            pairs.append((-1, int(heard[column])))
    return pairs


def learn() -> list[NDArray[np.float64]]:
    """Costs of swapping, losing and adding sounds, relative to hearing them right."""
    stretches = list(misheard_stretches())
    likely, gone, come = prior()
    size = len(gone)
    costs = [-np.log(likely), -np.log(gone), -np.log(come)]
    for _ in range(ROUNDS):
        swaps, losses, additions = LEAN * likely, LEAN * gone, LEAN * size * come
        for said, heard in stretches:
            for meant, got in align(said, heard, costs):
                if meant < 0:
                    additions[got] += 1
                elif got < 0:
                    losses[meant] += 1
                else:
                    swaps[meant, got] += 1
        totals = swaps.sum(axis=1) + losses
        right = np.diag(swaps) / totals
        costs = [-np.log(swaps / totals[:, None]), -np.log(losses / totals), -np.log(additions / totals.sum())]
    relative = [costs[0] + np.log(right)[:, None], costs[1] + np.log(right), costs[2]]
    np.fill_diagonal(relative[0], 0.0)
    return [np.clip(one, 0.0, MOST) for one in relative]


def main() -> None:
    """Print the costs."""
    swap, lost, added = learn()
    print(
        "# Costs of hearing one sound for another, of losing and of adding one: negative natural logarithms, relative"
    )
    print(
        "# to hearing it right. Learnt by tests/bench/fit_confusions.py; the sounds are in the order of phonemes.yaml."
    )
    for name, values in (("lost", lost), ("added", added)):
        print(f"{name}: [{', '.join(f'{value:.2f}' for value in values)}]")
    print("swap:  # a row a meant sound")
    for sound, row in zip(phonemes(), swap, strict=True):
        print(f"  {sound}: [{', '.join(f'{value:.2f}' for value in row)}]")


if __name__ == "__main__":
    main()
