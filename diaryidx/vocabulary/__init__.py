"""The words of the trade and of the shop: shipped YAML, the shop's own words.yaml, and the names in its job book.

Importing this room loads neither spaCy nor vosk, so that the site can use it.
"""

from __future__ import annotations

from diaryidx.vocabulary.cautions import cautions_for
from diaryidx.vocabulary.loader import (
    STARTER_WORDS,
    Term,
    Vocabulary,
    find_terms,
    load_vocabulary,
)

__all__ = ["STARTER_WORDS", "Term", "Vocabulary", "cautions_for", "find_terms", "load_vocabulary"]
