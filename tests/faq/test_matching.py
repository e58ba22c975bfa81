from __future__ import annotations

import sqlite3

from hypothesis import given
from hypothesis import strategies as st

from diaryidx.faq.asking import concepts, kinds_of
from diaryidx.faq.matching import match_all, match_any, spelled_right
from diaryidx.faq.meanings import Reader
from diaryidx.vocabulary.loader import Vocabulary


def test_a_question_is_about_its_parts_and_not_about_its_small_words(vocabulary: Vocabulary) -> None:
    found = {
        concept.said: concept.label for concept in concepts("How do I swap the front pads on my bike?", vocabulary)
    }
    assert found["pads"] == "PART" and "swap" in found
    assert not {"how", "do", "the", "on", "my"} & found.keys()


def test_the_longest_term_is_what_a_text_says(vocabulary: Vocabulary) -> None:
    senses = Reader(vocabulary).senses("the cam chain and the oil pump")
    assert {"=cam chain", "=oil pump"} <= senses and not {"=chain", "=engine oil"} & senses


def test_a_misspelt_trade_word_is_put_right_unless_a_film_says_it(vocabulary: Vocabulary) -> None:
    assert spelled_right("my carburetter leaks", vocabulary, lambda word: False).split()[1].startswith("carb")
    assert spelled_right("the hedlight", vocabulary, lambda word: False) == "the headlight"
    assert spelled_right("the hedlight", vocabulary, lambda word: True) == "the hedlight"
    assert spelled_right("when is the meeting in norway", vocabulary, lambda word: False).endswith("norway")


def test_how_and_how_much_are_told_apart() -> None:
    assert "how_to" in kinds_of("How do I bleed brakes") and "price" not in kinds_of("How do I bleed brakes")
    assert "price" in kinds_of("how much are they?") and "how_to" not in kinds_of("how much are they?")
    assert "price" in kinds_of("is it £40")
    assert "amount" in kinds_of("how much slack should there be") and "price" not in kinds_of("how much slack is right")


@given(st.lists(st.text(max_size=30), max_size=8))
def test_every_expression_is_one_that_fts5_takes(words: list[str]) -> None:
    db = sqlite3.connect(":memory:")
    db.execute("create virtual table t using fts5(a, tokenize='porter unicode61 remove_diacritics 2')")
    db.execute("insert into t values ('plain words')")
    for expression in (match_any(words), match_all(words)):
        if expression:
            db.execute("select * from t where t match ?", (expression,)).fetchall()
    db.close()


@given(st.text(st.characters(categories=["Ll", "Lu", "Nd"]), min_size=1, max_size=12))
def test_a_word_that_was_said_is_found_by_itself(word: str) -> None:
    db = sqlite3.connect(":memory:")
    db.execute("create virtual table t using fts5(a, tokenize='porter unicode61 remove_diacritics 2')")
    db.execute("insert into t values (?)", (f"so {word} it is",))
    assert db.execute("select count(*) from t where t match ?", (match_all([word]),)).fetchone() == (1,)
    db.close()
