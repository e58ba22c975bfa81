"""Warnings of tutorials in the shapes that people give them; sentences invented here, common practice, no source."""

from __future__ import annotations

import pytest
from film_reader import Reader

WARNED = [
    "if the pedal still sinks when you lean on it don't ride it",
    "if there's a crack anywhere in it stop and have a good look",
    "squeeze the lever a dozen times before you pull away",
    "fit it back to front and the wheel comes loose",
    "miss the split pin and the nut could work off",
    "fit the spacer or the wheel will bind",
    "swing the bars lock to lock and check nothing pulls on the cable",
    "turn the bars both ways without trapping the hose",
    "check that the steering bearings aren't too tight",
    "the throttle has to snap shut on its own",
    "the lever must feel firm",
    "tie the caliper up never by the hose",
    "that spring is under serious load",
    "mind how you let it off because it'll trap your fingers",
    "the exhaust stays hot enough to burn for an hour",
    "fuel and naked flames are a bad mix",
    "unplug the battery first",
]
NOT_WARNED = [
    "now slacken the nut and the wheel will come off",
    "before you go hit the bell",
    "we were under a lot of pressure last week",
    "careful what you wish for",
    "be careful with your money",
    "if you stop there you can see the mark",
    "when the pin's out the wheel drops down",
    "we take a hand file to it",
]


@pytest.mark.parametrize("text", WARNED)
def test_what_can_hurt_somebody_is_a_warning(read: Reader, text: str) -> None:
    steps = read([text], "tutorial").remarks.steps
    assert [one.text.lower() for step in steps for one in step.warnings] == [text]


@pytest.mark.parametrize("text", NOT_WARNED)
def test_what_only_sounds_like_a_warning_is_none(read: Reader, text: str) -> None:
    assert [one for step in read([text], "tutorial").remarks.steps for one in step.warnings] == []
