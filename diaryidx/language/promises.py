"""Promises: what the shop says on film that it will do. "next month we'll show you how it turned out"."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.language.dates import resolve
from diaryidx.language.discourse import phrases, words_of
from diaryidx.language.found import Clause, Found
from diaryidx.language.told import Told
from diaryidx.records import Promise, RecordingKind
from diaryidx.vocabulary.loader import shipped_data

_NEVER = ("advice", "habit", "condition", "asked", "reported", "joke", "question")


def promises(told: Sequence[Told], kind: RecordingKind, said_on: str | None) -> list[Promise]:
    """Find promises.

    Arguments:
        told: all sentences of the film.
        kind: the kind of film; a tutorial's "we'll take the wheel out" is a step, no promise.
        said_on: ISO date of the film, from which "next month" is reckoned.
    Returns: promises in the order of the film; ``due`` an ISO month or day where one was said. Hedged
        ones are less certain.
    """
    found: list[Promise] = []
    for one in told:
        clause = next((clause for clause in one.clauses if _promises(one, clause, kind)), None)
        if clause is None:
            continue
        date = _date(one)
        certainty = 0.8 if date is not None else 0.6
        if "hedge" in clause.kinds:
            certainty *= 0.65
        due = resolve(date.value or {}, said_on) if date else None
        found.append(Promise(one.text, one.sentence.start, one.sentence.end, due, round(certainty, 3)))
    return found


def _promises(one: Told, clause: Clause, kind: RecordingKind) -> bool:
    if clause.negated or any(name in clause.kinds for name in _NEVER):
        return False
    words = one.words[clause.start : clause.end]
    if clause.aspect == "future" and kind != "tutorial" and _named_doer(one, clause):
        return True
    if not phrases("promises").within(one.words):
        return False
    shop = clause.subject == "shop" and clause.aspect == "future"
    viewers = clause.subject == "you" and clause.aspect == "future"
    verb = not words_of("promise verbs").isdisjoint(words)
    dated = _date(one) is not None or phrases("films to come").within(one.words)
    if "promise" in words or "promised" in words:
        return True
    if kind in ("tutorial", "questions") and not dated:
        return False
    opening = any(word in words for word in ("today", "now")) or one.place < 3
    return (shop and (dated or (verb and not opening))) or (viewers and dated)


def _named_doer(one: Told, clause: Clause) -> bool:
    """Whether somebody of the shop, by name, will do a piece of work: "Wes is going to make a seat pan"."""
    items = one.doc._.items
    if clause.verb is None or clause.verb[0] <= clause.first:
        return False
    item = items[clause.verb[0] - 1]
    found = item.found
    named = (
        found is not None and found.label == "PERSON" and found.term is not None and found.term.origin == "words.yaml"
    )
    if item.letter == "N" and clause.verb[0] == clause.first + 1:  # a name that no list knows
        named = (
            item.word.isalpha() and len(item.word) > 2 and item.word not in shipped_data("readings.yaml")["no names"]
        )
    return named and any(item.letter in "TEGXv" for item in items[clause.verb[0] : clause.last])


def _date(one: Told) -> Found | None:
    for date in one.labelled("DATE"):
        value = date.value or {}
        if value.get("relative") == "last" or value.get("days", 1) <= 0:
            continue
        return date
    return None
