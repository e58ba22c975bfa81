"""Cutting text into words: the same everywhere, and for any text at all."""

from __future__ import annotations

import time

from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.vocabulary.spoken_words import LONGEST_WORD, split_words, spoken_key


def words(text: str) -> list[str]:
    return [one.word for one in split_words(text)]


def test_contractions_come_apart_whatever_the_apostrophe() -> None:
    cut = "we 've the tank 's is n't ca n't wo n't"
    assert words("We've the tank's isn't can’t won't") == cut.split()


def test_numbers_units_and_money_come_apart_and_stay_whole() -> None:
    assert words("£39.99 10mm 1,200 3rd") == ["£", "39.99", "10", "mm", "1,200", "3", "rd"]


def test_hyphens_between_letters_vanish_and_others_stay() -> None:
    assert words("clip-ons - two-into-one") == ["clip", "ons", "-", "two", "into", "one"]


def test_a_phrase_is_looked_up_as_it_is_cut() -> None:
    assert spoken_key("Clip-Ons  don’t") == "clip ons do n't"


@given(st.text(max_size=300))
@settings(max_examples=300, deadline=None)
def test_places_are_in_order_inside_the_text_and_hold_the_word(text: str) -> None:
    last = 0
    for word, start, end in split_words(text):
        assert last <= start < end <= len(text)
        assert len(word) == end - start <= LONGEST_WORD
        last = end


def test_time_grows_with_the_text_and_not_faster() -> None:
    for piece in ("the tank's off ", "x", "(", "don't'", "1.", "n't"):
        begun = time.perf_counter()
        split_words(piece * (1_000_000 // len(piece)))
        assert time.perf_counter() - begun < 10, piece
