"""The round-up as text that can be sent: nothing private in it, every line with its film and minute."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diaryidx.builds.private import without_private
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import clause, said_date, thing
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
from diaryidx.roundup.month import NEW_ON_THE_LIST, NOTHING_CHANGED
from diaryidx.wording import clock

#: Symbols of currencies by their ISO 4217 code; others are shown by the code.
CURRENCY_SYMBOLS = {"GBP": "£", "EUR": "€", "USD": "$", "JPY": "¥", "CNY": "¥", "INR": "₹", "KRW": "₩", "PLN": "zł"}
#: Who promises something in a film without a name.
SPEAKERS = ("I", "we")
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
    clips = [clip for clip in roundup.clips if writer.may_show(clip)]
    lines = [*_staff_note(roundup.builds), f"# {shop_name}: {said_date(roundup.month)}", ""]
    lines += [_opening(roundup, shown) if roundup.recordings else "There are no films of this month.", ""]
    lines += _section("Finished", [writer.build(moved) for moved in shown if moved.finished])
    lines += _section("On the benches", [writer.build(moved) for moved in shown if not moved.finished])
    lines += _section("New in the shop", [writer.product(line) for line in _each_once(roundup.products)])
    lines += _section("How-to films", [writer.tutorial(film) for film in roundup.tutorials])
    lines += _section("Dates", [writer.event(event) for event in roundup.dates])
    lines += _section("Promised", [writer.promise(promise) for promise in roundup.promises])
    lines += _section("Worth watching", [writer.clip(clip) for clip in clips])
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).rstrip() + "\n"


def money(price: float, currency: str | None) -> str:
    """A price with its currency: "£39.99", "£40", "40 CHF"."""
    amount = f"{price:,.0f}" if float(price).is_integer() else f"{price:,.2f}"
    symbol = CURRENCY_SYMBOLS.get(currency or "")
    return f"{symbol}{amount}" if symbol else f"{amount} {currency or ''}".strip()


def price_words(line: ProductLine) -> str:
    """A price as it was said: "£39.99"; one that was left open with its words and the day, "just under £40, as said on
    3 October 2025"; empty where none was said."""
    if line.price is None:
        return ""
    price = money(line.price, line.currency)
    if not line.approximate:
        return price
    hedge = line.hedge if line.hedge and line.hedge.split()[0] not in word_set("behind_a_price") else "about"
    return f"{hedge} {price}{said_then(line)}"


def said_then(said: ProductLine | Event) -> str:
    """The day on which something was said that may have changed since: ", as said on 3 October 2025"."""
    return f", as said on {said_date(said.said_on)}" if said.said_on else ""


def open_date_words(event: Event) -> str:
    """How a date was left open, with the words and the day: "to be confirmed (“pencilled in”, as said on ...)"."""
    if not event.tentative:
        return ""
    told = (f"“{event.hedge}”" if event.hedge else "") + said_then(event)
    return "to be confirmed" + (f" ({told.removeprefix(', ')})" if told else "")


def _staff_note(moved: Sequence[BuildMoved]) -> list[str]:
    hidden = ", ".join(f"job {one.build.job_number}" for one in moved if not one.build.public)
    note = "For staff, delete before sending: left out because the job book does not mark them as public"
    return [f"> {note}: {hidden}.", ""] if hidden else []


def _opening(roundup: RoundUp, shown: Sequence[BuildMoved]) -> str:
    """What the month has, in one sentence."""
    finished = sum(moved.finished for moved in shown)
    counts = (
        (finished, "bike finished", "bikes finished"),
        (len(shown) - finished, "bike on the benches", "bikes on the benches"),
        (len(_each_once(roundup.products)), "thing new in the shop", "things new in the shop"),
        (len(roundup.tutorials), "how-to film", "how-to films"),
    )
    told = [f"{number} {one if number == 1 else many}" for number, one, many in counts if number]
    return f"This month: {_joined(told)}." if told else "Nothing that can be shown moved this month."


def _each_once(products: Sequence[ProductLine]) -> list[ProductLine]:
    """Each product once, as it was told first: prices come first."""
    return list({line.product.lower(): line for line in reversed(products)}.values())[::-1]


def _joined(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


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
        lines = self.sentences(moved.done)
        for status in reversed(OPEN_STATUSES):
            lines += self.sentences([one for one in moved.open if one.status == status])
        since = [
            news for news in moved.since_last.split("; ") if not news.startswith((NEW_ON_THE_LIST, NOTHING_CHANGED))
        ]
        if since:
            lines.append(f"Since last time: {self.plain('; '.join(since))}.")
        return "\n".join([f"### {self.heading(moved.build)}", "", *(f"- {one}" for one in lines)]) + "\n"

    def heading(self, build: Build) -> str:
        """How people speak of a bike, with what it is where that does not say so."""
        spoken = " ".join(word for word in (build.make, build.model) if word)
        return self.plain(f"{build.name} ({spoken})" if build.nickname and spoken else build.name)

    def sentences(self, statements: Sequence[Statement]) -> list[str]:
        """Statements as sentences with their moments, in the order they were said; only the surest of many.

        Things of which the same is said in the same film share a sentence: "The seat and the tank are painted".
        """
        surest = sorted(statements, key=lambda one: -one.certainty)[:MOST_TOLD]
        told = [one for one in statements if one in surest]
        alike: dict[tuple[str, str], list[Statement]] = {}
        for one in told:
            alike.setdefault((one.recording or "", _predicate(one)[1]), []).append(one)
        lines = [f"{_capital(self.plain(_sentence(group)))} ({self.moments(group)})." for group in alike.values()]
        more = len(statements) - len(told)
        return [*lines, f"And {more} more on film."] if more else lines

    def moments(self, group: Sequence[Statement]) -> str:
        """The film and every moment in it at which something was said."""
        times = dict.fromkeys(clock(one.start) for one in group)
        return f"{self.film(group[0].recording)}, {_joined(list(times))}"

    def product(self, line: ProductLine) -> str:
        price = f", {price_words(line)}" if line.price is not None else ""
        maker = f" from {line.supplier}" if line.supplier else ""
        fits = f", fits {line.fits}" if line.fits else ""
        state = {"coming": ", coming soon", "sold out": ", sold out"}.get(line.availability or "", "")
        return f"- **{_capital(self.plain(line.product))}**{maker}{self.plain(fits)}{price}{state} ({self.at(line)})"

    def tutorial(self, film: Recording) -> str:
        address = f": {film.address}" if film.address else ""
        return f"- {film.title} ({clock(film.duration)}){address}"

    def event(self, event: Event) -> str:
        place = f", {event.place}" if event.place else ""
        doubt = f", {open_date_words(event)}" if event.tentative else ""
        return f"- {said_date(event.date)}: {self.plain(event.name + place)}{doubt} ({self.at(event)})"

    def promise(self, promise: Promise) -> str:
        doer = f", {self.plain(promise.doer)}" if promise.doer and promise.doer not in SPEAKERS else ""
        due = f", by {said_date(promise.due)}" if promise.due else ""
        return f"- “{self.plain(promise.text)}”{doer}{due} ({self.at(promise)})"

    def clip(self, clip: Segment) -> str:
        build = self.builds.get(clip.build or "")
        return f"- {self.plain(build.name if build else clip.title)} ({self.at(clip)} to {clock(clip.end)})"

    def may_show(self, clip: Segment) -> bool:
        """Whether a clip may be named: of no bike, or of one that the job book marks as public. A bike that could not
        be tied to the job book may be anybody's."""
        if clip.build is None:
            return clip.subject.kind != "build"
        return clip.build in self.builds and self.builds[clip.build].public

    def at(self, said: Statement | ProductLine | Event | Promise | Segment) -> str:
        return f"{self.film(said.recording)}, {clock(said.start)}"

    def film(self, recording: str | None) -> str:
        """A film by its title, a note from the bench by its day: its title is the name that a telephone gave it."""
        film = self.films.get(recording or "")
        if film and film.kind == "bench note" and film.date:
            return f"note from the bench of {said_date(film.date)}"
        return film.title if film else recording or "unknown film"

    def plain(self, text: str) -> str:
        return without_private(text, self.builds.values())


def _sentence(group: Sequence[Statement]) -> str:
    """Statements of which the same is said as one clause."""
    if len(group) == 1:
        return clause(group[0])
    nouns = list(dict.fromkeys(_predicate(one)[0] for one in group))
    if len(nouns) == 1:
        return clause(group[0])
    said = _predicate(group[0])[1]
    return f"{_joined(nouns)} are {said}" if said else _joined([clause(one) for one in group])


def _predicate(statement: Statement) -> tuple[str, str]:
    """A statement's subject and what its clause says of it; the clause itself where it has another form."""
    noun, words = thing(statement), clause(statement)
    for verb in ("is", "are"):
        if words.startswith(f"{noun} {verb} "):
            return noun, words.removeprefix(f"{noun} {verb} ")
    return words, ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
