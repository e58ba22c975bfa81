"""How the pages say things: plain words for statuses, certainty, parts and dates."""

from __future__ import annotations

import re
from datetime import date

from diaryidx.records import Build, Statement, Status

#: What a statement's status is called on a page.
STATUS_WORDS: dict[Status, str] = {
    "in progress": "In hand",
    "waiting": "Waiting",
    "planned": "Planned",
    "asked for": "Asked for",
    "done": "Done",
    "ruled out": "Decided against",
    "earlier work": "Done before",
    "usual practice": "How we normally do it",
}
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
#: What is always written in capitals; "led" is left out, being a word too.
ABBREVIATIONS = re.compile(r"\b(?:mot|ecu|abs|cdi|usb|vin)\b")


def day_words(iso: str | None) -> str:
    """A date as people write it, "4 March 2025"; a month for ``YYYY-MM``; "no date" for None."""
    if not iso:
        return "no date"
    try:
        if len(iso) == 7:
            return f"{MONTHS[int(iso[5:]) - 1]} {int(iso[:4])}"
        day = date.fromisoformat(iso[:10])
    except (ValueError, IndexError):
        return iso
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def what_words(statement: Statement) -> str:
    """What a statement is about, as a heading: the part with its side, else the product or the task."""
    named = statement.part or statement.product or statement.task or "Something else"
    with_side = f"{named}, {statement.side}" if statement.side else named
    return capitalised(with_side)


def detail_words(statement: Statement) -> list[str]:
    """The rest of what a statement says, each in a few words, in the order people ask for it."""
    return [
        words
        for words in (
            statement.task if statement.part or statement.product else None,
            statement.finish and f"in {statement.finish}",
            statement.product if statement.part else None,
            statement.quantity and f"quantity {statement.quantity}",
            statement.supplier and f"from {statement.supplier}",
            statement.who and f"by {statement.who}",
            statement.when and statement.source != "book" and day_words(statement.when),
            "the customer's words" if statement.said_by == "customer" and statement.source != "book" else None,
        )
        if words
    ]


def build_words(build: Build) -> str:
    """A build in one line: what it is and its colour, beside its name."""
    spoken = " ".join(word for word in (build.year, build.make, build.model) if word)
    described = [part for part in (spoken if build.nickname else build.year, build.colour) if part]
    return ", ".join(described)


def sentence_words(text: str) -> str:
    """Heard words as a quotation reads them: capitals where they must be; the engine gives no punctuation."""
    return capitalised(re.sub(r"\bi\b", "I", text))


def capitalised(words: str) -> str:
    """Words with a capital first letter, and abbreviations in capitals: the engine and the term lists have none."""
    spelled = ABBREVIATIONS.sub(lambda found: found[0].upper(), words)
    return spelled[:1].upper() + spelled[1:]
