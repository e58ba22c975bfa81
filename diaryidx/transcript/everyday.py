"""How common words are in everyday English, alone and side by side.

The counts are those that come with the package symspellpy (MIT): 82,765 words and 242,342 pairs of words of the Google
Books n-grams, kept where a spelling list has the word.
"""

from __future__ import annotations

from functools import cache
from importlib import resources

#: How many words were counted; the package's counts are a part of them (its own figure).
TOKENS = 1_024_908_267_229.0
#: The share of a word that the counts lack, and of contractions, which have no true counts there (common practice, no
#: source).
UNKNOWN, CONTRACTION = 1e-9, 2e-4
#: How much the pair counts and how much the word by itself where the likelihood of a pair is told (our own choice).
_PAIR_SHARE = 0.6


def word_likelihood(word: str) -> float:
    """The share of a lower-case word among all words."""
    return CONTRACTION if "'" in word else _counts("frequency_dictionary_en_82_765.txt").get(word, UNKNOWN)


def pair_likelihood(word: str, behind: str) -> float:
    """The share of two lower-case words side by side among all pairs of words."""
    counted = _counts("frequency_bigramdictionary_en_243_342.txt").get(f"{word} {behind}", 0.0)
    return _PAIR_SHARE * counted + (1 - _PAIR_SHARE) * word_likelihood(word) * word_likelihood(behind)


@cache
def _counts(name: str) -> dict[str, float]:
    lines = (resources.files("symspellpy") / name).read_text(encoding="utf-8-sig").splitlines()
    return {words: float(count) / TOKENS for words, _, count in (line.rpartition(" ") for line in lines)}
