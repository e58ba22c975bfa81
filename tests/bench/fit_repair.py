"""Learns how the evidence for a repair is weighed, from the working half only: ``python -m tests.bench.fit_repair``.

Logistic regression (Newton's method, a small ridge) over possible repairs: right ones are those of a term that was said
and misheard; wrong ones are all others, and all that everyday talk and workshop talk heard right give. Prints
``weights.yaml``, and how many right and wrong ones each threshold would let through.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from diaryidx.records import Sentence
from diaryidx.transcript.repair.evidence import EVIDENCE, log_odds, weigh
from diaryidx.transcript.repair.heard import listen, workshop_odds
from diaryidx.transcript.repair.repairing import Repairer, build_repairer, compared, find_possible
from diaryidx.transcript.repair.terms import KINDS
from tests.bench.hearing_repair import gold_talk
from tests.bench.repair_data import (
    as_heard,
    as_sentence,
    films,
    general_talk,
    larger_book,
    shops,
    terms_in,
    vocabulary_of,
    workshop_talk,
)

RIDGE = 1.0
GENERAL_SENTENCES = 4_500
CHATTER = 4.0  # log odds around everyday talk that stands in a film of the workshop


#: Evidence, kinds of terms, and which are right.
Found = tuple[NDArray[np.float64], NDArray[np.intp], NDArray[np.bool_]]


@dataclass(frozen=True)
class Rows:
    """Evidence, one row a possible repair; which are right; where they come from."""

    evidence: NDArray[np.float64]
    kind: NDArray[np.intp]
    right: NDArray[np.bool_]
    group: NDArray[np.int8]


def of_film(
    repairer: Repairer, film: Sequence[Sentence], missing: Sequence[Counter[str]], odds_around: float | None = None
) -> Iterator[Found]:
    """The possible repairs of a film; of each missing term the likeliest is right, others of the same term left out."""
    heard = [listen(repairer.vocabulary, repairer.own, sentence) for sentence in film]
    for place, (one, around) in enumerate(zip(heard, workshop_odds(heard).tolist(), strict=True)):
        possible = find_possible(repairer, one)
        if not len(possible):
            continue
        matrix = weigh(
            repairer.table, one, possible, repairer.trade_words, around if odds_around is None else odds_around
        )
        possible, matrix = compared(repairer, one, possible, matrix, np.full(len(possible), np.inf))
        odds = log_odds(repairer.table, possible, matrix, repairer.weights)
        names = np.array([repairer.table.names[repairer.table.canonical[target]] for target in possible.target])
        right, keep = np.zeros(len(names), bool), np.ones(len(names), bool)
        for name in missing[place]:
            mine = np.flatnonzero(names == name)
            if len(mine):
                best = mine[np.argmax(odds[mine])]
                right[best] = True
                keep[mine] = False
                keep[best] = True
        yield matrix[keep], repairer.table.kind[possible.target][keep], right[keep]


def working_rows() -> Rows:
    """All rows of the working half."""
    matrices, kinds, rights, groups = [], [], [], []

    def add(group: int, found: Iterator[Found]) -> None:
        for matrix, kind, right in found:
            matrices.append(matrix)
            kinds.append(kind)
            rights.append(right)
            groups.append(np.full(len(right), group, np.int8))

    for shop in (one for one in shops() if one.half == "working"):
        for size in (len(shop.builds), 500):
            repairer = build_repairer(vocabulary_of(shop, larger_book(shop.builds, size)))
            vocabulary = repairer.vocabulary
            for film in films(shop):
                missing = [
                    terms_in(vocabulary, shop.sentences[one.place]) - terms_in(vocabulary, one.sentence.text)
                    for one in film
                ]
                add(0, of_film(repairer, [one.sentence for one in film], missing))
            talks = [*(as_heard(text) for text in shop.sentences), *workshop_talk(vocabulary, 1, 200), *gold_talk()]
            add(1, of_film(repairer, [as_sentence(text) for text in talks], [Counter()] * len(talks)))
        talks = list(islice(general_talk("working"), 0, GENERAL_SENTENCES, 3))
        add(2, of_film(repairer, [as_sentence(text) for text in talks], [Counter()] * len(talks)))
        talks = list(islice(general_talk("working"), 1, GENERAL_SENTENCES, 3))
        add(3, of_film(repairer, [as_sentence(text) for text in talks], [Counter()] * len(talks), CHATTER))
    return Rows(*(np.concatenate(one) for one in (matrices, kinds, rights, groups)))


def fit(x: NDArray[np.float64], right: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The weights of one kind of term."""
    y = right.astype(np.float64)
    beta = np.zeros(x.shape[1])
    ridge = RIDGE * np.eye(x.shape[1])
    for _ in range(60):
        guess = 1 / (1 + np.exp(-np.clip(x @ beta, -30, 30)))
        curve = x.T @ (x * (guess * (1 - guess))[:, None]) + ridge
        step = np.linalg.solve(curve, x.T @ (y - guess) - ridge @ beta)
        beta += np.clip(step, -2, 2)
        if np.abs(step).max() < 1e-6:
            break
    return beta


def main() -> None:
    """Print the weights and what each threshold would do."""
    rows = working_rows()
    weights = np.array(
        [fit(rows.evidence[rows.kind == kind], rows.right[rows.kind == kind]) for kind in range(len(KINDS))]
    )
    print(
        "# How much each evidence for a repair counts, for names of bikes, of firms, of people, and terms of the trade;"
    )
    print("# see evidence.py. Learnt by tests/bench/fit_repair.py.")
    print("evidence:")
    for name, values in zip(EVIDENCE, weights.T, strict=True):
        print(f"  {name}: [{', '.join(f'{value:.4f}' for value in values)}]")
    print("threshold: 0.6  # natural log odds")
    odds = (rows.evidence * weights[rows.kind]).sum(axis=1)
    for threshold in np.arange(-1, 6, 0.5):
        wrong = [int(((odds > threshold) & ~rows.right & (rows.group == group)).sum()) for group in range(4)]
        right = [f"{(odds[rows.right & (rows.kind == kind)] > threshold).mean():.2f}" for kind in range(len(KINDS))]
        print(
            f"# threshold {threshold}: right {(odds[rows.right] > threshold).sum()} of {rows.right.sum()} {right}, "
            f"wrong {wrong}"
        )


if __name__ == "__main__":
    main()
