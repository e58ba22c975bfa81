"""What is heard in two films, as in raw footage and the cut made of it, told once, with both films named."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from diaryidx.records import Event, ProductLine, Statement
from diaryidx.store import decisions
from diaryidx.store.decisions import Shared

#: How far apart the same words may lie in two films once moved in time, in seconds: films are cut into sentences
#: anew, and their offset is known to about a tenth of a second (our own choice).
NEAR = 1.5


class Timed(Protocol):
    """Anything that was said in a film."""

    @property
    def recording(self) -> str | None:
        """The film's id."""

    @property
    def start(self) -> float | None:
        """Where it begins in the film, in seconds."""

    @property
    def end(self) -> float | None:
        """Where it ends in the film, in seconds."""


One = TypeVar("One", bound=Timed)


@dataclass(frozen=True, slots=True)
class Retold:
    """Which stretches of films are heard in other ones. ``rank`` says of two films which one is named first."""

    stretches: Mapping[str, Sequence[Shared]]
    rank: Mapping[str, tuple[bool, str, str]]

    def once(self, said: Sequence[One]) -> list[One]:
        """What was said, without what another film holds too: the statement that stays names it in ``also``.

        What a person tied to its build stays before what nobody did; else the film that is published, else the older.
        """
        if not self.stretches:
            return list(said)
        by_film: dict[str, list[int]] = defaultdict(list)
        for place, one in enumerate(said):
            if one.recording and one.recording in self.stretches:
                by_film[one.recording].append(place)
        stays: dict[int, list[int]] = {}
        gone: set[int] = set()
        for place in sorted(
            (place for places in by_film.values() for place in places), key=lambda at: self._key(said[at])
        ):
            if place not in gone:
                again = [at for at in self._elsewhere(said, place, by_film) if at not in stays]
                stays[place] = again
                gone.update(again)
        return [
            _named(one, [said[at] for at in stays.get(place, ())])
            for place, one in enumerate(said)
            if place not in gone
        ]

    def without_tied(self, said: Sequence[Statement], tied: Sequence[Statement]) -> list[Statement]:
        """Statements of no known bike, without those that another film holds too and that are tied to a bike there."""
        by_film: dict[str, list[int]] = defaultdict(list)
        for place, one in enumerate(tied):
            by_film[one.recording or ""].append(place)
        nobodys = [replace(one, build=None) for one in tied] if self.stretches else []
        return [
            one
            for one in said
            if not any(
                _meets(replace(one, build=None), nobodys[at], piece.other_start - piece.start)
                for piece in self.stretches.get(one.recording or "", ())
                for at in by_film.get(piece.other, ())
            )
        ]

    def same_films(self, one: str, other: str) -> bool:
        """Whether a good half of the shorter of two films is heard in the other."""
        shared = sum(piece.end - piece.start for piece in self.stretches.get(one, ()) if piece.other == other)
        shorter = min((piece.shorter for piece in self.stretches.get(one, ()) if piece.other == other), default=0.0)
        return shared > 0 and shared >= shorter / 2

    def _key(self, one: Timed) -> tuple[bool, tuple[bool, str, str]]:
        return not getattr(one, "decided", False), self.rank[one.recording or ""]

    def _elsewhere(self, said: Sequence[Timed], place: int, by_film: Mapping[str, Sequence[int]]) -> list[int]:
        """The places of what is the same words in other films; in each of them, as many as are of the same thing."""
        one = said[place]
        start, end = one.start or 0.0, one.end or 0.0
        found = []
        for piece in self.stretches[one.recording or ""]:
            if piece.start - NEAR <= (start + end) / 2 <= piece.end + NEAR:
                shift = piece.other_start - piece.start
                found += [at for at in by_film.get(piece.other, ()) if _meets(one, said[at], shift)]
        return found


def retold_films(db: sqlite3.Connection) -> Retold:
    """Which films of the archive hold the same stretches."""
    stretches: dict[str, list[Shared]] = defaultdict(list)
    for one in decisions.shared_stretches(db):
        stretches[one.recording].append(one)
    return Retold(stretches, decisions.published_first(db) if stretches else {})


def _meets(one: Timed, other: Timed, shift: float) -> bool:
    """Whether two things are the same words, one moved in time into the other film, and say the same of one thing."""
    start, end = (one.start or 0.0) + shift, (one.end or 0.0) + shift
    middle = ((other.start or 0.0) + (other.end or 0.0)) / 2
    near = (
        start - NEAR <= middle <= end + NEAR
        or (other.start or 0.0) - NEAR <= (start + end) / 2 <= (other.end or 0.0) + NEAR
    )
    return near and _thing(one) == _thing(other) and _sides_meet(one, other)


def _thing(one: Timed) -> tuple[object, ...]:
    """What something is about, as far as one hearing and the next must agree."""
    if isinstance(one, Statement):
        about = one.part or one.product
        return (one.build, about, None if about else one.task, None if about or one.task else one.status)
    if isinstance(one, ProductLine):
        return (one.product,)
    if isinstance(one, Event):
        return (one.name, one.date)
    return (type(one),)


def _sides_meet(one: Timed, other: Timed) -> bool:
    """Whether two hearings of the same words can be of one side: an unnamed one was only not heard."""
    sides = {getattr(one, "side", None), getattr(other, "side", None)}
    return None in sides or "both" in sides or len(sides) == 1


def _named(one: One, again: Sequence[Timed]) -> One:
    if isinstance(one, Statement) and again:
        also = tuple(sorted({(other.recording or "", other.start or 0.0) for other in again}))
        return replace(one, also=also)
    return one
