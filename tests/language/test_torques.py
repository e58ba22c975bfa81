"""Torques of tutorials: which part each is for, and which values are no settings. Values invented here."""

from __future__ import annotations

import pytest
from film_reader import Reader

TORQUES = [
    ("it's ninety newton metres for the wheel spindle and twelve for the drain plug",
     [("90 Nm (66 lbf ft)", "wheel spindle"), ("12 Nm (8.9 lbf ft)", "sump plug")]),
    ("that's fifty newton metres on the stem nut and eighteen newton metres on the pinch bolts",
     [("50 Nm (37 lbf ft)", "stem nut"), ("18 Nm (13 lbf ft)", "pinch bolts")]),
    ("do the caliper bolts up to thirty eight newton metres on the fork leg",
     [("38 Nm (28 lbf ft)", "caliper bolts")]),
    ("pinch bolts up to twenty one newton metres and the axle to seventy",
     [("21 Nm (15 lbf ft)", "pinch bolts"), ("70 Nm (52 lbf ft)", "wheel spindle")]),
    ("twenty newton metres for the pinch bolts and thirty for the little one",
     [("20 Nm (15 lbf ft)", "pinch bolts"), ("30 Nm (22 lbf ft)", None)]),
    ("the stem nut used to be fifty newton metres and the new book says forty two",
     [("42 Nm (31 lbf ft)", "stem nut")]),
    ("the caliper bolts go to thirty newton metres not forty", [("30 Nm (22 lbf ft)", "caliper bolts")]),
    ("torque the disc bolts to between ten and fifteen newton metres",
     [("10 to 15 Nm (7.4 to 11 lbf ft)", "disc bolts")]),
    ("do the axle nut up to about sixty foot pounds", [("about 60 lbf ft (81 Nm)", "axle nut")]),
    ("the stem nut wants no more than twenty newton metres", [("no more than 20 Nm (15 lbf ft)", "stem nut")]),
    ("the engine produces about seventy newton metres", []),
]  # fmt: skip


@pytest.mark.parametrize(("text", "torques"), TORQUES)
def test_a_torque_is_given_for_the_part_that_it_was_said_of(
    read: Reader, text: str, torques: list[tuple[str, str | None]]
) -> None:
    steps = read([text], "tutorial").remarks.steps
    assert [(one.text, one.part) for step in steps for one in step.torques] == torques


def test_a_torque_told_in_the_next_sentence_is_for_the_part_named_last(read: Reader) -> None:
    told = ["tighten the stem nut to forty newton metres then do the pinch bolts", "that's twenty newton metres"]
    steps = read(told, "tutorial").remarks.steps
    assert [one.part for step in steps for one in step.torques] == ["stem nut", "pinch bolts"]


def test_a_torque_of_something_unknown_is_not_given_to_the_part_named_before(read: Reader) -> None:
    told = ["tighten the stem nut to forty newton metres", "do the little brass one to five newton metres"]
    steps = read(told, "tutorial").remarks.steps
    assert [one.part for step in steps for one in step.torques] == ["stem nut", None]
