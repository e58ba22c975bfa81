"""How numbers are put in words for people, the same in the terminal, on pages and in the round-up."""

from __future__ import annotations

import math


def clock(seconds: float) -> str:
    """A moment or length of film as people read it off a player: ``m:ss`` or ``h:mm:ss``, whole seconds, rounded down.

    :param seconds: seconds from the start of the film; negative counts as 0.
    """
    whole = max(0, math.floor(seconds))
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02d}:{whole % 60:02d}" if hours else f"{minutes}:{whole % 60:02d}"


def how_sure(certainty: float | None) -> str:
    """Certainty, 0 to 1, in plain words; thresholds are common practice, no source."""
    if certainty is None:
        return "not measured"
    if certainty >= 0.85:
        return "sure"
    if certainty >= 0.5:
        return "we think"
    return "not sure"
