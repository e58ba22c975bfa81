"""What a clause makes of the statements before it: a wish declined, a plan the customer dropped, news denied."""

from __future__ import annotations

from dataclasses import replace

from diaryidx.language.clause_reader import ReadClause
from diaryidx.language.found import Clause, Drafted, NounPhrase
from diaryidx.language.said_before import Discourse


def answered(clause: Clause, read: ReadClause, discourse: Discourse, drafts: list[Drafted]) -> list[Drafted]:
    """What becomes of what was said before.

    Arguments:
        clause: the clause, with its scopes.
        read: what it holds.
        discourse: its last statements are those that are answered; they may be changed.
        drafts: the statements of this text so far; what is denied goes.
    Returns: new statements; none where the clause answers nothing, or only changes what was said.
    """
    if read.finishes or any(head.task for head in read.heads):
        return []
    _names_told(clause, read, discourse)
    if read.things and _they_have(
        clause, read, discourse
    ):  # "the crank's at the machine shop | they've got the rods too"
        return _at_the_same_place(read, discourse.last[-1])
    if "postponed" in clause.kinds and read.dates:  # "he was to weld it today | that's slipped to monday"
        for one in discourse.last:
            if one.status in ("planned", "ruled out") and not any(thing.kind == "part" for thing in read.things):
                one.status, one.when = "planned", read.dates[-1]
        return []
    if "declined" in clause.kinds:  # "he wanted tan leather | I said no"
        wishes = [one for one in discourse.last if one.status == "asked for"]
        return [replace(one, status="ruled out", said_by="shop", rule="wish declined") for one in wishes]
    if "gone off it" in clause.kinds and clause.subject in ("customer", "person"):
        for one in discourse.last:
            if one.status == "ruled out":
                one.said_by, one.who = "customer", None
    elif _will_not(clause, read):  # "I'll do the guides | no I won't"
        for one in discourse.last:
            if one.status == "planned":
                one.status, one.rule = "ruled out", "will not"
    elif _denies(clause, read):
        drafts[:] = [one for one in drafts if not any(one is last for last in discourse.last) or one.status != "done"]
    return []


def _denies(clause: Clause, read: ReadClause) -> bool:
    """Whether a clause only says that what was said is not so: "they're finished | no they aren't"."""
    bare = clause.negated and clause.aspect == "state" and clause.verb is not None and clause.verb[1] >= clause.last - 1
    return bare and bool(read.things) and all(thing.kind.endswith("pronoun") for thing in read.things)


def _will_not(clause: Clause, read: ReadClause) -> bool:
    """Whether the shop says that it will not do what it just said."""
    verb = clause.verb
    bare = clause.negated and clause.aspect == "future" and verb is not None and verb[1] >= clause.last - 1
    return bare and clause.subject == "shop" and not read.things and not read.heads


def _names_told(clause: Clause, read: ReadClause, discourse: Discourse) -> None:
    """Who does it or whom it is from, told after what was said of it: "it's from rowan's", "that'll be wilf"."""
    pointed = all(thing.kind.endswith("pronoun") or thing.kind in ("part", "product") for thing in read.things)
    if read.suppliers and pointed and clause.aspect in ("state", "past state", "done state"):
        name = read.suppliers[0]
        if name.preposition == "from" and name.found is not None and not clause.kinds & {"waiting", "planned"}:
            if any(thing.kind == "part" for thing in read.things):
                discourse.name(read)
            discourse.comes_from(name.found.canonical)
    if (
        read.people
        and all(thing.kind.endswith("pronoun") for thing in read.things)
        and clause.aspect in ("none", "future")
    ):
        name = read.people[0]
        if name.found is not None and name.preposition is None and not _is_customer(name):
            for one in discourse.last[-1:]:
                if one.status == "planned" and clause.subject != "customer":
                    one.who = one.who or name.found.canonical


def _is_customer(name: NounPhrase) -> bool:
    return name.found is not None and name.found.term is not None and name.found.term.sort in ("customer", "other")


def _they_have(clause: Clause, read: ReadClause, discourse: Discourse) -> bool:
    """Whether those at whose place something is have more: "they've got the rods as well"."""
    last = discourse.last[-1] if discourse.last else None
    if last is None or last.status != "waiting" or not (last.who or last.supplier) or clause.negated:
        return False
    return read.things[0].determiner == "they" and clause.aspect in ("have", "causative done")


def _at_the_same_place(read: ReadClause, last: Drafted) -> list[Drafted]:
    parts = [one for one in read.things if one.kind == "part" and one.found is not None and not one.preposition]
    return [
        replace(last, part=one.found.canonical, side=one.sides[0] if one.sides else None, task=None, finish=None)
        for one in parts
        if one.found is not None
    ]
