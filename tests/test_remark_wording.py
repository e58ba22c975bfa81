"""What films say beside statements, in words: on the terminal, in histories and in the round-up."""

from __future__ import annotations

import pytest

from diaryidx.builds.telling import describe_history
from diaryidx.film_records import (
    Aside,
    CustomerPart,
    FilmLink,
    FilmReference,
    Need,
    Needs,
    Pointing,
    Remarks,
    Step,
    StepWarning,
    Torque,
)
from diaryidx.records import Build, Event, History, ProductLine, Recording, Segment, Sentence, Subject
from diaryidx.roundup.render import open_date_words, price_words
from diaryidx.terminal.films import show_recording, show_segments, show_transcript

FILM = Recording(
    "f1", "f1.mp4", "October diary", "diary", "2025-10-05", "file name", "2025-10", 60.0, True, "vosk:m", "indexed"
)
SAID = [Sentence(at, at + 2, text, text) for at, text in ((0.0, "as we said"), (3.0, "hang on"), (6.0, "right there"))]
LINK = FilmLink("f0", "Fork seals", "2025-08-10", "the film on seals", 0.4, 0.9)
STEPS = (
    Step(1, "Step 1: Bleed brakes", 0.0, 5.0, 0, 1, (Need("spanner", "8 mm spanner"),), ("caliper",),
         (Need("brake fluid", "fresh brake fluid"),), (Torque("6 Nm", 6.0, "newton metre", "bleed nipple", 4.0),),
         (StepWarning("Never reuse old fluid", 4.5),)),
    Step(2, "Step 2: Check", 5.0, 9.0, 2, 2, (Need("spanner", "8 mm spanner"),)),
)  # fmt: skip


def test_a_transcript_says_what_is_referred_to_pointed_at_and_an_aside(capsys: pytest.CaptureFixture[str]) -> None:
    known = FilmReference("the film on seals", 0.4, 1.0, 0, film="f0")
    doubtful = FilmReference("the other film", 1.2, 1.8, 0)
    remarks = Remarks((known, doubtful), (Pointing("right there", 6.42, 2),), asides=(Aside(1, 1, 3.0, 5.0),))
    show_transcript(FILM, SAID, remarks, [LINK])
    shown = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()]
    assert shown[1:] == [
        "0:00 as we said", "see “the film on seals”: Fork seals, 2025-08-10 (sure)",
        "“the other film”: a film, not known which", "0:03 hang on", "a digression", "0:06 right there",
        "points at 6.4 s",
    ]  # fmt: skip


def test_segments_begin_with_what_a_tutorial_needs(capsys: pytest.CaptureFixture[str]) -> None:
    topics = [Segment(step.start, step.end, step.first, step.last, step.title, Subject("tutorial")) for step in STEPS]
    show_segments(FILM, topics, STEPS)
    shown = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()]
    assert shown[1:5] == [
        "tools: 8 mm spanner", "needed: fresh brake fluid", "torques: bleed nipple 6 Nm",
        "take care: Never reuse old fluid",
    ]  # fmt: skip
    assert shown[-1] == "tools: 8 mm spanner"


def test_a_film_names_the_films_it_refers_to(capsys: pytest.CaptureFixture[str]) -> None:
    show_recording(FILM, [LINK])
    assert "refers to  0:00 “the film on seals”: Fork seals, 2025-08-10" in capsys.readouterr().out


def test_all_steps_together_need_each_thing_once() -> None:
    needs = Needs.of(STEPS)
    assert [need.said for need in needs.tools] == ["8 mm spanner"]
    assert len(needs.torques) == len(needs.warnings) == 1


def test_a_history_tells_what_came_from_the_customer() -> None:
    brought = CustomerPart("supplied", "fuel tank", "he's brought his own tank", 3.0, 5.0, 1, None, 0.9, 1, "f1")
    copied = CustomerPart("copied", "seat", "like the one on the Dipper", 6.0, 8.0, 2, "the Dipper", 0.6, 2, "f1")
    known = History(Build("7", make="Orrin", model="Dipper"), (), (), (), customer_parts=(brought, copied))
    lines = describe_history(known, [FILM])
    place = lines.index("From the customer")
    assert lines[place + 1 : place + 3] == [
        "  fuel tank: customer's own part, October diary, 5 October 2025 at 0:03: \"he's brought his own tank\"",
        '  seat: to be like the Dipper (we think), October diary, 5 October 2025 at 0:06: "like the one on the Dipper"',
    ]


@pytest.mark.parametrize(
    ("approximate", "hedge", "words"),
    [
        (False, None, "£40"), (True, None, "about £40, as said on 3 October 2025"),
        (True, "just under", "just under £40, as said on 3 October 2025"),
        (True, "or so", "about £40, as said on 3 October 2025"),
    ],
)  # fmt: skip
def test_a_price_that_was_left_open_says_so_with_its_day(approximate: bool, hedge: str | None, words: str) -> None:
    line = ProductLine(
        "tail tidy", 0, 1, "x", price=40.0, currency="GBP", approximate=approximate, hedge=hedge, said_on="2025-10-03"
    )
    assert price_words(line) == words


def test_a_date_that_was_left_open_says_so_with_its_words_and_its_day() -> None:
    fixed = Event("Open day", 0, 1, "2026-04-10", said_on="2025-10-03")
    assert open_date_words(fixed) == ""
    pencilled = Event("Open day", 0, 1, "2026-04-10", None, True, "x", "pencilled in", "2025-10-03")
    assert open_date_words(pencilled) == "to be confirmed (“pencilled in”, as said on 3 October 2025)"
    assert open_date_words(Event("Open day", 0, 1, tentative=True)) == "to be confirmed"
