"""What must never go wrong in talk: what is no fact about a bike, who says it, and how sure it is."""

from __future__ import annotations

import pytest
from film_reader import Reader

from diaryidx.records import OPEN_STATUSES, Statement
from diaryidx.wording import DOUBTFUL_BELOW


def only(read: Reader, *lines: str, kind: str = "diary") -> Statement:
    statements = read(list(lines), kind).statements
    assert len(statements) == 1, statements
    return statements[0]


@pytest.mark.parametrize(
    "text",
    [
        "we normally paint the frame black",
        "as always we fit new head bearings",
        "we tend to use stainless bolts",
        "we never paint the cylinders",
        "most of the time we polish the engine covers",
    ],
)
def test_habits_are_true_of_no_bike(read: Reader, text: str) -> None:
    assert {one.status for one in read([text]).statements} == {"usual practice"}


@pytest.mark.parametrize(
    "text",
    [
        "if you are going to fit clip-ons check the cables", "you should grease the wheel spindle",
        "make sure you bleed the brakes", "i'd recommend changing the fork oil",
    ],
)  # fmt: skip
def test_advice_states_nothing(read: Reader, text: str) -> None:
    assert read([text]).statements == ()


@pytest.mark.parametrize(
    "text",
    [
        "he asked whether we could fit a smaller tank", "she'd like the seat in tan leather",
        "the customer wants a high exhaust", "he's asked us to lower the forks", "the owner was hoping for wire wheels",
        "He said, can you paint the frame red?",
    ],
)  # fmt: skip
def test_wishes_are_asked_for_and_said_by_the_customer(read: Reader, text: str) -> None:
    told = read([text]).statements
    assert [(one.status, one.said_by) for one in told] == [("asked for", "customer")]


def test_a_wish_ends_where_the_shop_speaks_for_itself(read: Reader) -> None:
    told = read(["he wants the rims gold so we've sent the hubs off to be anodised"]).statements
    assert [(one.status, one.said_by) for one in told] == [("asked for", "customer"), ("waiting", "shop")]


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("we haven't fitted the mirrors yet", "planned"), ("the tank isn't painted yet", "planned"),
        ("we're not doing the tank", "ruled out"), ("we won't be painting the engine", "ruled out"),
        ("she doesn't want indicators", "ruled out"), ("the forks don't need rebuilding", "ruled out"),
        ("not only did we paint the tank", "done"),
    ],
)  # fmt: skip
def test_what_is_denied_is_never_done(read: Reader, text: str, status: str) -> None:
    assert only(read, text).status == status


def test_a_negation_ends_with_its_clause(read: Reader) -> None:
    told = read(["we haven't fitted the mirrors but we've fitted the grips"]).statements
    assert [(one.part, one.status) for one in told] == [("mirrors", "planned"), ("grips", "done")]


@pytest.mark.parametrize("text", ["we might paint the tank", "it might be red", "the wheels might go gold"])
def test_the_undecided_states_nothing(read: Reader, text: str) -> None:
    assert read([text]).statements == ()


@pytest.mark.parametrize(
    "text",
    [
        "hopefully we'll paint the tank", "we'll probably paint the tank",
        "i think we'll paint the tank", "all being well we'll paint the tank", "if we get time we'll paint the tank",
        "fingers crossed we'll paint the tank",
    ],
)  # fmt: skip
def test_hedges_lower_certainty(read: Reader, text: str) -> None:
    sure, unsure = only(read, "we'll paint the tank"), only(read, text)
    assert unsure.status == sure.status == "planned"
    assert unsure.certainty < sure.certainty


def test_poor_hearing_lowers_certainty(nlp: object, vocabulary: object) -> None:
    from diaryidx.language.reading import read_recording
    from diaryidx.records import Sentence

    def certainty(hearing: float | None) -> float:
        told = [Sentence(0, 1, "we've painted the tank", "we've painted the tank", certainty=hearing)]
        return read_recording(nlp, told, "diary", None, vocabulary).statements[0].certainty  # type: ignore[arg-type]

    assert certainty(0.4) < certainty(0.95) < certainty(None)


def test_a_joke_is_left_alone(read: Reader) -> None:
    assert read(["we're going to paint the frame pink only joking"]).statements == ()


def test_the_rims_are_three_statements_about_two_parts(read: Reader) -> None:
    told = read(["the rims were red we've had the front one anodised gold the rear one needs doing again"]).statements
    assert [(one.part, one.side, one.finish, one.status) for one in told] == [
        ("rim", None, "red", "earlier work"),
        ("rim", "front", "gold", "done"),
        ("rim", "rear", None, "planned"),
    ]


def test_a_correction_in_the_next_sentence_takes_the_wrong_one_back(read: Reader) -> None:
    told = read(["the left caliper has been rebuilt", "no sorry the right one"]).statements
    assert [(one.part, one.side, one.sentence) for one in told] == [("caliper", "right", 1)]


def test_pointing_back_reaches_over_sentences_but_not_over_topics(read: Reader) -> None:
    told = read(
        """
        hello and welcome to the diary
        first up is the lapwing
        we've stripped the forks
        they need new seals
        next up is the dipper
        they're going gold
        """
    ).statements
    assert [(one.part, one.status) for one in told if one.part] == [("forks", "done"), ("seals", "planned")]


def test_who_and_when_are_told(read: Reader) -> None:
    one = only(read, "our trimmer has recovered the seat last week")
    assert (one.part, one.task, one.who, one.when) == ("seat", "upholster", "upholsterer", "2025-09")
    named = only(read, "imogen is making the seat pan next month")
    assert (named.who, named.when, named.status) == ("Imogen", "2025-11", "planned")


def test_a_product_of_the_shop_is_a_slot_of_its_own(read: Reader) -> None:
    one = only(read, "we've fitted our short tail kit")
    assert (one.product, one.part, one.task, one.status) == ("Short Tail Kit", None, "fit", "done")


def test_a_supplier_is_named_beside_the_part(read: Reader) -> None:
    one = only(read, "the yokes are on order from fell castings")
    assert (one.part, one.status, one.supplier) == ("yokes", "waiting", "Fell Castings")


def test_everything_waiting_or_planned_counts_as_open(read: Reader) -> None:
    told = read(["the tank is off for paint", "the seat still needs making", "he wants red grips"]).statements
    assert all(one.status in OPEN_STATUSES for one in told) and len(told) == 3


@pytest.mark.parametrize(
    "text", ["the owner reckons the gearbox has been rebuilt", "the customer says the fork seals were changed"]
)
def test_what_an_owner_says_was_done_is_never_sure(read: Reader, text: str) -> None:
    told = only(read, text)
    assert told.status == "earlier work" or told.certainty < DOUBTFUL_BELOW
