"""The word lists of these rooms, from words.yaml."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import yaml

_FILE = Path(__file__).with_name("words.yaml")


@cache
def word_list(name: str) -> tuple[str, ...]:
    """One list of words.yaml, in its order."""
    words = _lists()[name]
    return tuple(words.split()) if isinstance(words, str) else tuple(words)


@cache
def word_set(name: str) -> frozenset[str]:
    """One list of words.yaml, to look words up in."""
    return frozenset(word_list(name))


@cache
def _lists() -> dict[str, str | list[str]]:
    lists: dict[str, str | list[str]] = yaml.safe_load(_FILE.read_text(encoding="utf-8"))
    return lists
