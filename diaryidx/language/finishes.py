"""How things look: which finish is said of which thing; and which things are the shop's own tools."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.language.clause_reader import Head, ReadClause
from diaryidx.language.found import NounPhrase

POINTING = frozenset(("the", "this", "that", "those", "these"))


def finishes_of(
    thing: NounPhrase, things: Sequence[NounPhrase], head: Head | None, read: ReadClause, told: bool = True
) -> list[str]:
    """The finishes said of a thing: those that follow it, else what stands before it.

    Arguments:
        thing: the thing.
        things: the things beside it.
        head: the task; of several tasks a finish belongs to the last one before it.
        read: the clause.
        told: whether the thing is told to be so, rather than wished or refused ("no more talk of the red wheels").
    """
    which = thing.kind == "one" or (
        told and thing.determiner in POINTING
    )  # "the blue one", "that green frame": which, not how
    before = [] if which else thing.finishes
    after = [one for one in read.finishes if one[0] >= thing.end]
    if not after and thing.kind != "part" and len(read.finishes) == 1:
        after = read.finishes
    if not after or (before and thing.preposition == "with"):  # "with cream panels and | a gold coachline"
        return before
    others = [one for one in things if thing.end <= one.start <= after[0][0]]
    until = min((one.start for one in things if one.start > after[0][0]), default=None)
    after = [one for one in after if until is None or one[0] < until]
    named = [one for one in read.heads if one.task and one.form != "noun"]
    owner = next((one for one in reversed(named) if one.place < after[0][0]), None)
    if (head is not None and owner is not None and owner is not head and head in named) or (before and others):
        return before
    return list(dict.fromkeys([*before, *(finish for _, finish in after)]))


def is_tool(thing: NounPhrase) -> bool:
    """Whether a thing is one of the shop's own tools, no part of a bike."""
    return thing.found is not None and thing.found.term is not None and thing.found.term.system == "tools"
