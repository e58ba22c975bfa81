"""Whole films, invented here: topics, questions and answers, promises, dates, products, and the kind of film."""

from __future__ import annotations

import pytest
from film_reader import Reader

from diaryidx.records import Reading

DIARY = """
hello and welcome back to the october diary
first up is the lapwing
he wants the tank in british racing green
the tank's off for paint
we normally use stainless bolts on everything
next up we've got the dipper
she's asked for a quilted seat
the seat pan is made
moving on over here is a bike we can't name yet
it's having the frame powder coated black
we've been developing our own tail tidy
the prototype is on this bike
in the shop we've got new leather tank straps they're thirty nine ninety nine and in stock now
we'll be at the harbour lane bike show on the third of november
next month we'll show you how the lapwing turned out
thanks for watching see you next month
"""

TUTORIAL = """
hi everyone in this video we're going to show you how to change the fork seals
you'll need a seal driver and some fork oil
first of all put the bike on a stand
then take the front wheel out and undo the caliper bolts
now loosen the top yoke and slide the fork legs out
finally refill with fresh oil and put it all back together
now a few questions
somebody asked how often should you change fork oil
well we'd say every two years or so
the next question is do i need to change both sides
yes always do both sides
jen wanted to know whether you can reuse the dust seals
if they're not split you can
thanks for watching
"""

NEWS = """
hi all here's what's new this month
first up we've got a waxed canvas pannier
it fits the dipper and it's a hundred and twenty pounds
they're in stock now
we've also started doing a little battery tray
that's going to be around thirty quid
we're hoping to have those next month
the leather tool rolls have sold out
thanks for watching
"""


@pytest.fixture(scope="module")
def diary(read: Reader) -> Reading:
    return read(DIARY)


@pytest.fixture(scope="module")
def tutorial(read: Reader) -> Reading:
    return read(TUTORIAL, "tutorial")


@pytest.fixture(scope="module")
def news(read: Reader) -> Reading:
    return read(NEWS, "product news")


# --- topics ----------------------------------------------------------------------------------------------------------


def test_a_walk_round_is_cut_into_its_bikes_and_the_rest(diary: Reading) -> None:
    assert [(one.first, one.last, one.subject.kind) for one in diary.segments] == [
        (0, 0, "shop"), (1, 4, "build"), (5, 7, "build"), (8, 9, "build"), (10, 11, "development"), (12, 12, "product"),
        (13, 14, "shop"), (15, 15, "shop"),
    ]  # fmt: skip
    assert [one.title for one in diary.segments][1:3] == ["Lapwing 650", "Dipper"]


def test_pointing_at_the_bike_just_opened_opens_no_other(read: Reader) -> None:
    told = read(
        """
        first up is the lapwing
        this one came in for a new seat
        next up we've got the dipper
        so this one has come on a lot
        the forks are in
        this one over here came in for tyres
        """
    ).segments
    assert [(one.first, one.last) for one in told] == [(0, 1), (2, 4), (5, 5)]


def test_stretches_cover_every_sentence_once(diary: Reading, tutorial: Reading, news: Reading) -> None:
    for reading, lines in ((diary, DIARY), (tutorial, TUTORIAL), (news, NEWS)):
        covered = [place for one in reading.segments for place in range(one.first, one.last + 1)]
        assert covered == list(range(len(lines.strip().splitlines())))


def test_statements_carry_their_stretch_and_its_subject(diary: Reading) -> None:
    seat = next(one for one in diary.statements if one.part == "seat")
    assert diary.segments[seat.segment or 0].title == "Dipper"
    assert seat.subject is not None and seat.subject.kind == "build"
    assert (seat.start, seat.end, seat.text) == (12.0, 13.8, "she's asked for a quilted seat")


def test_a_tutorial_is_cut_into_numbered_steps_and_questions(tutorial: Reading) -> None:
    titles = [one.title for one in tutorial.segments]
    assert [title.split(":")[0] for title in titles[1:5]] == ["Step 1", "Step 2", "Step 3", "Step 4"]
    assert titles[2:4] == ["Step 2: Remove front wheel", "Step 3: Loosen top yoke"]
    assert [one.first for one in tutorial.segments[1:6]] == [2, 3, 4, 5, 6]
    assert {one.subject.kind for one in tutorial.segments[1:5]} == {"tutorial"}


def test_nothing_in_a_tutorial_is_a_fact_about_a_bike(tutorial: Reading) -> None:
    assert {one.subject.kind for one in tutorial.statements if one.subject} <= {"tutorial"}


# --- questions -------------------------------------------------------------------------------------------------------


def test_questions_told_on_film_become_entries_with_their_answers(tutorial: Reading) -> None:
    assert [(one.question, one.answer) for one in tutorial.entries[1:]] == [
        ("How often should you change fork oil?", "well we'd say every two years or so"),
        ("Do I need to change both sides?", "yes always do both sides"),
        ("Can you reuse the dust seals?", "if they're not split you can"),
    ]
    assert "fork oil" in tutorial.entries[1].terms


def test_a_tutorial_as_a_whole_is_an_entry_without_its_greeting_and_questions(tutorial: Reading) -> None:
    whole = tutorial.entries[0]
    assert whole.question == "How to change the fork seals"
    assert whole.answer.startswith("you'll need a seal driver") and whole.answer.endswith("back together")
    assert (whole.start, whole.end) == (2.0, 11.8)
    assert {"fork seals", "caliper bolts", "top yoke"} & set(whole.terms)


def test_a_wish_in_a_walk_round_is_no_question(read: Reader) -> None:
    assert read(["he asked whether we could fit a smaller tank", "so we've ordered one"]).entries == ()


def test_an_answer_ends_with_the_film(read: Reader) -> None:
    entries = read(
        ["somebody asked can i fit bigger tyres", "you can but check the swingarm", "see you next month"]
    ).entries
    assert [(one.question, one.answer) for one in entries] == [
        ("Can I fit bigger tyres?", "you can but check the swingarm")
    ]


def test_a_question_and_its_answer_in_one_breath_are_told_apart(read: Reader) -> None:
    entries = read(["someone asked do you ship abroad to other countries yes we do"], "questions").entries
    assert [(one.question, one.answer) for one in entries] == [("Do you ship abroad to other countries?", "yes we do")]


# --- promises, dates, products ---------------------------------------------------------------------------------------


def test_promises_have_a_month_where_one_was_said(diary: Reading) -> None:
    assert [(one.text, one.due) for one in diary.promises if "show you" in one.text] == [
        ("next month we'll show you how the lapwing turned out", "2025-11")
    ]


@pytest.mark.parametrize(
    "text",
    ["he said next month he'll show us", "if you come next month you'll see it", "we showed you this last month"],
)
def test_what_others_do_and_what_is_past_is_no_promise(read: Reader, text: str) -> None:
    assert read([text]).promises == ()


def test_events_have_a_name_and_a_date(diary: Reading) -> None:
    assert [(one.name, one.date, one.tentative) for one in diary.events] == [
        ("Harbour lane bike show", "2025-11-03", False)
    ]


def test_a_hedged_event_is_tentative_and_a_place_is_kept(read: Reader) -> None:
    told = read(
        ["we're hopefully having an open day in the spring", "we'll be at the ride out in Fernby on Saturday"]
    ).events
    assert [(one.tentative, one.date, one.place) for one in told] == [
        (True, "2026-03", None),
        (False, "2025-10-11", "Fernby"),
    ]


def test_showing_something_is_no_event(read: Reader) -> None:
    assert read(["let me show you the tank next month", "we'll show the seat on friday"]).events == ()


def test_products_have_price_currency_and_whether_they_can_be_had(news: Reading) -> None:
    assert [(one.product, one.price, one.approximate, one.availability, one.fits) for one in news.products] == [
        ("waxed canvas pannier", 120.0, False, "available", "Dipper"),
        ("battery tray", 30.0, True, "coming", None),
        ("leather tool rolls", None, False, "sold out", None),
    ]
    assert news.products[0].currency == "GBP"
    assert news.statements == ()


def test_a_product_line_in_a_walk_round_is_found_and_what_a_job_costs_is_not(diary: Reading, read: Reader) -> None:
    assert [(one.product, one.price) for one in diary.products if one.price] == [("leather tank straps", 39.99)]
    assert read(["the respray is going to cost him four hundred pounds"]).products == ()


# --- kinds -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "kind"),
    [
        (DIARY, "diary"), (TUTORIAL, "tutorial"), (NEWS, "product news"),
        ("bench note for the dipper\nstripped the rear brake\nneeds a seal kit", "bench note"),
        ("here are your questions\nsomebody asked how often do i grease it\nevery week\nnext question", "questions"),
        ("what a lovely day\nthe sea is calm\nthe birds are singing\nso nice", "other"),
    ],
)  # fmt: skip
def test_the_kind_of_film_is_guessed_from_the_talk(read: Reader, lines: str, kind: str) -> None:
    assert read(lines, "other").kind == kind


def test_a_kind_that_a_person_gave_is_kept(read: Reader) -> None:
    assert read(TUTORIAL, "bench note").kind == "bench note"


def test_an_empty_film_reads_as_nothing(read: Reader) -> None:
    reading = read([], "other")
    assert (reading.kind, reading.segments, reading.statements, reading.entries) == ("other", (), (), ())


# --- mentions --------------------------------------------------------------------------------------------------------


def test_mentions_have_their_exact_words_and_places(read: Reader) -> None:
    text = "Imogen’s covered the seat — £1,200 on 3 October"
    found = read([text]).mentions
    for one in found:
        assert text[one.start : one.end] == one.text
    assert [(one.label, one.text) for one in found] == [
        ("PERSON", "Imogen"), ("TASK", "covered"), ("PART", "seat"), ("PRICE", "£1,200"), ("DATE", "3 October"),
    ]  # fmt: skip
    assert found[3].value == {"amount": 1200.0, "currency": "GBP", "approximate": False}
