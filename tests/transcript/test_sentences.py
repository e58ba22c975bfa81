"""Words into sentences."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.records import Word
from diaryidx.transcript.sentences import LONGEST_SECONDS, LONGEST_WORDS, sentences


def spoken(text: str, certainty: float | None = 0.9) -> list[Word]:
    """Words at an even pace; "/" is a pause of 0.6 s, "|" one of 0.2 s."""
    words, now = [], 0.0
    for piece in text.split():
        if piece in "/|":
            now += 0.6 if piece == "/" else 0.2
            continue
        words.append(Word(piece, round(now, 3), round(now + 0.3, 3), certainty))
        now += 0.32
    return words


def texts(words: Sequence[Word]) -> list[str]:
    return [one.text for one in sentences(words)]


def test_a_pause_ends_a_sentence() -> None:
    assert texts(spoken("the tank is off / the seat is with the trimmer")) == [
        "the tank is off",
        "the seat is with the trimmer",
    ]


def test_a_pause_after_a_little_word_is_a_hesitation() -> None:
    assert texts(spoken("we have fitted the / new headlight")) == ["we have fitted the new headlight"]


def test_an_opening_begins_a_sentence_even_without_a_pause() -> None:
    assert texts(spoken("that is it for that one next up is the blue bike")) == [
        "that is it for that one",
        "next up is the blue bike",
    ]


def test_a_weak_opening_needs_a_short_pause() -> None:
    assert texts(spoken("we left it | then we painted it")) == ["we left it", "then we painted it"]
    assert texts(spoken("we left it then we painted it")) == ["we left it then we painted it"]


def test_punctuation_ends_sentences_where_the_engine_gives_it() -> None:
    heard = spoken("The tank, / which is off, is red. Next is the 4.5 inch light! Is it new? Yes.")
    assert texts(heard) == ["The tank, which is off, is red.", "Next is the 4.5 inch light!", "Is it new?", "Yes."]


def test_a_slow_speaker_is_given_longer_pauses() -> None:
    """Twelve pauses of 0.35 s are this speaker's habit; only the long one ends a sentence."""
    words, now = [], 0.0
    for place in range(26):
        words.append(Word(f"word{place}", now, now + 0.3, 0.9))
        now += 0.3 + (1.2 if place == 12 else 0.35 if place % 2 else 0.02)
    assert [len(one.words) for one in sentences(words)] == [13, 13]


def test_another_speaker_begins_another_sentence() -> None:
    words = [Word("hello", 0.0, 0.3, speaker="1"), Word("there", 0.3, 0.6, speaker="2")]
    assert [(one.text, one.speaker) for one in sentences(words)] == [("hello", "1"), ("there", "2")]


def test_certainty_is_the_mean_of_the_words_or_unknown() -> None:
    assert sentences([Word("a", 0, 1, 0.5), Word("tank", 1, 2, 1.0)])[0].certainty == pytest.approx(0.75)
    assert sentences([Word("a", 0, 1, None, estimated=True)])[0].certainty is None


def test_the_shop_may_give_its_own_openings() -> None:
    words = spoken("the seat is done quack the tank is off")
    cut = sentences(words, {"always": ["quack"], "after_pause": [], "dangling": []})
    assert [one.text for one in cut] == ["the seat is done", "quack the tank is off"]


def test_no_words_make_no_sentences() -> None:
    assert sentences([]) == ()
    assert sentences([Word("  ", 0.0, 1.0)]) == ()


gaps = st.lists(st.floats(0, 2), min_size=1, max_size=200)


@given(gaps, st.booleans())
@settings(max_examples=150, deadline=None)
def test_every_word_is_kept_once_and_no_sentence_is_too_long(pauses: list[float], punctuated: bool) -> None:
    words, now = [], 0.0
    for place, pause in enumerate(pauses):
        word = f"w{place}" + ("." if punctuated and place % 50 == 49 else "")
        words.append(Word(word, now, now + 0.25, 0.8))
        now += 0.25 + pause
    cut = sentences(words)
    assert [word for one in cut for word in one.words] == words
    for one in cut:
        assert len(one.words) <= LONGEST_WORDS
        assert one.end - one.start <= LONGEST_SECONDS or len(one.words) < 4
        assert one.start == one.words[0].start and one.heard == one.text
