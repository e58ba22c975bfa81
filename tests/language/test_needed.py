"""What a tutorial says is to be had ready, and what it says is not; sentences invented here."""

from __future__ import annotations

import pytest
from film_reader import Reader

TOLD = [
    ("you want a pair of gloves and a seal driver", ["gloves", "seal driver"], []),
    ("you won't need a puller for this one just a rubber mallet", ["rubber mallet"], []),
    ("you could manage without a vernier", [], []),
    ("don't ever do this without gloves", ["gloves"], []),
    ("never let petrol or oil near the pads", [], []),
    ("keep the brake fluid off the tank", [], []),
    ("get it up on a paddock stand", ["paddock stand"], []),
    ("use a trolley jack with some wood on it", ["trolley jack"], []),
    ("grab a piece of hose and some fresh brake fluid", [], ["hose", "brake fluid"]),
    ("slacken it with a fourteen mil socket", ["fourteen mil socket"], []),
]


@pytest.mark.parametrize(("text", "tools", "needed"), TOLD)
def test_only_what_is_to_be_had_ready_is_listed(read: Reader, text: str, tools: list[str], needed: list[str]) -> None:
    steps = read([text], "tutorial").remarks.steps
    listed = [need.said for step in steps for need in step.tools]
    assert listed == tools
    assert [need.said for step in steps for need in step.needed] == needed


def test_a_bit_of_pipe_is_no_exhaust_and_a_bit_of_wire_no_loom(read: Reader) -> None:
    steps = read(["use a length of pipe and a bit of wire"], "tutorial").remarks.steps
    assert [part for step in steps for part in step.parts] == []
