"""The pipeline's tokenizer: words as everywhere else in the product, so that terms, cues and questions agree."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from spacy.tokens import Doc
from spacy.util import registry
from spacy.vocab import Vocab

from diaryidx.vocabulary.spoken_words import split_words

if TYPE_CHECKING:
    from spacy.language import Language

#: To be built with; spaCy's own tokenizer, which would be replaced, takes a seventh of the start-up to build.
TOKENIZER = {"nlp": {"tokenizer": {"@tokenizers": "diaryidx.spoken_tokenizer"}}}


def make_spoken_tokenizer() -> Callable[[Language], SpokenTokenizer]:
    """Build the tokenizer when a pipeline is configured."""
    return lambda nlp: SpokenTokenizer(nlp.vocab)


class SpokenTokenizer:
    """Text to Doc. ``doc.user_data["places"]`` holds each word's start and end as characters of the given text.

    Words are lower-case; the Doc's own text has single spaces, so use ``places`` to quote from the original.
    """

    def __init__(self, vocab: Vocab) -> None:
        self.vocab = vocab

    def __call__(self, text: str) -> Doc:
        """Cut a text into words.

        Arguments:
            text: any text of moderate length (see ``reading.cut``).
        Returns: the Doc.
        """
        words = split_words(text)
        doc = Doc(self.vocab, words=[word for word, _, _ in words])
        doc.user_data["words"] = [word for word, _, _ in words]
        doc.user_data["places"] = [(start, end) for _, start, end in words]
        doc.user_data["original"] = text
        return doc


registry.tokenizers("diaryidx.spoken_tokenizer", func=make_spoken_tokenizer)
