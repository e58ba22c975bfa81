"""Statements and times in plain words, for the terminal, replies and the round-up."""

from __future__ import annotations

from datetime import date

from diaryidx.records import Statement

#: How a status is said after its subject, to people who do not know our words for it.
STATUS_WORDS = {
    "asked for": "asked for",
    "planned": "planned",
    "in progress": "in progress",
    "waiting": "waiting",
    "done": "done",
    "ruled out": "not being done",
    "earlier work": "done before",
    "usual practice": "what we normally do",
}
#: From here up a statement is taken as said, below this it is shown as doubtful (our own choice, as in design.md).
DOUBTFUL_BELOW = 0.5


def clock(seconds: float | None) -> str:
    """Seconds in a film as ``mm:ss``, or ``h:mm:ss`` from an hour on; "--:--" where unknown."""
    if seconds is None:
        return "--:--"
    whole = max(int(seconds), 0)
    hours, rest = divmod(whole, 3600)
    minutes, second = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{second:02d}" if hours else f"{minutes:02d}:{second:02d}"


def said_date(iso: str | None) -> str:
    """An ISO 8601 date or month as "3 November 2025" or "November 2025"; the text itself where it is neither."""
    if not iso:
        return "date unknown"
    try:
        if len(iso) == len("YYYY-MM"):
            return date.fromisoformat(f"{iso}-01").strftime("%B %Y")
        day = date.fromisoformat(iso[:10])
    except ValueError:
        return iso
    return f"{day.day} {day.strftime('%B %Y')}"


def describe(statement: Statement) -> str:
    """What a statement is about, without its status: "front rim, powder coat, satin black (Brackwater)"."""
    thing = " ".join(word for word in (statement.quantity, statement.side, statement.part) if word)
    details = [word for word in (statement.product, statement.task, statement.finish) if word]
    words = ", ".join(word for word in (thing, *details) if word) or statement.text
    return f"{words} ({statement.supplier})" if statement.supplier else words


def how_sure(certainty: float | None) -> str:
    """A certainty in words: nothing where it is good, else "we think" or "not sure"."""
    if certainty is None or certainty >= 0.75:
        return ""
    return "we think" if certainty >= DOUBTFUL_BELOW else "not sure"
