from __future__ import annotations

import pytest

from diaryidx.builds.wording import clause
from diaryidx.records import Statement


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (
            Statement("done", "", part="rim", side="front", task="powder coat", finish="satin black"),
            "the front rim is powder coated satin black",
        ),
        (Statement("done", "", part="forks", task="rebuild"), "the forks are rebuilt"),
        (Statement("done", "", part="seat", task="upholster", finish="leather"), "the seat is upholstered in leather"),
        (Statement("in progress", "", part="fuel tank", task="paint"), "the fuel tank is being painted"),
        (Statement("in progress", "", part="exhaust"), "the exhaust is in hand"),
        (
            Statement("waiting", "", part="mirrors", supplier="Alder Works"),
            "still waiting for the mirrors from Alder Works",
        ),
        (Statement("planned", "", part="side panels", side="both", finish="red"), "both side panels are to be red"),
        (Statement("planned", "", part="wiring loom"), "the wiring loom is next"),
        (Statement("ruled out", "", part="screen"), "the screen is not being done"),
        (Statement("done", "", task="restore"), "the bike is restored"),
        (Statement("done", "", product="tail tidy", task="fit"), "the tail tidy is fitted"),
    ],
)
def test_statements_read_as_sentences(statement: Statement, words: str) -> None:
    assert clause(statement) == words
