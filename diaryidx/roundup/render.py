"""The round-up as text that can be sent: nothing private in it, every line with its film and minute."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diaryidx.builds.private import without_private
from diaryidx.builds.wording import clause, said_date
from diaryidx.records import (
    OPEN_STATUSES,
    Build,
    BuildMoved,
    Event,
    ProductLine,
    Promise,
    Recording,
    RoundUp,
    Segment,
    Statement,
)
from diaryidx.wording import clock

#: Symbols of currencies by their ISO 4217 code; others are shown by the code.
CURRENCY_SYMBOLS = {"GBP": "£", "EUR": "€", "USD": "$", "JPY": "¥", "CNY": "¥", "INR": "₹", "KRW": "₩", "PLN": "zł"}
#: How many things of one bike are told; the surest are, and the rest is counted.
MOST_TOLD = 6


def as_markdown(
    roundup: RoundUp,
    shop_name: str,
    recordings: Sequence[Recording] = (),
    builds: Sequence[Build] = (),
) -> str:
    """Write the round-up of a month.

    Builds that the job book does not mark as public are left out, with their clips; a note for staff at the top says
    which, to be deleted before sending. What was said on film is only quoted after `without_private` has gone over it.

    :param recordings: further films whose titles may be needed, besides those of the month.
    :param builds: the whole job book, so that no customer in it is named; the builds of the round-up are always used.
    """
    writer = _Writer.of(roundup, recordings, builds)
    shown = [moved for moved in roundup.builds if moved.build.public]
    lines = [*_staff_note(roundup.builds), f"# {shop_name}: {said_date(roundup.month)}", ""]
    if not roundup.recordings:
        lines += ["There are no films of this month.", ""]
    lines += _section("Finished", [writer.build(moved) for moved in shown if moved.finished])
    lines += _section("On the benches", [writer.build(moved) for moved in shown if not moved.finished])
    lines += _section("New in the shop", [writer.product(line) for line in roundup.products])
    lines += _section("How-to films", [writer.tutorial(film) for film in roundup.tutorials])
    lines += _section("Dates", [writer.event(event) for event in roundup.dates])
    lines += _section("Promised", [writer.promise(promise) for promise in roundup.promises])
    lines += _section("Worth watching", [writer.clip(clip) for clip in roundup.clips if writer.may_show(clip.build)])
    return "\n".join(lines).rstrip() + "\n"


def money(price: float, currency: str | None) -> str:
    """A price with its currency: "£39.99", "£40", "40 CHF"."""
    amount = f"{price:,.0f}" if float(price).is_integer() else f"{price:,.2f}"
    symbol = CURRENCY_SYMBOLS.get(currency or "")
    return f"{symbol}{amount}" if symbol else f"{amount} {currency or ''}".strip()


def _staff_note(moved: Sequence[BuildMoved]) -> list[str]:
    hidden = ", ".join(f"job {one.build.job_number}" for one in moved if not one.build.public)
    note = "For staff, delete before sending: left out because the job book does not mark them as public"
    return [f"> {note}: {hidden}.", ""] if hidden else []


def _section(title: str, items: Sequence[str]) -> list[str]:
    return [f"## {title}", "", *items, ""] if items else []


@dataclass(frozen=True, slots=True)
class _Writer:
    """What the lines need beside the round-up: the films by id, the builds by job number."""

    films: Mapping[str, Recording]
    builds: Mapping[str, Build]

    @classmethod
    def of(cls, roundup: RoundUp, recordings: Sequence[Recording], builds: Sequence[Build]) -> _Writer:
        every_build = (*builds, *(moved.build for moved in roundup.builds))
        return cls(
            {film.id: film for film in (*recordings, *roundup.recordings)},
            {build.job_number: build for build in every_build},
        )

    def build(self, moved: BuildMoved) -> str:
        lines = [f"### {self.plain(moved.build.name)}", ""]
        told = [self.sentences(moved.done)] if moved.done else []
        for status in reversed(OPEN_STATUSES):
            told.append(self.sentences([one for one in moved.open if one.status == status]))
        lines += [paragraph for paragraph in told if paragraph]
        since = f"Since last time: {self.plain(moved.since_last)}."
        return "\n\n".join(["\n".join(lines[:2]).rstrip(), *lines[2:], since]) + "\n"

    def sentences(self, statements: Sequence[Statement]) -> str:
        """Statements as sentences in the order they were said, each with its moment; only the surest of many."""
        surest = sorted(statements, key=lambda one: -one.certainty)[:MOST_TOLD]
        told = [one for one in statements if one in surest]
        more = len(statements) - len(told)
        sentences = [f"{_capital(self.plain(clause(one)))} ({self.at(one)})." for one in told]
        return " ".join([*sentences, f"And {more} more on film."] if more else sentences)

    def product(self, line: ProductLine) -> str:
        about = "about " if line.approximate else ""
        price = f", {about}{money(line.price, line.currency)}" if line.price is not None else ""
        maker = f" from {line.supplier}" if line.supplier else ""
        fits = f", fits {line.fits}" if line.fits else ""
        state = {"coming": ", coming soon", "sold out": ", sold out"}.get(line.availability or "", "")
        return f"- **{self.plain(line.product)}**{maker}{self.plain(fits)}{price}{state} ({self.at(line)})"

    def tutorial(self, film: Recording) -> str:
        address = f": {film.address}" if film.address else ""
        return f"- {film.title} ({clock(film.duration)}){address}"

    def event(self, event: Event) -> str:
        place = f", {event.place}" if event.place else ""
        doubt = ", to be confirmed" if event.tentative else ""
        return f"- {said_date(event.date)}: {self.plain(event.name + place)}{doubt} ({self.at(event)})"

    def promise(self, promise: Promise) -> str:
        due = f", by {said_date(promise.due)}" if promise.due else ""
        return f"- “{self.plain(promise.text)}”{due} ({self.at(promise)})"

    def clip(self, clip: Segment) -> str:
        build = self.builds.get(clip.build or "")
        return f"- {self.plain(build.name if build else clip.title)} ({self.at(clip)} to {clock(clip.end)})"

    def may_show(self, job_number: str | None) -> bool:
        """Whether a clip may be named: of no build in particular, or of one that the job book marks as public."""
        return job_number is None or (job_number in self.builds and self.builds[job_number].public)

    def at(self, said: Statement | ProductLine | Event | Promise | Segment) -> str:
        film = self.films.get(said.recording or "")
        return f"{film.title if film else said.recording}, {clock(said.start)}"

    def plain(self, text: str) -> str:
        return without_private(text, self.builds.values())


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
