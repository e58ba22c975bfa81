"""The trail of decisions: who decided what, when, on which words, and what was undone by whom."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from datasette.utils.asgi import Forbidden
from sqlite_utils import Database

from diaryidx.builds.review import decision_json
from diaryidx.correcting import undo
from diaryidx.records import Decision
from diaryidx.shop import Shop
from diaryidx.site.addresses import film_address
from diaryidx.site.deeds import Done, Form
from diaryidx.site.page import Asked, Page
from diaryidx.site.wording import day_words
from diaryidx.staff import may
from diaryidx.store import decisions
from diaryidx.wording import clock, decision_words, over_words

SHOWN = 100


@dataclass(frozen=True, slots=True)
class Trace:
    """A decision as the trail shows it; ``address`` plays its stretch, None where the film is not here now."""

    made: Decision
    what: str
    title: str
    at: str
    when: str
    address: str | None
    undone_when: str
    can_undo: bool


def decisions_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """The decisions, newest first, a hundred a page; ``?before=`` goes on from a number."""
    made = sorted(decisions.trail(db), key=lambda one: -one.id)
    before = asked.query.get("before", "")
    if before.isdecimal():
        made = [one for one in made if one.id < int(before)]
    films = decisions.films(db)
    shown = made[:SHOWN]
    traces = []
    for one in shown:
        film = films.get(one.film)
        own = asked.person is not None and one.actor == asked.person.name
        traces.append(
            Trace(
                one,
                decision_words(one) + over_words(one),
                film.title if film else f"{one.evidence.get('title', 'a film')} (not here now)",
                clock(one.start),
                moment_words(one.made_at, shop),
                film_address(film.id, one.start) if film else None,
                moment_words(one.undone_at, shop) if one.undone_at else "",
                one.undone_at is None and (own or asked.may("oversee")),
            )
        )
    values = {"traces": traces, "earlier": shown[-1].id if len(made) > SHOWN else None}
    return Page("decisions.html", "Decisions", values, {"decisions": [decision_json(one, films) for one in shown]},
                "review")  # fmt: skip


def undo_decision(db: Database, shop: Shop, form: Form) -> Done:
    """Take back a decision by its number.

    :raises Forbidden: somebody else made it, and the person may not oversee.
    :raises NotFound: there is no such decision.
    """
    made = decisions.decision(db.conn, int(form.names["decision"]))
    if made.actor != form.person.name and not may(form.person, "oversee"):
        raise Forbidden(f"{made.actor} decided this; only they or an owner can take it back.")
    undone = undo(shop, db, form.person.name, made.id, later=True)
    return Done("/decisions", f"Undone: {decision_words(undone)}.", follow=True)


def moment_words(iso: str, shop: Shop) -> str:
    """A moment as the database keeps it, in UTC, as the shop's clock shows it."""
    moment = datetime.fromisoformat(iso).astimezone(ZoneInfo(shop.settings.timezone))
    return f"{day_words(moment.date().isoformat())}, {moment:%H:%M}"
