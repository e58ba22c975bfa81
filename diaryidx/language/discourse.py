"""Phrases that build up a film (``cues/discourse.yaml``): where they stand in a text, as words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from diaryidx.language.phrases import opened
from diaryidx.vocabulary.loader import shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key


@dataclass(frozen=True)
class Phrases:
    """A set of phrases that can be looked for in a row of words."""

    by_first: dict[str, tuple[tuple[str, ...], ...]]

    def at(self, words: Sequence[str], place: int) -> int:
        """The length in words of the longest phrase that begins here; 0 for none."""
        for phrase in self.by_first.get(words[place], ()):
            if tuple(words[place : place + len(phrase)]) == phrase:
                return len(phrase)
        return 0

    def find(self, words: Sequence[str], start: int = 0) -> tuple[int, int] | None:
        """The first phrase from here on: its start and end as words, or None."""
        for place in range(start, len(words)):
            if words[place] in self.by_first:
                length = self.at(words, place)
                if length:
                    return place, place + length
        return None

    def within(self, words: Sequence[str]) -> bool:
        """Whether any of the phrases occurs."""
        return self.find(words) is not None


def _phrases(patterns: Sequence[str]) -> Phrases:
    table: dict[str, set[tuple[str, ...]]] = {}
    for pattern in patterns:
        for phrase in opened(pattern):
            words = tuple(spoken_key(phrase).split())
            if words:
                table.setdefault(words[0], set()).add(words)
    return Phrases({first: tuple(sorted(phrases, key=lambda one: -len(one))) for first, phrases in table.items()})


@cache
def phrases(name: str) -> Phrases:
    """The phrases under this name in ``discourse.yaml``."""
    return _phrases(shipped_data("discourse.yaml")[name])


@cache
def phrases_of(file: str, name: str) -> Phrases:
    """The phrases under this name in another cue file."""
    return _phrases(shipped_data(file)[name])


@cache
def kind_phrases() -> dict[str, Phrases]:
    """For each kind of film the phrases that speak for it."""
    return {kind: _phrases(patterns) for kind, patterns in shipped_data("discourse.yaml")["kinds"].items()}


@cache
def words_of(name: str) -> frozenset[str]:
    """A plain list of words in ``discourse.yaml``."""
    return frozenset(shipped_data("discourse.yaml")[name])


def after_fillers(words: Sequence[str]) -> int:
    """The place of the first word that is no filler ("so", "right", "and")."""
    fillers = words_of("fillers")
    place = 0
    while place < len(words) and words[place] in fillers:
        place += 1
    return place


def opens_with(name: str, words: Sequence[str]) -> bool:
    """Whether a sentence begins with one of the phrases, fillers passed over (or being part of the phrase)."""
    table = phrases(name)
    last = min(after_fillers(words), len(words) - 1)
    return any(table.at(words, place) for place in range(last + 1))
