"""The words of one shop, as what is read from its database is compared by them; loads neither spaCy nor the site."""

from __future__ import annotations

import sqlite3
from functools import lru_cache
from pathlib import Path

from diaryidx.records import Build
from diaryidx.shop import Shop
from diaryidx.store import reading
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary


def vocabulary_of(db: sqlite3.Connection, shop: Shop) -> Vocabulary:
    """The trade's and the shop's words; read again when ``words.yaml``, the job book or what was taught changed."""
    changed = shop.words.stat().st_mtime_ns if shop.words.is_file() else 0
    taught = tuple(reading.taught_words(db).items())
    return _vocabulary(shop.words, changed, tuple(reading.builds(db)), shop.settings.currency, taught)


@lru_cache(maxsize=4)
def _vocabulary(
    words: Path, _changed: int, builds: tuple[Build, ...], currency: str, taught: tuple[tuple[str, str], ...]
) -> Vocabulary:
    return load_vocabulary(words, builds, currency, dict(taught))
