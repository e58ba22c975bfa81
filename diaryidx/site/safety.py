"""Which cautions a page carries: by the parts and tasks that were noted, and by all that the words themselves name."""

from __future__ import annotations

from collections.abc import Iterable

from diaryidx.vocabulary.cautions import cautions_for
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms


def cautions_of(vocabulary: Vocabulary, terms: Iterable[str | None], texts: Iterable[str]) -> list[str]:
    """The cautions for named parts and tasks and for whatever is named in texts; a caution too many does no harm."""
    found: list[Term | str] = [term for term in terms if term]
    for text in texts:
        found += [term for _start, _end, term in find_terms(vocabulary, text)]
    return cautions_for(found, vocabulary)
