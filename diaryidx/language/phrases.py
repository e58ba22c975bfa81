"""Reading the cue files: braces opened, words cut as everywhere, one table of phrase to kinds."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from diaryidx.vocabulary.loader import Vocabulary, shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key

if TYPE_CHECKING:
    from spacy.vocab import Vocab

Cues = Mapping[str, Mapping[str, Any]]  # kind to {"reach": ..., "say": [phrases]}
_CHOICE = re.compile(r"\{([^{}]*)\}")


def opened(pattern: str, names: Mapping[str, Sequence[str]] | None = None) -> Iterator[str]:
    """Every phrase that a pattern with braces stands for: "in {hand|progress}" is two.

    Arguments:
        pattern: with choices in braces; a brace that holds a key of ``names`` stands for those.
        names: names that a brace may stand for; none of them makes none of the phrase.
    """
    match = _CHOICE.search(pattern)
    if match is None:
        yield pattern
        return
    choices = (names or {}).get(match.group(1), match.group(1).split("|"))
    for choice in choices:
        yield from opened(pattern[: match.start()] + choice + pattern[match.end() :], names)


def _names(vocabulary: Vocabulary, label: str) -> list[str]:
    """How those are called at whose place parts may be: no customers, no owners before."""
    elsewhere = [term for term in vocabulary.terms if term.label == label and term.sort not in ("customer", "other")]
    return list(dict.fromkeys(phrase for term in elsewhere for phrase in term.variants))


def shipped_cues() -> Cues:
    """The cues of ``cues.yaml``."""
    return shipped_data("cues.yaml")


def cue_phrases(vocabulary: Vocabulary, cues: Cues) -> dict[str, tuple[str, ...]]:
    """Phrase to the kinds of cue that it is. ``{PERSON}`` and ``{SUPPLIER}`` stand for the vocabulary's own.

    Arguments:
        vocabulary: for the names of people and suppliers.
        cues: kind to its reach and phrases, as in ``cues.yaml``.
    Returns: lower-case phrase (words with single spaces) to kinds.
    """
    names = {label: _names(vocabulary, label) for label in ("PERSON", "SUPPLIER")}
    table: dict[str, list[str]] = {}
    for kind, entry in cues.items():
        for pattern in entry["say"]:
            for phrase in opened(pattern, names):
                kinds = table.setdefault(spoken_key(phrase), [])
                if kind not in kinds:
                    kinds.append(kind)
    table.pop("", None)
    return {phrase: tuple(kinds) for phrase, kinds in table.items()}


def as_patterns(vocab: Vocab, phrases: Iterable[str]) -> Any:
    """Phrases (words with single spaces) as a PhraseMatcher over ORTH keeps them: the numbers of their words.

    Its own unpickling adds them so; a Doc for each of tens of thousands of phrases takes most of the start-up.
    """
    number = vocab.strings.add
    return [[number(word) for word in phrase.split(" ")] for phrase in phrases]
