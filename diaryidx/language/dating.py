"""A date that is told afterwards of what was just said: "they reckon tuesday", "should have it all back by friday"."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from diaryidx.language.clause_reader import Head, ReadClause
from diaryidx.language.found import Clause, Drafted, Found, Item, NounPhrase
from diaryidx.vocabulary.loader import shipped_data

_SINGLE = frozenset(("it", "that", "this", "one"))
_AS_FACT = frozenset(("none", "future", "modal", "got to", "want", "need", "go", "changing", "progressive", "bare"))
_OPEN = ("planned", "waiting", "in progress")
_ALL = frozenset(("all", "both", "everything", "lot", "whole", "them", "they", "those", "these"))
_SAYING = frozenset(shipped_data("readings.yaml")["verbs of saying"])
_OTHER_TALK = frozenset(("advice", "habit", "question", "joke", "earlier", "asked", "condition", "only talked about"))


def date_told_after(items: Sequence[Item], clause: Clause, read: ReadClause) -> Found | None:
    """The date of a clause that says no more than when, else None.

    Arguments:
        items: the row of the whole text.
        clause: the clause, with its scopes.
        read: what it holds.
    """
    if not read.dates or read.finishes or any(_does(head, read.dates[-1]) for head in read.heads):
        return None
    if any(not _points(thing) for thing in read.things) or not _other_talk(items, clause).isdisjoint(clause.kinds):
        return None
    row = items[clause.first : clause.last]
    if any(item.letter == "N" and before.letter == "D" for before, item in pairwise(row)):
        return None  # "the show's on friday"
    return read.dates[-1] if _says_when(items, clause, read) else None


def _other_talk(items: Sequence[Item], clause: Clause) -> frozenset[str]:
    """The kinds of cue with which a day is no news; "they did say thursday" is no wish."""
    says = clause.verb is not None and items[clause.verb[1] - 1].word in _SAYING
    return _OTHER_TALK - {"asked"} if says else _OTHER_TALK


def _does(head: Head, date: Found) -> bool:
    """Whether a verb tells of work: "get it back | in a week" has no particle."""
    if head.found is not None and head.found.particle >= 0 and date.start - head.found.particle in (1, 2):
        return False
    return bool(head.task) or head.particle


def _points(thing: NounPhrase) -> bool:
    return thing.kind.endswith("pronoun") or (thing.kind == "side" and thing.sides == ["both"])


def _says_when(items: Sequence[Item], clause: Clause, read: ReadClause) -> bool:
    """Whether the verb only says that it will be so, or that somebody says so; "it came on friday" is news."""
    words = shipped_data("readings.yaml")
    verb = clause.verb
    if verb is None:
        return all(
            item.word in words["around a date"] for item in items[clause.first : clause.last] if item.letter == "N"
        )
    last = items[verb[1] - 1]
    if last.word in words["verbs of saying"]:
        return all(thing.start < verb[1] for thing in read.things)
    that = clause.aspect == "state" and any(thing.determiner == "that" for thing in read.things)  # "that's june now"
    if clause.subject in ("customer", "person", "you") or not (that or clause.aspect in _AS_FACT):
        return False
    light = last.letter in "bskhKL" or that or last.word in words["verbs of coming"] or bool(read.heads)
    return light and (clause.subject != "shop" or bool(read.things))


def date_open(last: Sequence[Drafted], drafts: Sequence[Drafted], said: Sequence[str], date: Found) -> bool:
    """Give the date to what was last said and is still open; a later date replaces an earlier one.

    Arguments:
        last: the last statements; changed in place.
        drafts: the statements of this text so far; what "he reckons" is of is what is at his place.
        said: the words that tell the date: "it" is the thing named last, "it all" and anything else are all of them.
        date: the date.
    Returns: whether any statement took it.
    """
    single = not _SINGLE.isdisjoint(said) and _ALL.isdisjoint(said)
    if not _SAYING.isdisjoint(said):
        away = [one for one in drafts if one.status == "waiting" and (one.who or one.supplier)]
        last = [one for one in away if one.clause == away[-1].clause] or last
    dated = [one for one in last if one.status in _OPEN and (not single or one.part == last[-1].part)]
    for one in dated:
        one.when = date
    return bool(dated)
