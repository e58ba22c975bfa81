"""How a sentence is understood: its terms, cues, clauses and statements as plain data, for ``diaryidx explain``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from diaryidx.language.reading import cut, mentions_of, read_recording, tell
from diaryidx.records import Mention, Sentence, Statement
from diaryidx.vocabulary.loader import Vocabulary

if TYPE_CHECKING:
    from spacy.language import Language


@dataclass(frozen=True)
class Explanation:
    """What was made of a text.

    ``clauses`` are dicts with text, verb (its kind), subject, negated, inherited and scopes (kind of cue to its words);
    ``cues`` dicts with kind, text, start and end (characters); ``scopes`` the words that each cue reaches, with
    the ``cue`` itself; ``rules`` the names of the rules that fired, in order.
    """

    text: str
    statements: tuple[Statement, ...]
    mentions: tuple[Mention, ...]
    cues: tuple[dict[str, Any], ...]
    scopes: tuple[dict[str, Any], ...]
    clauses: tuple[dict[str, Any], ...]
    rules: tuple[str, ...]
    left_out: int = 0  # characters of the text that were not read


def explain(nlp: Language, text: str, vocabulary: Vocabulary) -> Explanation:
    """Explain how a text is understood, as if it were said in a diary.

    Arguments:
        nlp: from ``build_pipeline`` with the same vocabulary.
        text: a sentence or a few; beyond 4,000 characters nothing is read.
        vocabulary: of the shop.
    Returns: the explanation, plain data throughout.
    """
    whole, text = text, cut(text)
    sentence = Sentence(0.0, 0.0, text, text)
    one = tell(nlp, [sentence])[0]
    reading = read_recording(nlp, [sentence], "diary", None, vocabulary)
    places = one.doc.user_data["places"]
    cues = [{"kind": cue.kind, **_place(text, places[cue.start][0], places[cue.end - 1][1])} for cue in one.doc._.cues]
    scopes = [
        {"kind": cue.kind, "cue": cue.text, **_place(text, places[start][0], places[end - 1][1])}
        for cue, start, end in one.doc.user_data["scopes"]
        if start < end
    ]
    clauses = [
        {
            "text": one.quote(clause.start, clause.end), "verb": clause.aspect, "subject": clause.subject,
            "negated": clause.negated, "inherited": clause.inherited, "scopes": dict(clause.because),
        }
        for clause in one.clauses
    ]  # fmt: skip
    return Explanation(
        text=text,
        statements=reading.statements,
        mentions=tuple(mentions_of(one)),
        cues=tuple(cues),
        scopes=tuple(scopes),
        clauses=tuple(clauses),
        rules=tuple(statement.rule for statement in reading.statements if statement.rule),
        left_out=len(whole) - len(text),
    )


def _place(text: str, start: int, end: int) -> dict[str, Any]:
    return {"text": text[start:end], "start": start, "end": end}
