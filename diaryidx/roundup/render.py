"""The round-up as text that can be sent: nothing private in it, every line with its film and minute."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from diaryidx.builds.vin import plain_vin
from diaryidx.builds.word_lists import word_list
from diaryidx.builds.wording import STATUS_WORDS, clock, describe, said_date
from diaryidx.records import Build, BuildMoved, Event, ProductLine, Promise, Recording, RoundUp, Segment, Statement

#: Symbols of currencies by their ISO 4217 code; others are shown by the code.
CURRENCY_SYMBOLS = {"GBP": "£", "EUR": "€", "USD": "$", "JPY": "¥", "CNY": "¥", "INR": "₹", "KRW": "₩", "PLN": "zł"}
_TITLES = "|".join(word_list("titles"))
_MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[a-z]{2,}", re.IGNORECASE)
_PHONE = re.compile(r"(?<![\w.])\+?\d[\d ()/-]{7,}\d(?!\w)")


def as_markdown(
    roundup: RoundUp,
    shop_name: str,
    recordings: Sequence[Recording] = (),
    builds: Sequence[Build] = (),
) -> str:
    """Write the round-up of a month.

    Builds that the job book does not mark as public are left out; a note for staff at the top says which, to be
    deleted before sending. What was said is only quoted after `without_private` has gone over it.

    :param recordings: further films whose titles may be needed, besides those of the month.
    :param builds: the whole job book, so that no customer in it is named; the builds of the round-up are always used.
    """
    films = {film.id: film for film in (*recordings, *roundup.recordings)}
    private = [*builds, *(moved.build for moved in roundup.builds)]
    shown = [moved for moved in roundup.builds if moved.build.public]
    hidden = [moved for moved in roundup.builds if not moved.build.public]
    lines = [*_staff_note(hidden), f"# {shop_name}: {said_date(roundup.month)}", ""]
    if not roundup.recordings:
        lines += ["There are no films of this month.", ""]
    lines += _section("Finished", [_build(moved, films, private) for moved in shown if moved.finished])
    lines += _section("On the benches", [_build(moved, films, private) for moved in shown if not moved.finished])
    lines += _section("New in the shop", [_product(line, films, private) for line in roundup.products])
    lines += _section("How-to films", [_tutorial(film) for film in roundup.tutorials])
    lines += _section("Dates", [_event(event, films, private) for event in roundup.dates])
    lines += _section("Promised", [_promise(promise, films, private) for promise in roundup.promises])
    hidden_jobs = {moved.build.job_number for moved in hidden}
    clips = [clip for clip in roundup.clips if clip.build not in hidden_jobs]
    lines += _section("Worth watching", [_clip(clip, films, private) for clip in clips])
    return "\n".join(lines).rstrip() + "\n"


def without_private(text: str, builds: Iterable[Build]) -> str:
    """A quoted text without customers' names, registrations, VINs, telephone numbers and e-mail addresses.

    A customer's whole name and surname are taken out wherever they stand; a first name alone is not, since engines hear
    "will" and "mark" in every second sentence.
    """
    text = _PHONE.sub("[number]", _MAIL.sub("[address]", text))
    for build in builds:
        for name in _customer_names(build.customer or ""):
            pattern = rf"\b(?:(?:{_TITLES})\.?\s+)?{re.escape(name)}(?=\b|['’]s)"
            text = re.sub(pattern, "the customer", text, flags=re.IGNORECASE)
        for number in (build.registration, build.vin and plain_vin(build.vin)):
            signs = re.sub(r"[\W_]", "", number or "")
            if len(signs) >= 4:
                text = re.sub(r"[\W_]*".join(map(re.escape, signs)), "[number]", text, flags=re.IGNORECASE)
    return text


def money(price: float, currency: str | None) -> str:
    """A price with its currency: "£39.99", "£40", "40 CHF"."""
    amount = f"{price:,.0f}" if float(price).is_integer() else f"{price:,.2f}"
    symbol = CURRENCY_SYMBOLS.get(currency or "")
    return f"{symbol}{amount}" if symbol else f"{amount} {currency or ''}".strip()


def _customer_names(customer: str) -> list[str]:
    words = [
        word
        for word in re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*", customer)
        if not re.fullmatch(_TITLES, word.lower())
    ]
    whole = " ".join(words)
    names = [whole, words[-1]] if len(words) > 1 else [whole]
    return [name for name in names if len(name) > 2]


def _staff_note(hidden: Sequence[BuildMoved]) -> list[str]:
    if not hidden:
        return []
    jobs = ", ".join(f"job {moved.build.job_number}" for moved in hidden)
    return [
        f"> For staff, delete before sending: left out because the job book does not mark them as public: {jobs}.",
        "",
    ]


def _section(title: str, items: Sequence[str]) -> list[str]:
    return [f"## {title}", "", *items, ""] if items else []


def _build(moved: BuildMoved, films: Mapping[str, Recording], private: Sequence[Build]) -> str:
    lines = [f"### {without_private(moved.build.name, private)}", ""]
    if moved.finished:
        lines.append("Finished this month.")
    if moved.done:
        lines.append(f"Done: {_sources(moved.done, films)}.")
    for status in ("in progress", "waiting", "planned", "asked for"):
        if statements := [one for one in moved.open if one.status == status]:
            lines.append(f"{STATUS_WORDS[status].capitalize()}: {_sources(statements, films)}.")
    return without_private("\n".join([*lines, f"Since last time: {moved.since_last}.", ""]), private)


def _sources(statements: Sequence[Statement], films: Mapping[str, Recording]) -> str:
    return "; ".join(f"{describe(one)} ({_at(one, films)})" for one in statements)


def _product(line: ProductLine, films: Mapping[str, Recording], private: Sequence[Build]) -> str:
    price = (
        f", {'about ' if line.approximate else ''}{money(line.price, line.currency)}" if line.price is not None else ""
    )
    maker = f" from {line.supplier}" if line.supplier else ""
    fits = f", fits {line.fits}" if line.fits else ""
    state = {"coming": ", coming soon", "sold out": ", sold out"}.get(line.availability or "", "")
    return without_private(f"- **{line.product}**{maker}{fits}{price}{state} ({_at(line, films)})", private)


def _tutorial(film: Recording) -> str:
    address = f": {film.address}" if film.address else ""
    return f"- {film.title} ({clock(film.duration)} min){address}"


def _event(event: Event, films: Mapping[str, Recording], private: Sequence[Build]) -> str:
    place = f", {event.place}" if event.place else ""
    doubt = ", to be confirmed" if event.tentative else ""
    return without_private(f"- {said_date(event.date)}: {event.name}{place}{doubt} ({_at(event, films)})", private)


def _promise(promise: Promise, films: Mapping[str, Recording], private: Sequence[Build]) -> str:
    due = f", by {said_date(promise.due)}" if promise.due else ""
    return f"- “{without_private(promise.text, private)}”{due} ({_at(promise, films)})"


def _clip(clip: Segment, films: Mapping[str, Recording], private: Sequence[Build]) -> str:
    return without_private(f"- {clip.title} ({_at(clip, films)} to {clock(clip.end)})", private)


def _at(said: Statement | ProductLine | Event | Promise | Segment, films: Mapping[str, Recording]) -> str:
    film = films.get(said.recording or "")
    return f"{film.title if film else said.recording}, {clock(said.start)}"
