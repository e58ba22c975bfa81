"""The shop's corrections of what was misheard."""

from __future__ import annotations

from pathlib import Path

import pytest

from diaryidx.records import Repair, Sentence
from diaryidx.transcript import apply_corrections
from diaryidx.vocabulary import Vocabulary, load_vocabulary


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
