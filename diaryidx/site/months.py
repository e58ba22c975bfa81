"""The months, and a month's round-up: bikes that moved, products, tutorials, dates and promises."""

from __future__ import annotations

import re
import sqlite3

from diaryidx.errors import NotFound
from diaryidx.records import Event, ProductLine, Promise, Segment
from diaryidx.roundup.month import round_up
from diaryidx.roundup.render import SPEAKERS, open_date_words, price_words
from diaryidx.shapes import roundup_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address, film_address, month_address
from diaryidx.site.films import film_cards
from diaryidx.site.moments import Moment, moments_of
from diaryidx.site.overview import film_titles, months_filmed
from diaryidx.site.page import Asked, BadAddress, Page
from diaryidx.site.wording import build_words, day_words, sentence_words
from diaryidx.wording import clock, doubt

AVAILABILITY_WORDS = {"available": "to be had now", "coming": "coming", "sold out": "sold out"}


def months_page(db: sqlite3.Connection, _shop: Shop, _asked: Asked) -> Page:
    """The months that have films."""
    months = months_filmed(db)
    values = {"months": [(month_address(month), day_words(month), films) for month, films in months]}
    data = {"months": [{"month": month, "films": films} for month, films in months]}
    return Page("months.html", "Months", values, data, "months")


def month_page(db: sqlite3.Connection, _shop: Shop, asked: Asked) -> Page:
    """One month's round-up.

    :raises BadAddress: the address is no month; NotFound: it has no films.
    """
    month = asked.names["month"]
    if not re.fullmatch(r"[0-9]{4}-(0[1-9]|1[0-2])", month):
        raise BadAddress(f"months are written year first, such as /months/2025-03, not “{month[:40]}”")
    filmed = [one for one, _films in months_filmed(db)]
    if month not in filmed:
        nearest = ", ".join(day_words(one) for one in filmed[:3])
        raise NotFound(f"no film is from {day_words(month)}" + (f"; there are films from {nearest}" if nearest else ""))
    found = round_up(db, month)
    statements = [one for moved in found.builds for one in (*moved.done, *moved.open)]
    said: list[ProductLine | Event | Promise] = [*found.products, *found.dates, *found.promises]
    titles = film_titles(db, [*(one.recording for one in statements), *(one.recording for one in said)])
    values = {
        "month": day_words(month),
        "builds": [
            {
                "build": moved.build,
                "address": build_address(moved.build.job_number),
                "described": build_words(moved.build),
                "finished": moved.finished,
                "since_last": moved.since_last.split("; ") if moved.since_last else [],
                "done": moments_of(moved.done, titles),
                "open": moments_of(moved.open, titles),
            }
            for moved in found.builds
        ],
        "products": [
            (product, price_words(product), AVAILABILITY_WORDS.get(product.availability or ""), _said(product, titles))
            for product in found.products
        ],
        "tutorials": film_cards(db, found.tutorials),
        "dates": [
            (event, day_words(event.date), open_date_words(event), _said(event, titles)) for event in found.dates
        ],
        "promises": [(_due_words(one), _said(one, titles)) for one in found.promises],
        "clips": [_clip(clip) for clip in found.clips],
        "films": film_cards(db, found.recordings),
        "earlier": _beside(filmed, month, 1),
        "later": _beside(filmed, month, -1),
    }
    return Page("month.html", day_words(month), values, roundup_json(found, private=True), "months")


def _due_words(promise: Promise) -> str:
    """By when something was promised and by whom, in words; empty where neither was said."""
    due = f"For {day_words(promise.due)}" if promise.due else ""
    return ", ".join(word for word in (due, promise.doer if promise.doer not in SPEAKERS else None) if word)


def _said(said: ProductLine | Event | Promise, titles: dict[str, tuple[str, str | None]]) -> Moment:
    """The moment at which a product, date or promise was said."""
    title, date = titles.get(said.recording or "", ("", None))
    unsure = "" if isinstance(said, Event) else doubt(said.certainty)
    return Moment(said.recording, title, date, said.start, sentence_words(said.text), unsure)


def _clip(clip: Segment) -> tuple[str, str, str, str]:
    """A stretch worth cutting: its title, in and out point on the player's clock, and where it plays."""
    title = clip.title[:1].upper() + clip.title[1:]
    return title, clock(clip.start), clock(clip.end), film_address(clip.recording or "", clip.start)


def _beside(months: list[str], month: str, step: int) -> tuple[str, str] | None:
    """The month before or after among those that have films, as address and words; the list is latest first."""
    place = months.index(month) + step
    return (month_address(months[place]), day_words(months[place])) if 0 <= place < len(months) else None
