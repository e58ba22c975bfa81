"""What words mean to a person who asks: trade terms, everyday meanings and plain words, as senses that can be compared.

A sense is a string: ``=brake pads`` is a term of the vocabulary, ``~leak`` a line of ``meanings`` in `everyday.yaml`,
anything else the stem of a word. Two texts speak of the same thing where they share senses.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from diaryidx.builds.wishes import stem
from diaryidx.builds.word_lists import word_set
from diaryidx.vocabulary.loader import Vocabulary, find_terms
from diaryidx.vocabulary.spoken_words import SpokenWord, split_words
from diaryidx.vocabulary.yaml_files import read_shipped

_COMPARATIVE = re.compile(r"(?<=[a-z]{3})i(?:er|est)$")
_FILE = Path(__file__).with_name("everyday.yaml")
#: How many words further on the particle of a verb may stand (common practice, no source).
_MOST_APART = 4
#: What stands between sentences that are judged together; no term and no meaning reaches across it.
BETWEEN = " . "
Stems = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PhraseTable:
    """Phrases by their first stem, each with the names it stands for; word endings do not matter."""

    by_first: Mapping[str, Sequence[tuple[Stems, str]]]

    @classmethod
    def of(cls, lists: Mapping[str, Iterable[str]]) -> PhraseTable:
        """The table of named lists of phrases."""
        table: dict[str, list[tuple[Stems, str]]] = {}
        for name, phrases in lists.items():
            for phrase in phrases:
                stems = tuple(all_stems(split_words(str(phrase))))
                table.setdefault(stems[0], []).append((stems, name))
        return cls({first: tuple(sorted(found, key=lambda one: -len(one[0]))) for first, found in table.items()})

    def find(self, stems: Sequence[str]) -> Iterator[tuple[int, int, str]]:
        """Every phrase in a text: first word, word behind it, name; overlapping ones too, the longest first."""
        for start, first in enumerate(stems):
            for phrase, name in self.by_first.get(first, ()):
                if tuple(stems[start : start + len(phrase)]) == phrase:
                    yield start, start + len(phrase), name

    def within(self, stems: Sequence[str]) -> bool:
        """Whether a text has any of the phrases."""
        return next(self.find(stems), None) is not None

    def begins(self, stems: Sequence[str]) -> int:
        """How many words of the longest phrase a text begins with; 0 for none."""
        found = (end for start, end, _ in self.find(stems[:8]) if start == 0)
        return max(found, default=0)


@dataclass(slots=True)
class Reader:
    """Reads texts with one vocabulary; what was read once in answering a question is remembered."""

    vocabulary: Vocabulary
    _read: dict[str, frozenset[str]] = field(default_factory=dict)

    def senses(self, text: str) -> frozenset[str]:
        """All that a text says. The longest term wins, so that a cam chain is no chain.

        Sentences that are joined with ``BETWEEN`` say what each of them says, so that each is read but once.
        """
        parts = text.split(BETWEEN)
        for part in parts:
            if part not in self._read:
                self._read[part] = self._senses(part)
        return self._read[text] if len(parts) == 1 else frozenset().union(*(self._read[part] for part in parts))

    def _senses(self, text: str) -> frozenset[str]:
        words = split_words(text)
        found = {f"={name}" for _, _, names in self.terms(text) for name in names} | self._apart(words)
        stems = all_stems(words)
        said = {f"~{name}" for _, _, name in meanings().find(stems)} | self._phrases_apart(stems)
        return frozenset(found | set(stems) | said)

    def _apart(self, words: Sequence[SpokenWord]) -> set[str]:
        """Tasks whose verb and particle stand apart: "get the scratches out"."""
        return {
            f"={found[0].canonical.lower()}"
            for place, first in enumerate(words)
            for second in words[place + 2 : place + 2 + _MOST_APART]
            if (found := self.vocabulary.apart.get((first.word, second.word)))
        }

    def _phrases_apart(self, stems: Sequence[str]) -> set[str]:
        """Everyday verbs whose particle stands apart: "pull the lead off"."""
        return {
            f"~{name}"
            for place, first in enumerate(stems)
            for phrase, name in meanings().by_first.get(first, ())
            if len(phrase) == 2
            and phrase[1] in everyday_set("particles")
            and phrase[1] in stems[place + 2 : place + 2 + _MOST_APART]
        }

    def terms(self, text: str) -> Iterator[tuple[int, int, tuple[str, ...]]]:
        """First and last character of each term, and its canonical names in lower case: both, where it has two
        readings."""
        for start, end, term in find_terms(self.vocabulary, text):
            second = self.vocabulary.other_readings.get(" ".join(text[start:end].lower().split()))
            yield start, end, tuple(one.canonical.lower() for one in (term, second) if one)


def all_stems(words: Iterable[SpokenWord]) -> list[str]:
    """Every word without its ending; "heavier" is "heavy", words as short as "is" have none."""
    return [stem(_COMPARATIVE.sub("y", one.word)) if len(one.word) > 3 else one.word for one in words]


def says_nothing(word: str) -> bool:
    """Whether a word is one of those that tell no question from another."""
    return len(word) < 2 or word in word_set("empty") or word in nothing() or not word[0].isalnum()


# --- everyday.yaml ---------------------------------------------------------------------------------------------------


@cache
def everyday() -> Mapping[str, Any]:
    """The data of everyday.yaml."""
    return read_shipped(_FILE.read_text(encoding="utf-8"))


@cache
def everyday_set(name: str) -> frozenset[str]:
    """One list of everyday.yaml, to look words up in."""
    return frozenset(everyday()[name])


@cache
def meanings() -> PhraseTable:
    """Phrases of about the same meaning."""
    return PhraseTable.of(everyday()["meanings"])


@cache
def meaning_phrases(name: str) -> tuple[str, ...]:
    """Every phrase of one meaning."""
    return tuple(everyday()["meanings"][name])


@cache
def phrases(name: str) -> PhraseTable:
    """One list of phrases."""
    return PhraseTable.of({name: everyday()[name]})


@cache
def ways_of_asking(part: str) -> PhraseTable:
    """The phrases under ``asks``: "asked", "not_asked" or "says", each named by the way of asking."""
    return PhraseTable.of({name: lists.get(part, ()) for name, lists in everyday()["asks"].items()})


@cache
def nothing() -> frozenset[str]:
    """Words that tell no question from another, besides those of `builds/words.yaml`."""
    return frozenset(everyday()["says_nothing"].split())


@cache
def everyday_stems() -> frozenset[str]:
    """The stems of all words that have an everyday meaning."""
    return frozenset(one for lists in meanings().by_first.values() for stems, _ in lists for one in stems)
