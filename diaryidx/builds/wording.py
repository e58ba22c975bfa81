"""Statements and dates in plain words, for the terminal, replies and the round-up."""

from __future__ import annotations

from datetime import date

from diaryidx.builds.wishes import finish_sorts, shipped_vocabulary
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
