"""What the components pass on to each other: plain records over the words of one text."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from diaryidx.records import Label, SaidBy, Status
from diaryidx.vocabulary.loader import Term


@dataclass(frozen=True, slots=True)
class Found:
    """A term or measure in a text: words ``start`` to ``end`` (not included).

    ``form`` is the verb form of a task ("base", "s", "ing", "past", "ed", "noun"); ``particle`` the place of a particle
    that stands apart ("take the tank off"), else -1; ``other`` the second reading of the same words.
    """

    label: Label
    canonical: str
    start: int
    end: int
    term: Term | None = None
    form: str | None = None
    value: dict[str, Any] | None = None
    particle: int = -1
    other: Term | None = None


@dataclass(frozen=True, slots=True)
class Cue:
    """A phrase that decides status, speaker or certainty: words ``start`` to ``end``, its kind and its words."""

    kind: str
    start: int
    end: int
    text: str


@dataclass(slots=True)
class Item:
    """One letter of the row that the clause splitter reads: words ``start`` to ``end`` and what was found there."""

    letter: str
    start: int
    end: int
    word: str
    found: Found | None = None


@dataclass(slots=True)
class NounPhrase:
    """One thing in a clause: a part, a stand-in ("the rear one", "it"), a bike or a product, with its modifiers.

    ``kind`` is "part", "one" (the front one), "other" (the other side), "pronoun" (it), "plural pronoun" (them),
    "bike", "product", "person". ``start`` and ``end`` are items of the row; ``preposition`` the word before it.
    """

    kind: str
    start: int
    end: int
    found: Found | None = None
    sides: list[str] = field(default_factory=list)
    finishes: list[str] = field(default_factory=list)
    quantity: str | None = None
    preposition: str | None = None
    determiner: str | None = None
    new: bool = False  # "new seals"
    product: str | None = None  # whose name stands before it: "a Stubby tail tidy"


@dataclass(slots=True)
class Clause:
    """One clause: items ``first`` to ``last`` (not included), its verb group, and what its cues make of it."""

    first: int
    last: int
    start: int  # words
    end: int
    connector: str | None = None
    aspect: str = "none"
    waits: bool = False  # the verb's participle comes after its object
    verb: tuple[int, int] | None = None  # items
    inherited: bool = False  # the verb is that of the clause before
    shares_subject: bool = False  # its subject is that of the clause before
    subject: str = "none"  # shop, you, customer, person, thing, none
    negated: bool = False
    cues: tuple[Cue, ...] = ()
    kinds: frozenset[str] = frozenset()  # kinds of cues in whose scope it lies
    because: dict[str, str] = field(default_factory=dict)  # kind: the words of the cue


@dataclass(slots=True)
class Drafted:
    """A statement before it is tied to a sentence and a film."""

    status: Status
    rule: str
    certainty: float
    clause: int
    part: str | None = None
    side: str | None = None
    task: str | None = None
    finish: str | None = None
    product: str | None = None
    supplier: str | None = None
    quantity: str | None = None
    said_by: SaidBy = "shop"
    who: str | None = None
    when: Found | None = None  # the date said
    beside: bool = False  # a part that only comes with another: "rebuilt with new seals"
    start: int = 0  # words
    end: int = 0
