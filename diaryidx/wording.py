"""How numbers and decisions are put in words for people, the same in the terminal, on pages and in the round-up."""

from __future__ import annotations

import math

from diaryidx.records import Decision

#: From here on a certainty is "sure", below the other "not sure"; between them "we think" (common practice, no source).
SURE_FROM = 0.85
DOUBTFUL_BELOW = 0.5


def clock(seconds: float | None) -> str:
    """A moment or length of film as people read it off a player: ``m:ss`` or ``h:mm:ss``, whole seconds, rounded down.

    :param seconds: seconds from the start of the film; negative counts as 0, None is shown as "-:--".
    """
    if seconds is None:
        return "-:--"
    whole = max(0, math.floor(seconds))
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours}:{minutes:02d}:{whole % 60:02d}" if hours else f"{minutes}:{whole % 60:02d}"


def how_sure(certainty: float | None) -> str:
    """Certainty, 0 to 1, in plain words."""
    if certainty is None:
        return "not measured"
    if certainty >= SURE_FROM:
        return "sure"
    if certainty >= DOUBTFUL_BELOW:
        return "we think"
    return "not sure"


def doubt(certainty: float | None) -> str:
    """A certainty in words where it is in doubt; nothing where it is sure or was not measured."""
    return "" if certainty is None or certainty >= SURE_FROM else how_sure(certainty)


def decision_words(made: Decision) -> str:
    """What a person decided, in words."""
    if made.kind == "link":
        return f"job {made.what['build']}" if "build" in made.what else f"not job {made.what['not']}"
    if made.kind == "word":
        return f"“{made.what['heard']}” means “{made.what['meant']}”"
    return {"not a build": "about no bike", "split": "cut here", "join": "one stretch"}[made.kind]


def over_words(made: Decision) -> str:
    """Which decisions of other people it set aside, in words; nothing where there was none."""
    numbers = [str(number) for number in made.evidence.get("over", ())]
    return f" (over number {', '.join(numbers)})" if numbers else ""
