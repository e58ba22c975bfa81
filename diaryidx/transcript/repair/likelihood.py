"""How likely words are in everyday English: counts of words and of pairs of words.

The counts are those that come with the package symspellpy (MIT): 82,765 words and 242,342 pairs of words of the Google
Books n-grams, kept where a spelling list has the word. Contractions have no true counts there.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib import resources
from math import log

TOKENS = 1_024_908_267_229.0  # words counted, of which the package's counts are a part (its own figure)
UNKNOWN = 1e-9  # a word that the counts lack
CONTRACTION = 2e-4  # "it's", "don't": common practice, no source
PAIR_SHARE = 0.6  # weight of the pair's likelihood against the word's own: common practice, no source


@cache
def _words() -> dict[str, float]:
    rows = (line.rpartition(" ") for line in _lines("frequency_dictionary_en_82_765.txt"))
    return {word: float(count) / TOKENS for word, _, count in rows}


@cache
def _pairs() -> dict[str, str]:
    rows = (line.rpartition(" ") for line in _lines("frequency_bigramdictionary_en_243_342.txt"))
    return {pair: count for pair, _, count in rows}


def _lines(name: str) -> list[str]:
    return (resources.files("symspellpy") / name).read_text(encoding="utf-8-sig").splitlines()


def word_likelihood(word: str) -> float:
    """The share of this lower-case word among all words."""
    if "'" in word:
        return CONTRACTION
    return _words().get(word, UNKNOWN)


def pair_likelihood(before: str, word: str) -> float:
    """The share of these two lower-case words, side by side, among all pairs."""
    return float(_pairs().get(f"{before} {word}", 0)) / TOKENS


def log_likelihood(word: str, before: str | None, at_least: float = 0.0) -> float:
    """The natural logarithm of how likely a word is behind another.

    Arguments:
        word: lower-case.
        before: the word before it, or None at the start.
        at_least: the share that the word has at least (of trade words, in a workshop).
    """
    alone = max(word_likelihood(word), at_least)
    if before is None:
        return log(alone)
    pair = pair_likelihood(before, word)
    behind = pair / max(word_likelihood(before), pair, 1e-12)
    return log(PAIR_SHARE * behind + (1 - PAIR_SHARE) * alone)


def warm() -> None:
    """Read the counts now."""
    _words()
    _pairs()


def rarest(words: Sequence[str]) -> float:
    """The share of the rarest of these words."""
    return min((word_likelihood(word) for word in words), default=UNKNOWN)
