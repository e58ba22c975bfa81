"""Reading the cue files: braces opened, words cut as everywhere, one table of phrase to kinds."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from diaryidx.vocabulary.loader import Vocabulary, shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key

_CHOICE = re.compile(r"\{([^{}]*)\}")


def opened(pattern: str) -> Iterator[str]:
    """Every phrase that a pattern with braces stands for: "in {hand|progress}" is two."""
    match = _CHOICE.search(pattern)
    if match is None:
        yield pattern
        return
    for choice in match.group(1).split("|"):
        yield from opened(pattern[: match.start()] + choice + pattern[match.end() :])


@cache
def _opened_cues() -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((kind, tuple(entry["say"])) for kind, entry in shipped_data("cues.yaml").items())


def cue_phrases(vocabulary: Vocabulary) -> dict[str, tuple[str, ...]]:
    """Phrase to the kinds of cue that it is. ``{PERSON}`` and ``{SUPPLIER}`` stand for the vocabulary's own.

    Arguments:
        vocabulary: for the names of people and suppliers.
    Returns: lower-case phrase (words with single spaces) to kinds.
    """
    names = {
        label: "|".join(dict.fromkeys(phrase for term in vocabulary.terms if term.label == label and term.sort not in ("customer", "other") for phrase in term.variants))
        for label in ("PERSON", "SUPPLIER")
    }
    table: dict[str, list[str]] = {}
    for kind, patterns in _opened_cues():
        for pattern in patterns:
            for label, choices in names.items():
                pattern = pattern.replace("{" + label + "}", "{" + choices + "}")
            for phrase in opened(pattern):
                kinds = table.setdefault(spoken_key(phrase), [])
                if kind not in kinds:
                    kinds.append(kind)
    table.pop("", None)
    return {phrase: tuple(kinds) for phrase, kinds in table.items()}


def reach(kind: str) -> str:
    """How far a kind of cue reaches: clause, forward, sentence or none."""
    return str(shipped_data("cues.yaml")[kind]["reach"])
