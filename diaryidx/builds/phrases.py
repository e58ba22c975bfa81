"""Phrases of words.yaml, found in rows of words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

from diaryidx.builds.word_lists import word_list
from diaryidx.vocabulary.spoken_words import spoken_key


def find_phrases(name: str, words: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Where phrases of a list stand among words (cut as by `split_words`), the longest at each place: start and end."""
    table = _by_first_word(name)
    for start, word in enumerate(words):
        for phrase in table.get(word, ()):
            if tuple(words[start : start + len(phrase)]) == phrase:
                yield start, start + len(phrase)
                break


@cache
def _by_first_word(name: str) -> dict[str, list[tuple[str, ...]]]:
    table: dict[str, list[tuple[str, ...]]] = {}
    for phrase in sorted((tuple(spoken_key(text).split()) for text in word_list(name)), key=len, reverse=True):
        table.setdefault(phrase[0], []).append(phrase)
    return table
