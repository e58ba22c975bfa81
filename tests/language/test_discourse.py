"""Other films, pointing, steps, customers' parts, digressions, promises, prices and questions, on invented talk."""

from __future__ import annotations

from typing import Any

import pytest
from film_reader import Reader
from spacy.language import Language

from diaryidx.language.asides import asides
from diaryidx.language.patterns import Patterns, Row
from diaryidx.language.pointing import pointings
from diaryidx.language.reading import read_recording, tell
from diaryidx.language.references import film_references
from diaryidx.records import Reading, Sentence, Word
from diaryidx.vocabulary import Vocabulary
from tests.language.discourse_set import JUDGES, score

#: What is right, with a little room; the rules were made on the first two sets, the third was only ever scored.
PINNED = {"working": 75, "fresh": 53, "held": 61}


@pytest.mark.parametrize("name", PINNED)
def test_invented_talk_is_understood_as_well_as_before(nlp: Language, vocabulary: Vocabulary, name: str) -> None:
    def read(said: list[str], kind: Any) -> Reading:
        sentences = [Sentence(2.0 * at, 2.0 * at + 1.8, text, text) for at, text in enumerate(said)]
        return read_recording(nlp, sentences, kind, "2025-10-05", vocabulary)

    right, misses = score(read, name)
    for form in ("as written", "bare"):
        hits = sum(hit for kind in JUDGES for hit in right[kind, form])
        assert hits >= PINNED[name], "\n".join(misses) if name != "held" else f"{name}: {hits}"


def test_the_second_of_pointing_is_that_of_the_word_itself(nlp: Language) -> None:
    words = [("you", 3.0), ("can", 3.2), ("see", 3.4), ("just", 3.9), ("there", 7.25), ("where", 7.6), ("it", 7.8)]
    heard = tuple(Word(word, start, start + 0.2) for word, start in words)
    text = " ".join(word for word, _ in words) + " rubs on the frame"
    (found,) = pointings(tell(nlp, [Sentence(3.0, 9.0, text, text, heard)]))
    assert (found.at, found.part) == (7.25, "frame")


def test_a_repaired_word_before_it_does_not_move_the_second_of_pointing(nlp: Language) -> None:
    heard = tuple(Word(word, at, at + 0.3) for word, at in (("dip", 1.0), ("her", 1.4), ("right", 2.0), ("here", 2.5)))
    (found,) = pointings(tell(nlp, [Sentence(1.0, 3.0, "dip her right here", "dipper right here", heard)]))
    assert found.at == 2.5


def test_a_digression_ends_no_topic_and_says_nothing_of_the_bike(read: Reader) -> None:
    film = read(
        [
            "hello and welcome", "first up is the lapwing", "the tank is painted green",
            "oh hang on somebody's at the door", "is that the dipper's seat just leave it over there",
            "anyway back to the lapwing", "the engine is next",
        ]
    )  # fmt: skip
    assert [(one.first, one.last) for one in film.remarks.asides] == [(3, 4)]
    assert {one.sentence for one in film.statements}.isdisjoint((3, 4))
    assert [one.last for one in film.segments if one.subject.kind == "build"] == [6]


def test_a_chat_is_told_from_the_bike_by_the_words_of_the_trade(nlp: Language) -> None:
    told = ["the tank is painted", "the seat is off to imogen", "but anyway back to the tank", "it needs lacquer"]
    assert asides(tell(nlp, [Sentence(2.0 * at, 2.0 * at + 1, text, text) for at, text in enumerate(told)])) == []


@pytest.mark.parametrize(
    "text",
    [
        "welcome to the october diary", "in this video we're going to change the chain", "there's a film of oil on it",
        "the chain guide is worn", "we fitted a clear film over the paint", "last month he bought a boat",
    ],
)  # fmt: skip
def test_what_speaks_of_no_other_film_refers_to_none(nlp: Language, text: str) -> None:
    assert film_references(tell(nlp, [Sentence(0.0, 2.0, text, text)])) == []


def test_steps_gather_what_a_tutorial_needs_and_warns_of(read: Reader) -> None:
    film = read(
        [
            "hi everyone in this video we're changing the front wheel bearings",
            "you'll need a bearing puller a rubber mallet and some grease",
            "first of all put the bike on a stand",
            "make sure it can't roll away",
            "then undo the wheel spindle with a 17 mm spanner",
            "next drive the new bearings in",
            "finally tighten the wheel spindle to 65 newton metres",
            "never hit the inner race",
            "thanks for watching",
        ],
        kind="tutorial",
    )
    steps = film.remarks.steps
    assert [one.number for one in steps] == [0, 1, 2, 3, 4]
    assert [need.said for need in steps[0].tools] == ["bearing puller", "rubber mallet"]
    assert [need.said for need in steps[0].needed] == ["grease"]
    assert [need.said for need in steps[2].tools] == ["17 mm spanner"]
    assert [(torque.text, torque.part) for torque in steps[4].torques] == [("65 Nm (48 lbf ft)", "wheel spindle")]
    assert [warning.text for one in steps for warning in one.warnings] == [
        "Make sure it can't roll away", "Never hit the inner race",
    ]  # fmt: skip
    assert [(one.first, one.start) for one in steps if one.number] == [
        (one.first, one.start) for one in film.segments if one.title.startswith("Step")
    ]


def test_a_film_that_teaches_nothing_has_no_steps(read: Reader) -> None:
    assert read(["the tank is painted", "never seen a better one"]).remarks.steps == ()


@pytest.mark.parametrize(
    ("text", "hedge"),
    [
        ("the tail tidy is fifty quid", None), ("the tail tidy is about fifty quid", "about"),
        ("the tail tidy is fifty quid or so", "or so"), ("the tail tidy is just over fifty quid", "just over"),
        ("the tail tidy is getting on for fifty quid", "getting on for"),
    ],
)  # fmt: skip
def test_a_price_keeps_the_words_that_make_it_rough(read: Reader, text: str, hedge: str | None) -> None:
    (line,) = read([text], kind="product news").products
    assert (line.price, line.approximate, line.hedge) == (50.0, hedge is not None, hedge)


@pytest.mark.parametrize(
    ("text", "availability"),
    [
        ("the tail tidies sold out but they're back in stock now at fifty quid", "available"),
        ("the tail tidies are fifty quid and not available yet", "coming"),
        ("the tail tidies are fifty quid when they arrive", "coming"),
        ("we've run out of the tail tidies they were fifty quid", "sold out"),
        ("the tail tidies are fifty quid", None),
    ],
)
def test_whether_a_product_can_be_had(read: Reader, text: str, availability: str | None) -> None:
    assert [line.availability for line in read([text], kind="product news").products] == [availability]


def test_questions_in_a_run_of_words_without_marks_come_apart_with_their_answers(read: Reader) -> None:
    film = read(
        [
            "okay questions how often should i check my tyres once a week at least and before any long ride",
            "and look at the valves too can i mix brands on one bike you can but we'd rather you didn't",
        ],
        kind="questions",
    )
    assert [one.question for one in film.entries] == [
        "How often should I check my tyres?",
        "Can I mix brands on one bike?",
    ]
    assert film.entries[0].answer.endswith("look at the valves too")
    assert film.entries[1].answer == "you can but we'd rather you didn't"
    assert film.entries[0].end <= film.entries[1].start


def test_a_walk_round_that_asks_itself_asks_nobody(read: Reader) -> None:
    assert read(["first up the lapwing.", "Is the tank here? It is not.", "The tank is at paint."]).entries == ()


def test_the_next_diary_is_due_in_the_month_after(read: Reader) -> None:
    film = read(
        ["hello all", "first up the lapwing", "the tank is off", "it should be back together by the next diary"]
    )
    assert [(one.due, one.hedge) for one in film.promises] == [("2025-11", "should be")]


@pytest.mark.parametrize(
    "text", ["next month will make you a film about tyres", "she wants it cream and will be doing that in november"]
)
def test_we_ll_heard_as_will_is_a_promise_where_a_day_is_said(read: Reader, text: str) -> None:
    (found,) = read(["hello all", "first up the lapwing", "the tank is off", text]).promises
    assert found.due == "2025-11"


def test_patterns_take_the_longest_and_give_the_stretch_that_was_asked_for() -> None:
    patterns = Patterns.of(["{look|have a look} at <{this|that}>", "look ... <there>"])
    words = ["now", "look", "right", "over", "there", ",", "and", "have", "a", "look", "at", ",", "that"]
    found = list(patterns.find(Row.of(words)))
    assert [(one.start, one.end, one.mark) for one in found] == [(1, 5, (4, 5)), (7, 13, (12, 13))]


@pytest.mark.parametrize("pattern", ["... here", "{a|}"])
def test_a_pattern_that_could_begin_anywhere_is_refused(pattern: str) -> None:
    with pytest.raises(ValueError, match="pattern must"):
        Patterns.of([pattern])
