"""The rule-based spaCy pipeline: a blank English pipeline and components of our own, one module each.

term_matcher          parts, tasks, finishes, sides, people, names        doc._.terms
measures              prices, dates, measures, quantities                 doc._.measures
cue_matcher           cues of status, speaker, certainty                  doc._.cues
clause_splitter       clauses and their verb groups                       doc._.items, doc._.clauses
scopes                which cue reaches which clause                      doc._.clauses
statement_assembler   what is said of what, and how far it is             doc._.statements
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from diaryidx.vocabulary.loader import Vocabulary

if TYPE_CHECKING:
    from spacy.language import Language

COMPONENTS = ("term_matcher", "measures", "cue_matcher", "clause_splitter", "scopes", "statement_assembler")


def build_pipeline(vocabulary: Vocabulary) -> Language:
    """Build the pipeline for a shop's vocabulary. spaCy is imported here and not before.

    Arguments:
        vocabulary: the loaded vocabulary.
    Returns: the spaCy pipeline; print ``nlp.pipe_names`` to see its components.
    """
    import spacy
    from spacy.tokens import Doc

    from diaryidx.language import (  # noqa: F401  (importing registers the factories)
        clause_splitter,
        cue_matcher,
        measures,
        scopes,
        statement_assembler,
        term_matcher,
    )
    from diaryidx.language.shop_vocabulary import set_vocabulary
    from diaryidx.language.spoken_tokenizer import TOKENIZER

    for name in ("terms", "measures", "cues", "items", "clauses", "statements"):
        if not Doc.has_extension(name):
            Doc.set_extension(name, default=[])
    nlp = spacy.blank("en", config=TOKENIZER)
    set_vocabulary(nlp, vocabulary)
    for name in COMPONENTS:
        nlp.add_pipe(name)
    return nlp
