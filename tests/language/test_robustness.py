"""Any text at all: no crash, no hang, cost in proportion to the text.

`DIARYIDX_EXAMPLES=2000` tries as many texts as the bench asks for; the suite tries fewer.
"""

from __future__ import annotations

import os
import time

import pytest
from film_reader import Reader
from hypothesis import given, settings
from hypothesis import strategies as st
from spacy.language import Language

from diaryidx.language.explaining import explain
from diaryidx.language.explaining_page import explanation_page
from diaryidx.vocabulary import Vocabulary, find_terms

TALK = [
    "the", "tank", "front", "rear", "one", "is", "we've", "painted", "gold", "no sorry", "same on", "other side", "it",
    "and", "but", "which", "needs", "fitting", "by", "next month", "he wants", "if", "not", "off for paint", "'s", ",",
    "two", "pounds", "ninety nine", "question is", "how do i", "thanks for watching", "this one", ".", "n't", "to",
]  # fmt: skip


#: Controls, formats, combining marks, private use, line separators, right-to-left marks, joiners, variation selectors.
ODD = st.characters(categories=("Cc", "Cf", "Co", "Mn", "Me", "Zl", "Zp", "Zs", "So", "Sk", "No", "Nl"))
MARKS = [*"()[]{}<>\"'“”’…—-.,;:?!/\\&%$£€#@*_~^|`", "\u200d", "\ufe0f", "🏍"]
TEXTS = st.one_of(
    st.text(max_size=400),
    st.text(ODD, max_size=200),
    st.lists(st.one_of(st.sampled_from(TALK), st.text(ODD, max_size=3)), max_size=80).map(" ".join),
    st.lists(st.one_of(st.sampled_from(TALK), st.text(max_size=2)), max_size=80).map("".join),
    st.lists(st.sampled_from(MARKS), max_size=400).map("".join),
)
EXAMPLES = int(os.environ.get("DIARYIDX_EXAMPLES", "200"))


@given(TEXTS)
@settings(max_examples=EXAMPLES, deadline=None)
def test_any_characters_are_read(nlp: Language, vocabulary: Vocabulary, text: str) -> None:
    told = explain(nlp, text, vocabulary)
    for one in told.mentions:
        assert text[one.start : one.end] == one.text != ""
    for found in (*told.cues, *told.scopes):
        assert 0 <= found["start"] < found["end"] <= len(text)
    assert all(0 <= one.certainty <= 1 for one in told.statements)
    assert explanation_page(told).endswith("</html>\n")


@given(st.lists(st.sampled_from(TALK), max_size=60))
@settings(max_examples=EXAMPLES, deadline=None)
def test_any_row_of_workshop_words_is_read(read: Reader, words: list[str]) -> None:
    lines = " ".join(words).split(" . ")
    for kind in ("diary", "tutorial", "product news"):
        reading = read(lines, kind)
        assert all(0 <= one.certainty <= 1 for one in reading.statements)
        assert [place for one in reading.segments for place in range(one.first, one.last + 1)] == list(
            range(len([line for line in lines if line.strip()]))
        )


ABSURD = {
    "one run": "x" * 5_000_000, "one word": "tank " * 1_000_000, "brackets": "(" * 10_000, "marks": "\u0301" * 100_000,
    "nested": "([{<" * 5_000 + ">}])" * 5_000, "clitics": "the tank's " * 100_000, "controls": "\x00\ufeff" * 1000,
    "accents": "é" * 9999, "no spaces": "thetankispaintedgold" * 250_000, "figures": "1234567890" * 100_000,
    "joiners": "\U0001f3cd\u200d" * 50_000, "corrections": "no sorry the tank " * 50_000,
    "ands": "and the seat " * 50_000,
}  # fmt: skip


@pytest.mark.parametrize("text", ABSURD.values(), ids=ABSURD)
def test_absurd_texts_are_cut_and_read_soon(nlp: Language, vocabulary: Vocabulary, read: Reader, text: str) -> None:
    """spaCy refuses texts over 1,000,000 characters; processor time, since the machine may be busy."""
    begun = time.process_time()
    explain(nlp, text, vocabulary)
    read(text)
    find_terms(vocabulary, text[:1_000_000])
    assert time.process_time() - begun < 20


def test_cost_is_in_proportion_to_the_text(nlp: Language) -> None:
    """Ten times the talk costs about ten times the processor time; twice that is allowed for a busy machine."""
    line = "we've had the front rim anodised gold and the rear one needs doing again by friday"

    def seconds(times: int) -> float:
        begun = time.process_time()
        nlp(" ".join([line] * times))
        return time.process_time() - begun

    seconds(8)
    assert min(seconds(80) for _ in range(5)) < 20 * min(seconds(8) for _ in range(10))
