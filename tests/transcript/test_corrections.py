"""The shop's corrections of what was misheard."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.records import Repair, Sentence
from diaryidx.transcript import apply_corrections
from diaryidx.vocabulary import Vocabulary, load_vocabulary
from diaryidx.vocabulary.spoken_words import heard_key


@pytest.fixture(scope="module")
def vocabulary(tmp_path_factory: pytest.TempPathFactory) -> Vocabulary:
    path: Path = tmp_path_factory.mktemp("shop") / "words.yaml"
    path.write_text("heard: {cellar bars: clip-ons, fork yolks: fork yokes, yolk: yoke}", encoding="utf-8")
    return load_vocabulary(path)


def heard(text: str) -> Sentence:
    return Sentence(0.0, 1.0, text, text)


def test_what_was_heard_stays_beside_what_is_meant(vocabulary: Vocabulary) -> None:
    fixed = apply_corrections(heard("The Cellar-Bars and the fork yolks"), vocabulary)
    assert fixed.heard == "The Cellar-Bars and the fork yolks"
    assert fixed.text == "The clip-ons and the fork yokes"
    assert fixed.repairs == (Repair("Cellar-Bars", "clip-ons", 1.0), Repair("fork yolks", "fork yokes", 1.0))


def test_only_whole_words_are_replaced(vocabulary: Vocabulary) -> None:
    assert apply_corrections(heard("yolks and yolk's"), vocabulary).text == "yolks and yoke's"


def test_applying_twice_changes_nothing_more(vocabulary: Vocabulary) -> None:
    once = apply_corrections(heard("the cellar bars"), vocabulary)
    assert apply_corrections(once, vocabulary) == once


def test_a_correction_taken_back_leaves_what_was_heard(vocabulary: Vocabulary) -> None:
    fixed = apply_corrections(heard("the cellar bars"), vocabulary)
    assert apply_corrections(fixed, load_vocabulary()) == heard("the cellar bars")


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Cellar, bars.", "clip-ons."),
        ("the cellar-bars", "the clip-ons"),
        ("(cellar bars)", "(clip-ons)"),
        ("the 'cellar bars' are", "the 'clip-ons' are"),
        ("CELLAR   BARS' ends", "clip-ons' ends"),
        ("cellar bars’s clamp", "clip-ons’s clamp"),
        ("cellar and bars", "cellar and bars"),
        ("wine cellar barstool", "wine cellar barstool"),
        ("it's s", "it's s"),
        ("", ""),
    ],
)
def test_marks_of_the_engine_do_not_matter_but_words_do(vocabulary: Vocabulary, said: str, meant: str) -> None:
    assert apply_corrections(heard(said), vocabulary).text == meant


def test_a_lone_letter_is_not_found_behind_an_apostrophe() -> None:
    letter = load_vocabulary(taught={"s": "ess"})
    assert apply_corrections(heard("it's an s"), letter).text == "it's an ess"


@given(st.text(), st.dictionaries(st.text(min_size=1, max_size=6), st.text(min_size=1, max_size=6), max_size=4))
def test_any_text_and_any_corrections_are_safe(said: str, taught: dict[str, str]) -> None:
    """What was heard stays as it was, and every repair names words that were really heard."""
    corrections = Vocabulary((), {}, heard={key: meant for one, meant in taught.items() if (key := heard_key(one))})
    fixed = apply_corrections(heard(said), corrections)
    assert fixed.heard == said
    assert all(repair.heard in said and repair.meant in fixed.text for repair in fixed.repairs)
    assert fixed.repairs or fixed.text == said
