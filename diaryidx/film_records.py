"""What a film says beside statements: other films referred to, what is pointed at, steps, customers' parts, asides.

Plain, frozen records as in `records`: times in seconds from the start of the film, dates ISO 8601, certainty 0 to 1,
``None`` unknown. ``sentence`` is a sentence's place in its recording (0 for the first).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

_One = TypeVar("_One")
Supplied = Literal["supplied", "copied"]


@dataclass(frozen=True, slots=True)
class FilmReference:
    """Words that refer to another film of the shop, and the film that they mean.

    ``when`` is the value of the date that was said (as `language.dates.resolve` takes it), ``coming`` whether a film to
    come is meant. ``nth`` is "last" for "the last video". ``about`` are the words that say what it is about, ``terms``
    canonical terms of the trade in them, ``around`` those of the talk around. ``film`` is the recording that is meant,
    None while that is in doubt; ``likely`` are those that it may be, likeliest first. ``certainty`` is that a film is
    referred to, ``film_certainty`` that it is this one.
    """

    text: str
    start: float
    end: float
    sentence: int
    kind: str | None = None
    when: dict[str, Any] | None = None
    coming: bool = False
    nth: str | None = None
    about: tuple[str, ...] = ()
    terms: tuple[str, ...] = ()
    around: tuple[str, ...] = ()
    film: str | None = None
    likely: tuple[str, ...] = ()
    certainty: float = 0.0
    film_certainty: float = 0.0
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class FilmLink:
    """A film that is referred to from another one: the words, when they are said, how sure it is this one."""

    film: str
    title: str
    date: str | None
    text: str
    start: float
    certainty: float


@dataclass(frozen=True, slots=True)
class Pointing:
    """A moment at which somebody points: ``at`` is the second at which the pointing word is said.

    ``text`` are the words that point, ``part`` the part that is named beside them.
    """

    text: str
    at: float
    sentence: int
    part: str | None = None
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Torque:
    """A torque: ``text`` as "47 Nm (35 lbf ft)", its ``amount`` in ``unit``, and of which part, if that was said."""

    text: str
    amount: float
    unit: str
    part: str | None = None
    start: float = 0.0


@dataclass(frozen=True, slots=True)
class StepWarning:
    """A warning in its own words, and when it begins."""

    text: str
    start: float


@dataclass(frozen=True, slots=True)
class Need:
    """A tool or material: its canonical ``name``, and how it was ``said`` with its size ("10mm allen key")."""

    name: str
    said: str


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a tutorial: sentences ``first`` to ``last`` inclusive. Number 0 is what comes before the first.

    ``parts`` are canonical names of what is worked on; ``needed`` are parts and materials to have ready.
    """

    number: int
    title: str
    start: float
    end: float
    first: int
    last: int
    tools: tuple[Need, ...] = ()
    parts: tuple[str, ...] = ()
    needed: tuple[Need, ...] = ()
    torques: tuple[Torque, ...] = ()
    warnings: tuple[StepWarning, ...] = ()
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Needs:
    """All that a tutorial needs, from all its steps: tools, materials, torques and warnings, each once."""

    tools: tuple[Need, ...] = ()
    needed: tuple[Need, ...] = ()
    torques: tuple[Torque, ...] = ()
    warnings: tuple[StepWarning, ...] = ()

    @classmethod
    def of(cls, steps: Iterable[Step]) -> Needs:
        """Gather the steps of a tutorial."""
        listed = list(steps)
        return cls(
            _each_once((need.said, need) for step in listed for need in step.tools),
            _each_once((need.said, need) for step in listed for need in step.needed),
            _each_once(((one.part, one.text), one) for step in listed for one in step.torques),
            _each_once((one.text, one) for step in listed for one in step.warnings),
        )


def _each_once(keyed: Iterable[tuple[object, _One]]) -> tuple[_One, ...]:
    found: dict[object, _One] = {}
    for key, one in keyed:
        found.setdefault(key, one)
    return tuple(found.values())


@dataclass(frozen=True, slots=True)
class CustomerPart:
    """A part or material that the customer supplied, or that is to be copied from a picture or another bike.

    ``like`` is what it is to be like, in the words used; None for what was supplied.
    """

    how: Supplied
    part: str | None
    text: str
    start: float
    end: float
    sentence: int
    like: str | None = None
    certainty: float = 0.7
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Aside:
    """A digression: sentences ``first`` to ``last`` inclusive, chat or an interruption within a topic."""

    first: int
    last: int
    start: float
    end: float
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Remarks:
    """All of these in one film."""

    references: tuple[FilmReference, ...] = ()
    pointings: tuple[Pointing, ...] = ()
    steps: tuple[Step, ...] = ()
    customer_parts: tuple[CustomerPart, ...] = ()
    asides: tuple[Aside, ...] = ()
