from __future__ import annotations

from itertools import pairwise

import pytest
from film_store import line, save_film, topic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from diaryidx.faq.search import ask, search_films
from diaryidx.records import Reading, Sentence
from diaryidx.store import writing
from diaryidx.transcript.figures import write_figures
from diaryidx.vocabulary.loader import Vocabulary


@pytest.mark.parametrize(
    "question",
    ["how do I change the front brake pads", "How do I swap the front pads??", "how to replace disc pads",
     "how do you fit new pads",
     "hello, can you tell me how to change my front brake pads please", "how do i change the front break pads",
     "HOW DO I CHNAGE THE BRAKE PADS"],
)  # fmt: skip
def test_a_how_to_question_is_answered_by_the_tutorial_in_the_customers_words(
    films: Database, vocabulary: Vocabulary, question: str
) -> None:
    answer = ask(films.conn, question, vocabulary)
    assert answer.answered
    best = answer.answers[0]
    assert (best.recording, best.start, best.end, best.said_on) == ("pads", 0.0, 20.0, "2025-01-10")
    assert best.entry is not None and "How to change the front brake pads" in best.why
    assert any("Brakes" in caution for caution in answer.cautions)


@pytest.mark.parametrize(
    ("question", "film", "words"),
    [
        ("why do my pads squeal", "questions", "usually it is dust"),
        ("how often should i adjust my chain", "questions", "five hundred miles"),
        ("when is the open day", "diary", "fourth of may"),
        ("how much is the tail tidy", "news", "thirty nine pounds"),
        ("do you sell tail tidies, what do they cost", "news", "thirty nine pounds"),
    ],
)
def test_the_right_moment_comes_first(
    films: Database, vocabulary: Vocabulary, question: str, film: str, words: str
) -> None:
    answer = ask(films.conn, question, vocabulary)
    assert answer.answered
    assert answer.answers[0].recording == film and words in answer.answers[0].text.lower()
    assert answer.answers[0].end > answer.answers[0].start and answer.answers[0].why


@pytest.mark.parametrize(
    "question",
    ["how do I fit heated grips", "how do i bleed the clutch", "do you ship to norway", "what tyre pressure do you use",
     "how often should i oil the chain", "how do i lace a wheel", "", "???", "how do I", "the of and"],
)  # fmt: skip
def test_what_no_film_says_is_not_answered(films: Database, vocabulary: Vocabulary, question: str) -> None:
    assert not ask(films.conn, question, vocabulary).answered


def test_brake_pads_are_no_answer_to_heated_grips_not_even_a_near_one(films: Database, vocabulary: Vocabulary) -> None:
    assert ask(films.conn, "how do I fit heated grips", vocabulary).answers == ()


def test_a_remark_in_a_diary_is_near_and_no_answer_to_how_it_is_done(films: Database, vocabulary: Vocabulary) -> None:
    answer = ask(films.conn, "how do I fit a wiring loom", vocabulary)
    assert not answer.answered
    assert [passage.recording for passage in answer.answers] == ["diary"]
    assert answer.answers[0].certainty < 0.5


def test_a_cam_chain_is_no_chain(films: Database, vocabulary: Vocabulary) -> None:
    answer = ask(films.conn, "my chain is noisy", vocabulary)
    assert "diary" not in [passage.recording for passage in answer.answers]


def test_cautions_come_with_the_question_even_when_it_is_not_answered(films: Database, vocabulary: Vocabulary) -> None:
    answer = ask(films.conn, "how do I change the fuel tap", vocabulary)
    assert not answer.answered
    assert any(caution.startswith("Fuel") for caution in answer.cautions)
    assert ask(films.conn, "when is the open day", vocabulary).cautions == ()


def test_the_newer_of_two_equal_answers_comes_first(store: Database, vocabulary: Vocabulary) -> None:
    for month, day in (("2025-01-05", "third"), ("2025-06-05", "ninth"), ("2025-03-05", "fifth")):
        save_film(store, month, month, [topic(line(f"the open day is on the {day} of may"), kind="shop")])
    answer = ask(store.conn, "when is the open day", vocabulary)
    assert [passage.said_on for passage in answer.answers] == ["2025-06-05", "2025-03-05", "2025-01-05"]


def test_a_passage_ends_where_its_topic_ends(store: Database, vocabulary: Vocabulary) -> None:
    save_film(
        store, "film", "2025-01-05",
        [topic(line("hello there"), kind="shop"),
         topic(line("the forks need new seals"), line("they had been weeping for years"), kind="tutorial"),
         topic(line("and that is all for today"), kind="shop")],
    )  # fmt: skip
    (passage,) = ask(store.conn, "do forks need seals", vocabulary).answers
    assert (passage.start, passage.end) == (5.0, 15.0)


def test_overlapping_stretches_are_given_once(films: Database, vocabulary: Vocabulary) -> None:
    passages = ask(films.conn, "how do I change brake pads", vocabulary).answers
    spans = sorted((one.recording, one.start, one.end) for one in passages)
    assert all(a[0] != b[0] or a[2] <= b[1] for a, b in pairwise(spans))


def test_the_search_box_puts_sentences_with_all_words_first(films: Database, vocabulary: Vocabulary) -> None:
    hits = search_films(films.conn, "pads changed", vocabulary, 10)
    assert {hit.sentence.text for hit in hits[:3]} == {
        "today we change the front brake pads",
        "this one has had its brake pads changed",
        "that is the brake pads changed",
    }
    assert len(hits) > 3
    assert len({hit.sentence.id for hit in hits}) == len(hits)
    assert len(search_films(films.conn, "pads", vocabulary, 2)) == 2


def test_the_search_box_finds_a_thing_by_another_name(films: Database, vocabulary: Vocabulary) -> None:
    assert "and the wiring loom is in" in [hit.sentence.text for hit in search_films(films.conn, "harness", vocabulary)]


SYNTAX = ["AND", "OR", "NOT", "NEAR(a b, 2)", "text:", '"', "*", "pads", "brake", "^", "-", "terms : x"]
ODD = st.one_of(
    st.text(max_size=80),
    st.text(alphabet="\"'*()^:-+{}[]ANDORNOTNEAR ./\\%_\0\ud800é́", max_size=60),
    st.lists(st.sampled_from(SYNTAX), max_size=12).map(" ".join),
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=200)
@given(ODD)
def test_any_text_at_all_is_a_question_and_a_search(films: Database, vocabulary: Vocabulary, text: str) -> None:
    answer = ask(films.conn, text, vocabulary)
    assert answer.answered <= bool(answer.answers)
    assert len(search_films(films.conn, text, vocabulary, 5)) <= 5


def test_a_very_long_question_is_taken(films: Database, vocabulary: Vocabulary) -> None:
    text = " ".join(f"word{number} brake pads" for number in range(20_000))
    assert len(search_films(films.conn, text, vocabulary)) > 0
    ask(films.conn, text, vocabulary)


@pytest.mark.parametrize(
    "typed", ["one twenty seventy seventeen", "120/70-17", "120 70 17", "1 20 70 17", "One-twenty, seventy, seventeen"]
)
def test_a_tyre_is_found_however_its_size_is_typed_and_said(
    store: Database, vocabulary: Vocabulary, typed: str
) -> None:
    said = ["the front has a one twenty seventy seventeen", "it wants a 1 20 70 17", "seventeen bolts at seventy each"]
    save_film(store, "tyres", "2025-03-01", [topic(*map(line, said))])
    heard = [Sentence(5.0 * place, 5.0 * place + 5, text, text) for place, text in enumerate(said)]
    written = [write_figures(sentence, vocabulary, frozenset()) for sentence in heard]
    writing.save_reading(store, "tyres", written, Reading("diary"), reading_key="key")
    hits = search_films(store, typed, vocabulary)
    assert {hit.sentence.heard for hit in hits[:2]} == set(said[:2])
