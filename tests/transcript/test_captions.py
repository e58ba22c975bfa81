from __future__ import annotations

import io
from itertools import pairwise

import pytest
import srt
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.records import Repair, Sentence, Word
from diaryidx.transcript.captions import Caption, as_srt, as_webvtt, captions, timed_words

TEXT = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=60)


@st.composite
def spoken(draw: st.DrawFn) -> tuple[list[Sentence], float]:
    """Sentences of words with rising times, as fast or slow as anything, and the length of the film."""
    at, found = 0.0, []
    for _ in range(draw(st.integers(0, 4))):
        words = []
        for text in draw(st.lists(TEXT, min_size=1, max_size=30)):
            at += draw(st.floats(0, 2))
            end = at + draw(st.floats(0.01, 1.5))
            if text.split():
                words.append(Word("".join(text.split()), at, end))
            at = end
        if words:
            heard = " ".join(word.word for word in words)
            found.append(Sentence(words[0].start, words[-1].end, heard, heard, tuple(words)))
    return found, at + draw(st.floats(0, 1))


@settings(deadline=None, max_examples=150)
@given(spoken())
def test_any_speech_gives_captions_within_the_limits(speech: tuple[list[Sentence], float]) -> None:
    sentences, duration = speech
    shown = captions(sentences, duration)
    for one in shown:
        assert 1 <= len(one.lines) <= 2
        assert all(0 < len(line) <= 42 for line in one.lines)
        assert 0 <= one.start < one.end <= duration + 0.001
        assert one.end - one.start <= 7.001
    for one, after in pairwise(shown):
        assert one.end <= after.start + 0.001


def _said(text: str, pace: float = 0.3, start: float = 1.0) -> Sentence:
    words = tuple(
        Word(word, start + place * pace, start + (place + 1) * pace - 0.02) for place, word in enumerate(text.split())
    )
    return Sentence(words[0].start, words[-1].end, text, text, words)


def test_a_short_word_stays_long_enough_to_be_read() -> None:
    (one,) = captions([_said("yes")], 60.0)
    assert one.end - one.start == pytest.approx(1.0)


def test_unhurried_speech_is_read_at_no_more_than_17_characters_a_second() -> None:
    said = _said("we have stripped the old paint off the tank and found a dent that somebody had filled", pace=0.45)
    for one in captions([said], 60.0):
        assert sum(map(len, one.lines)) / (one.end - one.start) <= 17.001


def test_no_word_is_lost_and_lines_are_even() -> None:
    text = (
        "the headlight bracket was bent so we made a new one out of three millimetre aluminium and then we painted it"
    )
    shown = captions([_said(text)], 60.0)
    assert " ".join(line for one in shown for line in one.lines) == text
    two_lines = [one.lines for one in shown if len(one.lines) == 2]
    assert two_lines
    assert all(abs(len(first) - len(second)) < 16 for first, second in two_lines)


def test_a_repaired_term_takes_the_time_of_what_was_heard() -> None:
    heard = ("the", "bracket", "water", "hose")
    words = tuple(Word(word, float(place), place + 0.9) for place, word in enumerate(heard))
    repair = Repair("bracket water", "Brackwater", 0.9)
    sentence = Sentence(0.0, 3.9, " ".join(heard), "the Brackwater hose", words, (repair,))
    assert [(one.word, one.start, one.end) for one in timed_words(sentence)] == [
        ("the", 0.0, 0.9),
        ("Brackwater", 1.0, 2.9),
        ("hose", 3.0, 3.9),
    ]


SHOWN = [Caption(1.0, 2.5, ("salt & <pepper>", "on the tank")), Caption(3661.25, 3663.0, ("bye",))]


def test_webvtt_is_read_back_by_webvtt_py() -> None:
    """W3C WebVTT, checked with the independent library webvtt-py."""
    read = webvtt.from_buffer(io.StringIO(as_webvtt(SHOWN)))
    assert [(one.start, one.end) for one in read] == [
        ("00:00:01.000", "00:00:02.500"),
        ("01:01:01.250", "01:01:03.000"),
    ]
    assert read[0].text == "salt &amp; &lt;pepper&gt;\non the tank"


def test_subrip_is_read_back_by_srt() -> None:
    """SubRip, checked with the independent library srt."""
    read = list(srt.parse(as_srt(SHOWN)))
    assert [(one.start.total_seconds(), one.end.total_seconds(), one.content) for one in read] == [
        (1.0, 2.5, "salt & <pepper>\non the tank"),
        (3661.25, 3663.0, "bye"),
    ]


@given(TEXT)
def test_no_words_break_the_form(words: str) -> None:
    shown = [Caption(0.0, 1.0, (words,))]
    for form in (as_webvtt(shown), as_srt(shown)):
        assert sum("-->" in line for line in form.splitlines()) == 1
