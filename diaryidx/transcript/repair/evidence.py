"""What speaks for and against each possible repair, as numbers: one row a possible repair, one column an evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diaryidx.transcript.repair import likelihood
from diaryidx.transcript.repair.heard import MARKS, SURE_OF_TALK, Heard, Token, ends_sentence
from diaryidx.transcript.repair.terms import KINDS, Target

TRADE_SHARE = 2e-4  # how often a word of the trade is said in a workshop at least: common practice, no source
#: What stands before a stretch. Names of bikes follow "the", firms follow "from", people stand alone.
BEFORE = {
    "determiner": ("the", "this", "that", "his", "her", "their", "our", "your", "my", "a", "an", "old"),
    "source": ("from", "by", "with", "at"),
    "place": ("on", "of", "for", "to", "in", "off"),
    "link": ("and", "or", "but", "so", "because", "that's", "it's", "is", "as"),
}
#: What stands behind it. People want and ask, bikes have and need.
BEHIND = {
    "wish": ("wants", "asked", "would", "reckons", "says", "said", "thinks", "likes", "told", "made", "did", "does"),
    "state": (
        "is",
        "has",
        "was",
        "had",
        "needs",
        "came",
        "will",
        "still",
        "gets",
        "got",
        "can",
        "have",
        "are",
        "needed",
    ),
    "link": ("and", "in", "with", "on", "for", "from", "at", "to", "of", "but", "so", "because", "before", "after"),
}
EVIDENCE = (
    "constant", "cost", "cost_share", "sounds", "unlikely", "unlikely_share", "rarest", "everyday", "words", "doubt",
    "no_doubts", "capital", "prior", "kept", "over_trade", "near", "film", "whole",
    *(f"after {place}" for place in (*BEFORE, "start")), *(f"before {place}" for place in (*BEHIND, "end")),
)  # fmt: skip
_COLUMN = {name: number for number, name in enumerate(EVIDENCE)}
_BEFORE_OF = {word: number for number, words in enumerate(BEFORE.values()) for word in words}
_BEHIND_OF = {word: number for number, words in enumerate(BEHIND.values()) for word in words}
EVERYDAY = 9.0  # negative log likelihood up to which a word is an everyday one ("well", "tomorrow")


@dataclass(frozen=True)
class Possible:
    """Possible repairs of one sentence, as arrays of one length.

    ``first`` and ``last`` are tokens (``last`` included), ``target`` a place in the targets, ``row`` which of its
    pronunciations is meant, ``sounds`` how many sounds that has. ``kept`` counts words of the term that were heard
    right, ``open`` the sounds of its other words: only those tell it from its neighbours.
    """

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    target: NDArray[np.intp]
    row: NDArray[np.intp]
    sounds: NDArray[np.intp]
    kept: NDArray[np.intp]
    open: NDArray[np.intp]

    def __len__(self) -> int:
        return len(self.first)

    def only(self, which: NDArray[np.bool_] | NDArray[np.intp]) -> Possible:
        """Some of them."""
        return Possible(*(getattr(self, field.name)[which] for field in fields(self)))


@dataclass(frozen=True)
class TargetTable:
    """What is needed of all targets, as arrays in their order; ``canonical`` numbers the names in ``names``."""

    prior: NDArray[np.float64]
    shop: NDArray[np.bool_]
    kind: NDArray[np.intp]
    after_title: NDArray[np.bool_]
    canonical: NDArray[np.intp]
    names: tuple[str, ...]
    with_word: dict[str, NDArray[np.intp]]


def target_table(targets: Sequence[Target]) -> TargetTable:
    """The targets as arrays."""
    with_word: dict[str, list[int]] = {}
    for place, target in enumerate(targets):
        for word in set(target.phrase.split()):
            with_word.setdefault(word, []).append(place)
    names = sorted({target.canonical for target in targets})
    number = {name: place for place, name in enumerate(names)}
    return TargetTable(
        prior=np.array([target.prior for target in targets]),
        shop=np.array([target.shop for target in targets], bool),
        kind=np.array([KINDS.index(target.kind) for target in targets], np.intp),
        after_title=np.array([target.after_title for target in targets], bool),
        canonical=np.array([number[target.canonical] for target in targets], np.intp),
        names=tuple(names),
        with_word={word: np.array(places, np.intp) for word, places in with_word.items()},
    )


def weigh(
    table: TargetTable, heard: Heard, possible: Possible, trade_words: frozenset[str], around: float
) -> NDArray[np.float64]:
    """The evidence for each possible repair, all but how alike it sounds (``add_cost``).

    Arguments:
        trade_words: single words of the vocabulary.
        around: log odds, from the sentence and those around it, that this is talk of the workshop.
    Returns: one row a possible repair, columns as in ``EVIDENCE``.
    """
    tokens, first, last = heard.tokens, possible.first, possible.last
    words = _per_word(tokens, trade_words)
    sums = np.concatenate([np.zeros((1, words.shape[1])), np.cumsum(words, axis=0)])
    inside = sums[last + 1] - sums[first]
    follows = np.array([_follow(tokens, place) for place in range(len(tokens))])
    trade = np.concatenate([[0], np.cumsum(heard.trade)])
    trade_inside = trade[last + 1] - trade[first]
    matrix = np.zeros((len(first), len(EVIDENCE)))

    def put(name: str, values: NDArray[Any] | float) -> None:
        matrix[:, _COLUMN[name]] = values

    unlikely = inside[:, 0] - follows[last]
    put("constant", 1.0)
    put("sounds", np.log(possible.open))
    put("unlikely", unlikely)
    put("unlikely_share", unlikely / possible.sounds)
    rarest = most_of(np.where(heard.trade, 0.0, words[:, 1]), first, last)
    put("rarest", rarest)
    put("everyday", np.maximum(EVERYDAY - rarest, 0.0))
    put("words", last - first + 1)
    put("doubt", inside[:, 2])
    put("no_doubts", float(tokens[0].certainty is None))
    put("capital", inside[:, 3] > 0)
    put("prior", table.prior[possible.target])
    put("kept", possible.kept)
    put("over_trade", trade_inside > 0)
    put("near", np.minimum(trade[-1] - trade_inside, 3))
    put("film", min(max(around, -SURE_OF_TALK), SURE_OF_TALK))
    put("whole", (first == 0) & (last == len(tokens) - 1))
    every = np.arange(len(first))
    before, behind = _neighbours(tokens)
    for base, places in ((_COLUMN["after determiner"], before[first]), (_COLUMN["before wish"], behind[last])):
        known = places >= 0
        matrix[every[known], base + places[known]] = 1.0
    return matrix


def log_odds(
    table: TargetTable, possible: Possible, matrix: NDArray[np.float64], weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The log odds of each possible repair.

    Arguments:
        weights: one row a kind of term (``KINDS``), columns as in ``EVIDENCE``.
    """
    odds: NDArray[np.float64] = (matrix * weights[table.kind[possible.target]]).sum(axis=1)
    return odds


def add_cost(matrix: NDArray[np.float64], possible: Possible, cost: NDArray[Any]) -> None:
    """Fill in how unlike the terms the stretches sound."""
    matrix[:, _COLUMN["cost"]] = cost
    matrix[:, _COLUMN["cost_share"]] = cost / possible.open


def dearest(
    table: TargetTable, possible: Possible, odds: NDArray[np.float64], weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The cost up to which each possible repair still has log odds above 0, given those at no cost."""
    mine = weights[table.kind[possible.target]]
    price = -(mine[:, _COLUMN["cost"]] + mine[:, _COLUMN["cost_share"]] / possible.open)
    return odds / np.maximum(price, 1e-6)


def kept_words(
    table: TargetTable,
    tokens: Sequence[Token],
    first: NDArray[np.intp],
    last: NDArray[np.intp],
    target: NDArray[np.intp],
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """How many words of each target stand in its stretch as they are, and how many sounds they have."""
    kept, sounds = np.zeros(len(first), np.intp), np.zeros(len(first), np.intp)
    for place, token in enumerate(tokens):
        targets = table.with_word.get(token.word)
        if targets is not None:
            inside = np.flatnonzero((first <= place) & (last >= place))
            inside = inside[np.isin(target[inside], targets)]
            kept[inside] += 1
            sounds[inside] += len(token.sounds)
    return kept, sounds


def most_of(values: NDArray[np.float64], first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.float64]:
    """The largest value of each stretch."""
    most = values[first].copy()
    for step in range(1, int((last - first).max(initial=0)) + 1):
        inside = first + step <= last
        most[inside] = np.maximum(most[inside], values[first[inside] + step])
    return most


def _per_word(tokens: Sequence[Token], trade_words: frozenset[str]) -> NDArray[np.float64]:
    """Per token: how unlikely it is behind the one before, how rare by itself, how much the engine doubts it, and
    whether the engine wrote it with a capital within a sentence."""
    rows = []
    for place, token in enumerate(tokens):
        before = tokens[place - 1] if place else None
        at_least = TRADE_SHARE if token.word in trade_words else 0.0
        alone = -log(max(likelihood.word_likelihood(token.word), at_least))
        unlikely = -likelihood.log_likelihood(token.word, before.word if before else None, at_least)
        inside = before is not None and not ends_sentence(before) and token.word[:2] not in ("i", "i'")
        capital = inside and token.written.lstrip(MARKS)[:1].isupper()
        rows.append((unlikely, alone, _doubt(token.certainty), float(capital)))
    return np.array(rows)


def _follow(tokens: Sequence[Token], place: int) -> float:
    """What a word that often follows this one says for it; a rare one says nothing against it."""
    if place + 1 == len(tokens):
        return 0.0
    behind = likelihood.log_likelihood(tokens[place + 1].word, tokens[place].word)
    return max(behind - likelihood.log_likelihood(tokens[place + 1].word, None), 0.0)


def _doubt(certainty: float | None) -> float:
    """How much an engine's certainty speaks against a word: log odds of its being wrong, 0 where it gives none."""
    if certainty is None:
        return 0.0
    kept = min(max(certainty, 0.05), 0.98)
    return log((1 - kept) / kept)


def _neighbours(tokens: Sequence[Token]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Per token, what stands before it and what behind, as places among the columns; -1 for anything else."""
    size = len(tokens)
    before = [len(BEFORE), *(_BEFORE_OF.get(token.word, -1) for token in tokens[:-1])]
    behind = [*(_BEHIND_OF.get(token.word, -1) for token in tokens[1:]), len(BEHIND)]
    for place, token in enumerate(tokens):
        if ends_sentence(token):
            behind[place] = len(BEHIND)
            if place + 1 < size:
                before[place + 1] = len(BEFORE)
    return np.array(before, np.intp), np.array(behind, np.intp)
