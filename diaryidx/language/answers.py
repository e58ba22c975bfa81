"""What a clause makes of the statements before it: a wish declined, a plan the customer dropped, news denied."""

from __future__ import annotations

from dataclasses import replace

from diaryidx.language.clause_reader import ReadClause
from diaryidx.language.found import Clause, Drafted
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
    if "declined" in clause.kinds:  # "he wanted tan leather | I said no"
        wishes = [one for one in discourse.last if one.status == "asked for"]
        return [replace(one, status="ruled out", said_by="shop", rule="wish declined") for one in wishes]
    if "gone off it" in clause.kinds and clause.subject in ("customer", "person"):
        for one in discourse.last:
            if one.status == "ruled out":
                one.said_by, one.who = "customer", None
    elif _denies(clause, read):
        drafts[:] = [one for one in drafts if not any(one is last for last in discourse.last) or one.status != "done"]
    return []


def _denies(clause: Clause, read: ReadClause) -> bool:
    """Whether a clause only says that what was said is not so: "they're finished | no they aren't"."""
    bare = clause.negated and clause.aspect == "state" and clause.verb is not None and clause.verb[1] >= clause.last - 1
    return bare and bool(read.things) and all(thing.kind.endswith("pronoun") for thing in read.things)
