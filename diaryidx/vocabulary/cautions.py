"""The cautions that go with work that can hurt: every answer, history or reply about such parts carries them."""

from __future__ import annotations

from collections.abc import Iterable

from diaryidx.vocabulary.loader import SAFETY_CLASSES, Term, Vocabulary


def cautions_for(terms: Iterable[Term | str], vocabulary: Vocabulary) -> list[str]:
    """Say which cautions belong to these parts and tasks.

    Arguments:
        terms: terms, or canonical names of terms; unknown names are passed over.
        vocabulary: the loaded vocabulary, which holds the texts.
    Returns: the class-specific cautions in the order of ``SAFETY_CLASSES``, then the general ones; empty where no term
        has a safety class. Wording is our own (common practice, no source).
    """
    found: set[str] = set()
    for term in terms:
        for one in [term] if isinstance(term, Term) else vocabulary.by_canonical.get(term.lower(), ()):
            if one.safety:
                found.add(one.safety)
    if not found:
        return []
    texts = [text for name in SAFETY_CLASSES if name in found for text in vocabulary.cautions.get(name, ())]
    return [*texts, *vocabulary.cautions.get("general", ())]
