"""Which vocabulary a pipeline was built with: spaCy's configs hold plain values only, so components ask here."""

from __future__ import annotations

from weakref import WeakKeyDictionary

from spacy.language import Language

from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary

_VOCABULARIES: WeakKeyDictionary[Language, Vocabulary] = WeakKeyDictionary()


def set_vocabulary(nlp: Language, vocabulary: Vocabulary) -> None:
    """Remember the vocabulary that this pipeline's components are to use."""
    _VOCABULARIES[nlp] = vocabulary


def vocabulary_of(nlp: Language) -> Vocabulary:
    """The vocabulary of this pipeline; the shipped words alone where none was set."""
    if nlp not in _VOCABULARIES:
        _VOCABULARIES[nlp] = load_vocabulary()
    return _VOCABULARIES[nlp]
