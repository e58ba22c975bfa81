"""What films say beside statements, as pages show it: other films, what is pointed at, a tutorial's needs and steps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from diaryidx.film_records import CustomerPart, FilmLink, Needs, Pointing, Remarks
from diaryidx.records import Recording
from diaryidx.remark_wording import customer_part_words, torque_words
from diaryidx.site.addresses import exact_still_address, film_address
from diaryidx.site.moments import Moment
from diaryidx.site.other_films import OtherFilm, other_film
from diaryidx.site.wording import capitalised, sentence_words
from diaryidx.wording import clock, doubt


@dataclass(frozen=True, slots=True)
class PointedAt:
    """A moment at which somebody points, with the picture of that very second; no picture of sound alone."""

    words: str
    at: str
    address: str
    still: str | None
    part: str


@dataclass(frozen=True, slots=True)
class NeedLines:
    """What a tutorial or a step of it needs, in words; empty where nothing is named."""

    tools: tuple[str, ...]
    needed: tuple[str, ...]
    torques: tuple[tuple[str, str], ...]
    warnings: tuple[tuple[str, str], ...]

    def __bool__(self) -> bool:
        return bool(self.tools or self.needed or self.torques or self.warnings)


@dataclass(frozen=True, slots=True)
class LineRemarks:
    """What is shown below a line of a film."""

    films: tuple[OtherFilm, ...] = ()
    pointed: tuple[PointedAt, ...] = ()
    aside: bool = False


def pointed_at(one: Pointing, film: Recording) -> PointedAt:
    """A moment of pointing, with the address that plays from there."""
    still = exact_still_address(film.id, one.at) if film.has_picture else None
    return PointedAt(one.text, clock(one.at), film_address(film.id, one.at), still, one.part or "")


def line_remarks(film: Recording, remarks: Remarks, links: Iterable[FilmLink]) -> dict[int, LineRemarks]:
    """What is shown below the lines of a film, by their places; lines with nothing are left out."""
    known = {(link.film, link.start): other_film(link) for link in links}
    places = {one.sentence for one in remarks.references} | {one.sentence for one in remarks.pointings}
    away = {place for aside in remarks.asides for place in range(aside.first, aside.last + 1)}
    return {
        place: LineRemarks(
            tuple(known[one.film or "", one.start] for one in remarks.references
                  if one.sentence == place and (one.film or "", one.start) in known),
            tuple(pointed_at(one, film) for one in remarks.pointings if one.sentence == place),
            place in away,
        )
        for place in places | away
    }  # fmt: skip


def need_lines(needs: Needs, film: Recording) -> NeedLines:
    """What is needed, in words; torques and warnings with the address that plays them."""
    return NeedLines(
        tuple(need.said for need in needs.tools),
        tuple(need.said for need in needs.needed),
        tuple((torque_words(one), film_address(film.id, one.start)) for one in needs.torques),
        tuple((sentence_words(one.text), film_address(film.id, one.start)) for one in needs.warnings),
    )


def steps_of(film: Recording, remarks: Remarks) -> dict[int, NeedLines]:
    """What each step of a tutorial needs, by the place of its first sentence."""
    return {step.first: need_lines(Needs.of([step]), film) for step in remarks.steps if step.number}


def customer_moments(
    found: Sequence[CustomerPart], titles: Mapping[str, tuple[str, str | None]]
) -> list[tuple[str, Moment]]:
    """What a customer supplied or wants copied, in words, each with the moment that says so."""
    return [(capitalised(customer_part_words(one)), _said(one, titles)) for one in found if one.recording in titles]


def _said(one: CustomerPart, titles: Mapping[str, tuple[str, str | None]]) -> Moment:
    recording = one.recording or ""
    return Moment(recording, *titles[recording], one.start, sentence_words(one.text), doubt(one.certainty))
