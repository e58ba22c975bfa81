"""Promises: what the shop says on film that it will do, by whom and by when: "next month we'll show you the paint"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from diaryidx.language.dates import resolve
from diaryidx.language.found import Clause, Found
from diaryidx.language.hedges import date_hedge
from diaryidx.language.patterns import Row, patterns, words_in
from diaryidx.language.told import Told
from diaryidx.records import Promise, RecordingKind
from diaryidx.vocabulary.loader import shipped_data

_FILE = "promises.yaml"
_NEVER = ("advice", "habit", "condition", "asked", "reported", "joke", "question")
_BACKWARD = ("last", "previous")
_TEACHING = ("tutorial", "questions")
OPENING = 3  # sentences at the start of a film in which "we'll show you" means this film; own choice
#: How sure it is that something is promised: with a day, without one, and what a hedge leaves of it (own estimates).
DATED, UNDATED, HEDGED = 0.8, 0.6, 0.65
_NEXT_MONTH = {"span": "month", "relative": "next"}


def promises(told: Sequence[Told], kind: RecordingKind, said_on: str | None) -> list[Promise]:
    """Find promises.

    Arguments:
        told: all sentences of the film.
        kind: the kind of film; a tutorial's "we'll take the wheel out" is a step, no promise.
        said_on: ISO date of the film, from which "next month" is reckoned.
    Returns: promises in the order of the film, one a sentence; ``due`` an ISO month or day where one was said (diaries
        are taken to be monthly). Hedged ones are less certain.
    """
    found: list[Promise] = []
    for one in told:
        row = _row(one)
        clause = next((clause for clause in one.clauses if _promises(one, row, clause, kind)), None)
        if clause is None or patterns(_FILE, "kept already").first(row):
            continue
        date = _date(one)
        due = resolve(date.value or {}, said_on) if date else _due_by_film(row, kind, said_on)
        hedge = date_hedge(one, date)
        certainty = (DATED if date is not None or due else UNDATED) * (HEDGED if hedge else 1.0)
        found.append(
            Promise(one.text, one.sentence.start, one.sentence.end, due, round(certainty, 3), _doer(one, clause), hedge)
        )
    return found


def _row(one: Told) -> Row:
    return Row.of(one.words, ((date.start, date.end, "DATE") for date in one.labelled("DATE")))


def _promises(one: Told, row: Row, clause: Clause, kind: RecordingKind) -> bool:
    if kind not in _TEACHING and _date(one) is not None and not one.has_kind("condition", "joke", "question"):
        misheard = patterns(_FILE, "heard without we").first(row)
        if misheard and clause.start <= misheard.end - 1 < clause.end and not clause.negated:
            return True
    viewers = patterns(_FILE, "viewers").first(row) and (_date(one) or _by_film(row))
    if clause.negated or any(name in clause.kinds for name in _NEVER if not (viewers and name == "advice")):
        return False
    if viewers and one.has_kind("condition"):
        return False  # "if you come next month you'll see it"
    if viewers:
        return True
    future = clause.aspect == "future"
    if future and clause.subject == "shop" and kind not in _TEACHING and patterns(_FILE, "tells later").first(row):
        return True
    if future and patterns(_FILE, "gives word").first(row):
        return True
    if future and kind != "tutorial" and _named_doer(one, clause):
        return True
    if _stays_open(one, row, clause, kind):
        return True
    if not future or clause.subject not in ("shop", "you", "person") or _says_otherwise(one, clause):
        return False
    return _shop_promises(one, row, clause, kind)


def _shop_promises(one: Told, row: Row, clause: Clause, kind: RecordingKind) -> bool:
    """Whether "we'll ..." is a promise: by a day or a film, or to show something, or, in a walk-round, of a job."""
    dated = _date(one) is not None or _by_film(row)
    if dated:
        return True
    if kind in _TEACHING or clause.subject != "shop":
        return False
    words = set(one.words[clause.start : clause.end])
    opening = one.place < OPENING or not words_in(_FILE, "openings").isdisjoint(words)
    shows = not words_in(_FILE, "showing").isdisjoint(words)
    works = not words_in(_FILE, "working").isdisjoint(words) and "i" in words
    return not opening and (shows or works)


def _stays_open(one: Told, row: Row, clause: Clause, kind: RecordingKind) -> bool:
    """Whether a thing is to be ready by a day: "it should be going home in October"."""
    if kind in _TEACHING or clause.aspect not in ("future", "modal"):
        return False
    if clause.subject not in ("thing", "none", "person"):
        return False
    if _date(one) is None and not _by_film(row):
        return False
    return any(clause.start <= match.start < clause.end for match in patterns(_FILE, "settled").find(row))


def _says_otherwise(one: Told, clause: Clause) -> bool:
    """Whether the words promise nothing: "we'll see", "I'll come to that"."""
    row = Row.of(one.words[clause.start : clause.end])
    return patterns(_FILE, "not promises").first(row) is not None and _date(one) is None


def _named_doer(one: Told, clause: Clause) -> bool:
    """Whether somebody of the shop, by name, will do a piece of work: "Wes is going to make a seat pan"."""
    items = one.doc._.items
    name = _name_before(one, clause)
    return name is not None and any(item.letter in "TEGXv" for item in items[clause.verb[0] : clause.last])  # type: ignore[index]


def _name_before(one: Told, clause: Clause) -> str | None:
    """The name of who does it, straight before the verb: known from the shop's words, or a word that no list knows."""
    items = one.doc._.items
    if clause.verb is None or clause.verb[0] <= clause.first:
        return None
    item = items[clause.verb[0] - 1]
    found = item.found
    if found is not None and found.label == "PERSON" and found.term is not None:
        return found.canonical if found.term.origin == "words.yaml" else None
    if item.letter != "N" or clause.verb[0] != clause.first + 1:
        return None
    word: str = item.word
    named = word.isalpha() and len(word) > 2 and word not in shipped_data("readings.yaml")["no names"]
    return word.capitalize() if named else None


def _doer(one: Told, clause: Clause) -> str | None:
    """Who will do it: a name, "I" for whoever speaks, "we" for the shop; None where a thing is only to be ready."""
    name = _name_before(one, clause)
    if name or clause.subject == "person":
        return name
    said = re.findall(r"\b(i|we)\b", " ".join(one.words[clause.start : clause.end]))
    if clause.subject != "shop" or not said:
        return None
    return "I" if said[0] == "i" else "we"


def _by_film(row: Row) -> bool:
    return any(patterns(_FILE, name).first(row) for name in ("next diary", "next film"))


def _due_by_film(row: Row, kind: RecordingKind, said_on: str | None) -> str | None:
    """The month of the next diary, where something is promised for it; in a diary "the next film" is one."""
    diary = patterns(_FILE, "next diary").first(row) or (kind == "diary" and patterns(_FILE, "next film").first(row))
    return resolve(_NEXT_MONTH, said_on) if diary else None


def _date(one: Told) -> Found | None:
    for date in one.labelled("DATE"):
        value = date.value or {}
        if value.get("relative") in _BACKWARD or value.get("days", 1) <= 0 or value.get("past"):
            continue
        return date
    return None
