"""Statements and dates in plain words, for the terminal, replies and the round-up."""

from __future__ import annotations

from collections.abc import Container
from datetime import date
from typing import TYPE_CHECKING

from diaryidx.builds.wishes import finish_sorts, shipped_vocabulary
from diaryidx.records import ChangeKind, Statement

if TYPE_CHECKING:
    from diaryidx.builds.standing import OpenItem, PartState

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

#: What the kinds of change are called, in the order in which somebody should see them.
CHANGE_WORDS: dict[ChangeKind, str] = {
    "not as asked": "Not as the customer asked for",
    "change of mind": "The customer changed their mind",
    "change of plan": "The plan changed",
}


def conflict_words(earlier: Statement, later: Statement, voice_notes: Container[str | None] = ()) -> str:
    """Who disagrees, as a heading: films, notes, or one with the other.

    :param voice_notes: the recordings that are notes from the bench.
    """
    sources = {"note" if one.recording in voice_notes else one.source for one in (earlier, later)}
    if sources == {"film"}:
        return "The films disagree"
    return "The notes disagree" if sources == {"note"} else "A film and a note disagree"


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


def open_words(item: OpenItem) -> str:
    """How far an open item is: "waiting on painter since 29 September 2026, promised for November 2026"."""
    words = STATUS_WORDS[item.statement.status]
    words += f" on {item.on}" if item.on else ""
    words += f" since {said_date(item.since)}" if item.since else ""
    return words + (f", promised for {said_date(item.promised)}" if item.promised else "")


def state_words(part: PartState) -> str:
    """How a part stands: "satin black, powder coated (Brackwater), done by 3 November 2025; waiting since ..."."""
    supplier = f"({part.supplier})" if part.supplier else ""
    on_it = " ".join(word for word in (on_words(part), supplier) if word)
    is_done = part.status in ("done", "earlier work")
    status = STATUS_WORDS[part.status]
    settled = (status if is_done else "done") + (f" by {said_date(part.fitted)}" if part.fitted else "")
    done = settled if is_done or part.fitted else ""
    since = f" since {said_date(part.since)}" if part.since else ""
    still = "" if is_done else f"{status}{since}" + (f", to be {part.wanted}" if part.wanted else "")
    return "; ".join(words for words in (", ".join(word for word in (on_it, done) if word), still) if words)


def on_words(part: PartState) -> str:
    """What is on a bike at one place, and what was done to it: "2, satin black, powder coated"."""
    done = [(term and term.leaves) or task for task in part.tasks for term in [shipped_vocabulary().term(task, "TASK")]]
    product = part.product if part.product != part.part else None
    return ", ".join(word for word in (part.quantity, product, part.finish, *done) if word)


def item_words(statement: Statement) -> str:
    """What an open item is about: a wish in the job book's own words, "low bars", else as `describe` has it."""
    return statement.text if statement.source == "book" else describe(statement)


def thing(statement: Statement) -> str:
    """What a statement is about, as a noun with its article: "the front rim", "both side panels", "the bike"."""
    name = statement.part or statement.product
    if not name:
        return "the bike"
    if statement.side == "both":
        return f"both {name}" if _is_plural(statement) else f"the {name} on both sides"
    return " ".join(word for word in ("the", statement.quantity, statement.side, name) if word)


def clause(statement: Statement) -> str:
    """A statement as a clause with its verb: "the front rim is powder coated satin black", "the loom is to be fitted".

    The verb is what the task leaves behind, by the shipped vocabulary ("paint" leaves "painted").
    """
    noun, be = thing(statement), "are" if _is_plural(statement) else "is"
    done = _result(statement)
    supplier = f" from {statement.supplier}" if statement.supplier else ""
    match statement.status:
        case "done" | "earlier work":
            return f"{noun} {be} {done or 'done'}"
        case "in progress":
            return f"{noun} {be} being {done}" if statement.task else f"{noun} {be} in hand"
        case "waiting":
            return f"{noun} {be} waiting to be {done}" if statement.task else f"still waiting for {noun}{supplier}"
        case "planned":
            return f"{noun} {be} to be {done}" if done else f"{noun} {be} next"
        case "ruled out":
            return f"{noun} {be} not being {done or 'done'}"
    return f"{STATUS_WORDS[statement.status]}: {describe(statement)}"


def _result(statement: Statement) -> str:
    """What a task and a finish leave behind, "powder coated satin black"; empty where neither was said."""
    task = shipped_vocabulary().term(statement.task, "TASK")
    said = "finished" if statement.task == "finish" else statement.task and f"done ({statement.task})"
    left = (task and task.leaves) or said or ""
    finish = statement.finish or ""
    if not left or not finish or finish in left:
        return left or finish
    return f"{left} in {finish}" if finish_sorts(finish).keys() & {"material", "stitch"} else f"{left} {finish}"


def _is_plural(statement: Statement) -> bool:
    name = statement.part or statement.product or ""
    several = statement.quantity not in (None, "1", "one")
    return several or (name.endswith("s") and not name.endswith("ss"))
