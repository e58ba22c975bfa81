"""Term repair by sound: the step from what was heard to what is meant.

A stretch of heard words is taken for a misheard term where that explains it better than the words themselves do: the
noisy-channel view (M. D. Kernighan, K. W. Church and W. A. Gale, "A Spelling Correction Program Based on a Noisy
Channel Model", COLING 1990), over sounds in place of letters. ``evidence.py`` says what speaks for and against;
``weights.yaml`` how much each counts (a logistic regression, learnt by ``tests/bench/fit_repair.py``). Terms that would
explain the same stretch share its odds. Of all repairs of a sentence the best set without overlaps is taken.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from diaryidx.records import Repair, Sentence
from diaryidx.transcript.repair import likelihood
from diaryidx.transcript.repair.confusions import hearing_costs
from diaryidx.transcript.repair.evidence import (
    EVIDENCE,
    Possible,
    TargetTable,
    add_cost,
    dearest,
    kept_words,
    log_odds,
    most_of,
    target_table,
    weigh,
)
from diaryidx.transcript.repair.heard import MARKS, Heard, ends_sentence, listen, workshop_odds
from diaryidx.transcript.repair.index import DRIFT, Index, build_index, candidates, worth_comparing
from diaryidx.transcript.repair.pronouncing import Sounds, data, read_own
from diaryidx.transcript.repair.terms import TITLES, Target, said, targets
from diaryidx.vocabulary.loader import Vocabulary

COST_A_SOUND = 2.4  # a candidate that costs more for each of its sounds is not looked at any further
DEAREST = 40.0
LEAST_LEFT = 0.5  # of a term's sounds that were not heard right, something must have been heard of at least this share
SUREST = 0.99  # only a person is surer
COMMONEST = 1.8e-4  # share from which on a word ("well") or two side by side ("when he") are never a misheard name
LEAST_GRAMMAR = 0.8  # the same where that is just grammar: beside "exhaust", "the" mostly stands for itself
JUST_GRAMMAR = 7.5  # negative log likelihood up to which a word is
LONGEST_KNOWN = 6  # words of a known term
RIVALRY = 2.0  # log odds below the threshold at which a rival still counts


@dataclass(frozen=True)
class Repairer:
    """All that is needed to repair sentences of one shop; see ``build_repairer``."""

    vocabulary: Vocabulary
    targets: tuple[Target, ...]
    table: TargetTable
    target_of: NDArray[np.intp]
    index: Index
    own: dict[str, Sounds]
    trade_words: frozenset[str]
    weights: NDArray[np.float64]
    threshold: float


@dataclass(frozen=True, slots=True)
class Proposal:
    """A repair that may be made: tokens ``start`` to ``end``, what is meant, and its log odds."""

    start: int
    end: int
    target: Target
    odds: float


def build_repairer(vocabulary: Vocabulary) -> Repairer:
    """Make ready to repair the sentences of a shop; once for each run.

    Arguments:
        vocabulary: the shop's, loaded with its job book; ``pronounce`` outranks the dictionary.
    Raises: VocabularyError where ``pronounce`` holds what is no phoneme.
    """
    likelihood.warm()
    own = read_own(vocabulary.pronounce)
    found = targets(vocabulary)
    ways = list(said(found, own))
    weights = data("weights.yaml")
    return Repairer(
        vocabulary=vocabulary,
        targets=tuple(found),
        table=target_table(found),
        target_of=np.array([place for place, _ in ways], np.intp),
        index=build_index([sounds for _, sounds in ways]),
        own=own,
        trade_words=frozenset(word for phrase in vocabulary.phrases for word in phrase.split()),
        weights=np.array([weights["evidence"][name] for name in EVIDENCE], np.float64).T,
        threshold=float(weights["threshold"]),
    )


def repair(repairer: Repairer, film: Sequence[Sentence], only: Container[int] | None = None) -> tuple[Sentence, ...]:
    """Repair the sentences of a film.

    Arguments:
        film: its sentences in order. A ``text`` may already hold exact corrections; they are kept as they are.
        only: places of the sentences to be repaired; None means all. Those up to ``heard.WINDOW`` before and after a
            sentence have a say in what becomes of it.
    Returns: the sentences, those that need it with ``text`` repaired and a Repair for each repair added.
    """
    heard = [listen(repairer.vocabulary, repairer.own, sentence) for sentence in film]
    repaired = list(film)
    for place, odds in enumerate(workshop_odds(heard).tolist()):
        if only is None or place in only:
            chosen = _best_set(proposals(repairer, heard[place], odds), repairer.threshold)
            repaired[place] = _apply(film[place], heard[place], chosen)
    return tuple(repaired)


def proposals(repairer: Repairer, heard: Heard, around: float) -> list[Proposal]:
    """Repairs that may be made of a sentence, with their odds.

    Arguments:
        around: log odds that this is talk of the workshop.
    """
    possible = find_possible(repairer, heard)
    if not len(possible):
        return []
    table, weights = repairer.table, repairer.weights
    matrix = weigh(table, heard, possible, repairer.trade_words, around)
    free = log_odds(table, possible, matrix, weights) - min(repairer.threshold - RIVALRY, 0.0)
    hopeful = np.flatnonzero(free > 0)
    possible, matrix = possible.only(hopeful), matrix[hopeful]
    most = dearest(table, possible, free[hopeful], weights)
    possible, matrix = compared(repairer, heard, possible, matrix, most)
    odds = shared(repairer, possible, log_odds(table, possible, matrix, weights))
    return [
        Proposal(
            int(possible.first[one]), int(possible.last[one]) + 1, repairer.targets[possible.target[one]], odds[one]
        )
        for one in np.flatnonzero(odds > repairer.threshold)
    ]


def compared(
    repairer: Repairer, heard: Heard, possible: Possible, matrix: NDArray[np.float64], most: NDArray[np.float64]
) -> tuple[Possible, NDArray[np.float64]]:
    """Those that sound alike enough, each with its best pronunciation, their evidence complete.

    Arguments:
        most: the cost from which on each is of no interest.
    """
    if not len(possible):
        return possible, matrix
    begins = heard.begins[possible.first]
    heard_lengths = heard.ends[possible.last] - begins
    reach = np.minimum(begins[:, None] + np.arange(int(heard_lengths.max())), len(heard.sounds) - 1)
    most = np.minimum(most, np.minimum(COST_A_SOUND * possible.sounds, DEAREST))
    meant = repairer.index.sounds[possible.row, : int(possible.sounds.max())]
    costs = hearing_costs(meant, possible.sounds, heard.sounds[reach], heard_lengths, most)
    near = np.flatnonzero(np.isfinite(costs))
    near = near[np.argsort(costs[near], kind="stable")]
    keys = (possible.first * len(heard.tokens) + possible.last) * len(repairer.targets) + possible.target
    _, best = np.unique(keys[near], return_index=True)
    near = near[best]
    possible, matrix = possible.only(near), matrix[near]
    add_cost(matrix, possible, costs[near])
    return possible, matrix


def shared(repairer: Repairer, possible: Possible, odds: NDArray[np.float64]) -> NDArray[np.float64]:
    """The odds of each possible repair once other terms for any of the same words have taken their share."""
    chances = np.exp(np.clip(odds, -30.0, 30.0))
    name = repairer.table.canonical[possible.target]
    left = odds.copy()
    for place in np.flatnonzero(odds > repairer.threshold):
        rivals = (possible.first <= possible.last[place]) & (possible.last >= possible.first[place])
        rivals &= name != name[place]
        best: dict[int, float] = {}
        for one in np.flatnonzero(rivals):
            best[name[one]] = max(best.get(name[one], 0.0), chances[one])
        left[place] -= np.log1p(sum(best.values()))
    return left


def _apply(sentence: Sentence, heard: Heard, chosen: Sequence[Proposal]) -> Sentence:
    if not chosen:
        return sentence
    pieces, made, place = [], list(sentence.repairs), 0
    for one in chosen:
        written = [token.written for token in heard.tokens[one.start : one.end]]
        pieces += [token.written for token in heard.tokens[place : one.start]]
        pieces.append(_with_marks(written, one.target.meant))
        made.append(
            Repair(" ".join(written).strip(MARKS), one.target.meant, min(round(1 / (1 + exp(-one.odds)), 3), SUREST))
        )
        place = one.end
    pieces += [token.written for token in heard.tokens[place:]]
    return replace(sentence, text=" ".join(pieces), repairs=tuple(made))


def _with_marks(heard: Sequence[str], meant: str) -> str:
    """The term with the marks that stood before the first and behind the last heard word."""
    first, last = heard[0], heard[-1]
    before = first[: len(first) - len(first.lstrip(MARKS))]
    behind = last[len(last.rstrip(MARKS)) :]
    return before + meant + behind


# --- what may be meant -----------------------------------------------------------------------------------------------


def find_possible(repairer: Repairer, heard: Heard) -> Possible:
    """Stretches of whole words, and the targets that hold about the same sounds."""
    index, tokens, sounds, begins, ends = repairer.index, heard.tokens, heard.sounds, heard.begins, heard.ends
    if len(sounds) < 2 or not len(index.lengths):
        return Possible(*(np.zeros(0, np.intp) for _ in range(7)))
    rows, places = candidates(index, sounds)
    wanted = index.lengths[rows]
    which, first = _within(begins, places, np.full(len(places), DRIFT + 1))
    slack = np.maximum(2, wanted[which] // 3)
    pair, last = _within(ends, begins[first] + wanted[which], slack)
    first, row = first[pair], rows[which[pair]]
    fits = _allowed(repairer, heard)[first, last]
    fits &= ~repairer.table.after_title[repairer.target_of[row]] | _behind_title(heard)[first]
    keys = np.unique((row[fits] * len(tokens) + first[fits]) * len(tokens) + last[fits])
    row, first, last = keys // len(tokens) ** 2, keys // len(tokens) % len(tokens), keys % len(tokens)
    alike = worth_comparing(index, sounds, row, begins[first], ends[last])
    row, first, last = row[alike], first[alike], last[alike]
    target, wanted = repairer.target_of[row], index.lengths[row]
    kept, kept_sounds = kept_words(repairer.table, tokens, first, last, target)
    missing = np.maximum(wanted - kept_sounds, 1)
    possible = Possible(first, last, target, row, wanted, kept, missing)
    rarest = most_of(np.where(heard.trade, 0.0, heard.rarity), first, last)
    for one in np.flatnonzero(kept):
        rarest[one] = _rarest_open(repairer, heard, int(first[one]), int(last[one]), int(target[one]))
    least = np.where((kept == 0) | (rarest > JUST_GRAMMAR), LEAST_LEFT, LEAST_GRAMMAR)
    fits = ends[last] - begins[first] - kept_sounds >= least * missing
    return possible.only(fits)


def _within(
    places: NDArray[np.intp], wanted: NDArray[np.intp], slack: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Which wanted places lie within their slack of which of some ascending places: two arrays of numbers."""
    first = np.searchsorted(places, wanted - slack)
    counts = np.searchsorted(places, wanted + slack, side="right") - first
    which = np.repeat(np.arange(len(wanted)), counts)
    return which, np.arange(len(which)) + np.repeat(first - (np.cumsum(counts) - counts), counts)


def _rarest_open(repairer: Repairer, heard: Heard, first: int, last: int, target: int) -> float:
    """The rarity of the rarest word of a stretch that is no word of the term."""
    words = set(repairer.targets[target].phrase.split())
    stretch = range(first, last + 1)
    return max((float(heard.rarity[place]) for place in stretch if heard.tokens[place].word not in words), default=0.0)


def _allowed(repairer: Repairer, heard: Heard) -> NDArray[np.bool_]:
    """From which token to which a repair may reach: not over closed ones, ends of sentences, nor just a known term."""
    size = len(heard.tokens)
    barred = np.concatenate([[0], np.cumsum(_barriers(heard))])
    places = np.arange(size)
    allowed: NDArray[np.bool_] = barred[2 * places[None, :] + 1] == barred[2 * places[:, None]]
    allowed &= places[None, :] >= places[:, None]
    words = [token.word for token in heard.tokens]
    allowed[places, places] &= heard.rarity > -log(COMMONEST)
    for first in range(size):
        if first + 1 < size:
            allowed[first, first + 1] &= likelihood.pair_likelihood(words[first], words[first + 1]) < COMMONEST
        if words[first].removesuffix("s") in repairer.trade_words or words[first] in repairer.trade_words:
            for last in range(first, min(first + LONGEST_KNOWN, size)):
                allowed[first, last] &= not _is_known(repairer.vocabulary, " ".join(words[first : last + 1]))
    return allowed


def _is_known(vocabulary: Vocabulary, phrase: str) -> bool:
    """Whether this is a term as it stands, or more or fewer than one of it."""
    return (
        phrase in vocabulary.phrases
        or phrase.removesuffix("s") in vocabulary.phrases
        or phrase + "s" in vocabulary.phrases
    )


def _behind_title(heard: Heard) -> NDArray[np.bool_]:
    return np.array([False, *(token.word in TITLES for token in heard.tokens[:-1])], bool)


def _barriers(heard: Heard) -> list[int]:
    """Twice as many as tokens: 1 at a token that no repair may hold, then 1 where a sentence ends behind it."""
    found = []
    for token, is_closed in zip(heard.tokens, heard.closed.tolist(), strict=True):
        found += [int(is_closed), int(ends_sentence(token))]
    return found


# --- the best set ----------------------------------------------------------------------------------------------------


def _best_set(found: Sequence[Proposal], threshold: float) -> list[Proposal]:
    """The set without overlaps whose gains add up to the most (weighted interval scheduling), in order."""
    order = sorted(found, key=lambda one: one.end)
    best: list[tuple[float, list[Proposal]]] = [(0.0, [])]
    for done, one in enumerate(order):
        free = max(place for place in range(done + 1) if place == 0 or order[place - 1].end <= one.start)
        total, chosen = best[free]
        best.append(max(best[done], (total + one.odds - threshold, [*chosen, one]), key=lambda option: option[0]))
    return best[-1][1]
