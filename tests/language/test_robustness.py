"""Any text at all: no crash, no hang, cost in proportion to the text."""

from __future__ import annotations

import time

import pytest
from film_reader import Reader
from hypothesis import given, settings
from hypothesis import strategies as st
from spacy.language import Language

from diaryidx.language.explaining import explain
from diaryidx.vocabulary import Vocabulary, find_terms

TALK = [
    "the", "tank", "front", "rear", "one", "is", "we've", "painted", "gold", "no sorry", "same on", "other side", "it",
    "and", "but", "which", "needs", "fitting", "by", "next month", "he wants", "if", "not", "off for paint", "'s", ",",
    "two", "pounds", "ninety nine", "question is", "how do i", "thanks for watching", "this one", ".", "n't", "to",
]  # fmt: skip


@given(st.text(max_size=400))
@settings(max_examples=150, deadline=None)
def test_any_characters_are_read(nlp: Language, vocabulary: Vocabulary, text: str) -> None:
    told = explain(nlp, text, vocabulary)
    for one in told.mentions:
        assert text[one.start : one.end] == one.text != ""


@given(st.lists(st.sampled_from(TALK), max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_row_of_workshop_words_is_read(read: Reader, words: list[str]) -> None:
    lines = " ".join(words).split(" . ")
    for kind in ("diary", "tutorial", "product news"):
        reading = read(lines, kind)
        assert all(0 <= one.certainty <= 1 for one in reading.statements)
        assert [place for one in reading.segments for place in range(one.first, one.last + 1)] == list(
            range(len([line for line in lines if line.strip()]))
        )


@pytest.mark.parametrize(
    "text",
    [
        "x" * 5_000_000, "tank " * 1_000_000, "(" * 10_000, "\u0301" * 100_000, "the tank's " * 100_000,
        "\x00\ufeff" * 1000, "é" * 9999,
    ],
    ids=["one run", "one word", "brackets", "marks", "clitics", "controls", "accents"],
)  # fmt: skip
def test_absurd_texts_are_cut_and_read_soon(nlp: Language, vocabulary: Vocabulary, text: str) -> None:
    begun = time.perf_counter()
    explain(nlp, text, vocabulary)
    find_terms(vocabulary, text[:1_000_000])
    assert time.perf_counter() - begun < 20


def test_cost_is_in_proportion_to_the_text(nlp: Language) -> None:
    """Ten times the talk costs about ten times the processor time; twice that is allowed for a busy machine."""
    line = "we've had the front rim anodised gold and the rear one needs doing again by friday"

    def seconds(times: int) -> float:
        begun = time.process_time()
        nlp(" ".join([line] * times))
        return time.process_time() - begun

    seconds(8)
    assert min(seconds(80) for _ in range(5)) < 20 * min(seconds(8) for _ in range(10))
