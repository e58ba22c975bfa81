"""Sets of talk as an engine might mishear them: words turned into others that sound like them, and repaired again."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from functools import cache
from typing import Any

from diaryidx.records import Sentence
from diaryidx.vocabulary.spoken_words import split_words
from fixtures.archive.misheard import Ear, mishear
from tests.bench.language_scoring import GoldSet
from tests.language.checkable_set import Case

SHARE = 0.10
SEED = 29
NAMES = ("SUPPLIER", "PRODUCT", "PERSON", "MAKE", "MODEL", "NICKNAME")


@cache
def _ear() -> Ear:
    return Ear()


def misheard(gold: GoldSet) -> list[Case]:
    """The items with a tenth of their words misheard, names four times as often as others; always the same."""
    names = {
        word
        for term in gold.vocabulary.terms
        if term.label in NAMES and term.origin != "shipped"
        for phrase in term.variants
        for word in phrase.split()
    }
    texts = mishear([case.text for case in gold.cases], SHARE, _ear(), names, random.Random(SEED))
    return [_moved(case, text) for case, text in zip(gold.cases, texts, strict=True)]


def repaired(gold: GoldSet, cases: Sequence[Case]) -> list[Case]:
    """The misheard items after the product's term repair by sound, which is given all of them as one film."""
    from diaryidx.transcript.repair import build_repairer, repair

    film = [Sentence(3.0 * place, 3.0 * place + 2.8, case.text, case.text) for place, case in enumerate(cases)]
    put_right = repair(build_repairer(gold.vocabulary), film)
    return [_moved(was, one.text) for was, one in zip(gold.cases, put_right, strict=True)]


def word_errors(gold: GoldSet, cases: Sequence[Case]) -> float:
    """Word error rate of the items, punctuation and capitals apart, by jiwer."""
    import jiwer

    def bare(text: str) -> str:
        return " ".join(word.word for word in split_words(text) if any(sign.isalnum() for sign in word.word))

    return float(jiwer.wer([bare(case.text) for case in gold.cases], [bare(case.text) for case in cases]))


def _moved(case: Case, text: str) -> Case:
    """A case with another text. A span that lost all its words lies beyond the text, where nothing can be found."""
    if case.spans is None:
        return replace(case, text=text)
    was, now = split_words(case.text), split_words(text)
    blocks: list[Any] = SequenceMatcher(None, [one.word for one in was], [one.word for one in now], False).get_opcodes()
    spans, beyond = [], len(text)
    for start, end, label in case.spans:
        first = next((place for place, word in enumerate(was) if word.end > start), len(was))
        last = max((place for place, word in enumerate(was) if word.start < end), default=first)
        a, b = _mapped(blocks, first, last + 1)
        if a < b:
            spans.append((now[a].start, now[b - 1].end, label))
        else:
            spans.append((beyond, beyond + 1, label))
            beyond += 1
    return replace(case, text=text, spans=tuple(spans))


def _mapped(blocks: Sequence[tuple[str, int, int, int, int]], first: int, last: int) -> tuple[int, int]:
    """Where a stretch of words lies now: words that stayed one by one, of a replaced stretch what corresponds."""
    starts, ends = [], []
    for tag, a, b, c, d in blocks:
        if b <= first or a >= last or tag == "insert":
            continue
        low, high = max(first, a), min(last, b)
        if tag == "equal" or (tag == "replace" and b - a == d - c):
            starts.append(c + low - a)
            ends.append(c + high - a)
        elif tag == "replace":
            starts.append(c)
            ends.append(d)
    return (min(starts), max(ends)) if starts else (0, 0)
