"""The review page: one doubtful stretch of film at a time, and what people decide about it by a key or a button."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from sqlite_utils import Database

from diaryidx.builds import review
from diaryidx.builds.finding import find_build
from diaryidx.builds.review import Item
from diaryidx.correcting import correct_word, undo
from diaryidx.errors import DecidedBefore, DiaryidxError, WrongUse
from diaryidx.records import Build, Decision
from diaryidx.shop import Shop
from diaryidx.site.addresses import captions_address, media_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.deeds import Done, Form
from diaryidx.site.films import FilmCard, SpokenLine, spoken_lines
from diaryidx.site.page import Asked, BadAddress, Page
from diaryidx.site.wording import build_words, day_words
from diaryidx.store import reading
from diaryidx.teaching import plan_teaching
from diaryidx.wording import clock, decision_words, doubt

#: How many stretches may be put off in one address, and how many candidates have a key.
MOST_SKIPPED, MOST_KEYS = 60, 9
CHANGES_SHOWN = 6


@dataclass(frozen=True, slots=True)
class Choice:
    """A bike that a stretch may be about: the key that chooses it, how sure the machine is, and why."""

    key: str
    build: Build
    described: str
    doubt: str
    why: str


def review_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """The stretch that is most worth deciding, or the one that ``?at=`` names; ``?skip=`` lists those put off."""
    skipped = [one for one in asked.query.get("skip", "").split("\n") if one][-MOST_SKIPPED:]
    if "at" in asked.query:
        return item_page(db, review.item(db, asked.query["at"]), skipped)
    found = review.items(db, 1, frozenset(skipped))
    left = review.count_items(db)
    if found:
        return item_page(db, found[0], skipped, left)
    values = {"left": left, "again": "/review"}
    return Page("review_done.html", "Nothing to decide", values, {"item": None, "in_doubt": left}, "review")


def item_page(
    db: sqlite3.Connection, one: Item, skipped: Sequence[str], left: int | None = None, several: Sequence[Choice] = ()
) -> Page:
    """One stretch with all that helps to decide it.

    :param several: the bikes that a typed name may mean, to choose from.
    """
    left = review.count_items(db) if left is None else left
    film = reading.recording(db, one.recording)
    builds = {build.job_number: build for build in reading.builds(db)}
    choices = [
        Choice(str(number), builds[other.job_number], build_words(builds[other.job_number]),
               doubt(other.certainty), other.why)
        for number, other in enumerate(one.candidates[:MOST_KEYS], start=1)
        if other.job_number in builds
    ]  # fmt: skip
    likeliest = builds.get(one.build or "") or (choices[0].build if choices else None)
    values = {
        "item": one,
        "film": film,
        "card": FilmCard(film),
        "media": media_address(film.id),
        "captions": captions_address(film.id),
        "lines": lines_of(db, one),
        "said_on": day_words(one.said_on),
        "at": clock(one.start),
        "until": clock(one.end),
        "now": builds.get(one.build or ""),
        "now_doubt": doubt(one.certainty),
        "likeliest": likeliest,
        "choices": choices,
        "several": several,
        "all_builds": [(build, build_words(build)) for build in builds.values()],
        "left": left,
        "skipped": "\n".join(skipped),
        "skip_address": review_address([*skipped, one.id][-MOST_SKIPPED:]),
    }
    title = f"{clock(one.start)} of {one.title}: which bike is it?"
    return Page("review.html", title, values, {"item": review.item_json(one), "in_doubt": left}, "review")


def lines_of(db: sqlite3.Connection, one: Item) -> list[SpokenLine]:
    """The sentences of a stretch, as the film's page shows them."""
    return spoken_lines(reading.recording(db, one.recording), one.sentences)


def review_address(skipped: Sequence[str], at: str | None = None) -> str:
    """The review page, with what was put off, and a stretch that it is to show."""
    asked = {**({"at": at} if at else {}), **({"skip": "\n".join(skipped)} if skipped else {})}
    return "/review" + (f"?{urlencode(asked)}" if asked else "")


def decide(db: Database, shop: Shop, form: Form) -> Done | Page:
    """Do what a key or button of the review page stands for.

    :raises WrongUse: it cannot be done; nothing is kept then.
    """
    skipped = [one for one in form.text("skip").splitlines() if one]
    item_id, deed = form.text("item"), _deed_of(form)
    if deed == "undo":
        undone = undo(shop, db, form.person.name, later=True)
        film = reading.recording(db.conn, undone.evidence["recording"]) if undone.evidence.get("recording") else None
        at = None if film is None else f"{film.id}@{undone.start:.1f}"
        return Done(review_address(skipped, at), f"Undone: {decision_words(undone)}.", follow=True)
    now = review.item(db.conn, item_id)
    if deed == "word":
        return _word(db, shop, form, now, skipped)
    if "seen" in form.fields and form.text("seen") != str(now.decision or ""):
        raise WrongUse("somebody else decided about this meanwhile; look at it again")
    if deed == "find":
        found = find_build(db.conn, form.text("name"), vocabulary_of(db.conn, shop))
        if not isinstance(found, Build):
            return _ask_which(db, now, skipped, {one.job_number: one.why for one in found})
        deed, value = "assign", found.job_number
    else:
        value = form.text(deed) or form.text("value")
    try:
        made = _decided(db, now, deed, value, form.person.name, over=bool(form.text("over")))
    except DecidedBefore as error:
        return _ask_whether(db, now, skipped, deed, value, str(error).partition(" To decide")[0])
    again = deed in ("split", "join", "refuse")
    return Done(review_address(skipped, now.id if again else None), _said(made), follow=True)


def _deed_of(form: Form) -> str:
    """Which of the page's buttons was pressed."""
    pressed = [deed for deed in ("assign", "refuse", "split") if form.text(deed)]
    return pressed[0] if pressed else form.text("do")


def _decided(db: Database, now: Item, deed: str, value: str, actor: str, *, over: bool) -> Decision:
    action = next((action for action in review.ACTIONS if action == deed), None)
    if action is None:
        raise WrongUse("no button of the review page was pressed; nothing was changed")
    return review.decide(db, now.id, action, actor, value or None, over=over)


def _said(made: Decision) -> str:
    said = {"split": "Cut in two.", "join": "Joined with what follows."}
    title = made.evidence.get("title", "the film")
    return said.get(made.kind) or f"Decided: {decision_words(made)}, {title}, {clock(made.start)}."


def _ask_whether(db: Database, now: Item, skipped: Sequence[str], deed: str, value: str, before: str) -> Page:
    """What another person decided before, and the button that decides otherwise all the same."""
    values = {
        "item": now,
        "lines": lines_of(db.conn, now),
        "before": before,
        "deed": deed,
        "value": value,
        "meant": {"assign": f"it is job {value}", "refuse": f"it is not job {value}", "split": "cut it here"}.get(
            deed, {"not-a-build": "it is about no bike", "join": "it is one with what follows"}.get(deed, deed)
        ),
        "skipped": "\n".join(skipped),
        "back": review_address(skipped, now.id),
    }
    data = {"item": review.item_json(now), "decided_before": before}
    return Page("review_over.html", "Decide otherwise?", values, data, "review")


def _ask_which(db: Database, now: Item, skipped: Sequence[str], why: Mapping[str, str]) -> Page:
    builds = [reading.build(db.conn, job) for job in why]
    several = [Choice("", build, build_words(build), "", why[build.job_number]) for build in builds]
    return item_page(db.conn, now, skipped, several=several)


def _word(db: Database, shop: Shop, form: Form, now: Item, skipped: Sequence[str]) -> Done | Page:
    """Teach a misheard word: first shown with all that it changes, then, if that is meant, kept and applied."""
    heard, meant = form.text("heard"), form.text("meant")
    if form.text("sure"):
        correct_word(shop, db, now.id, heard, meant, form.person.name, later=True)
        says = f"“{heard}” is written as “{meant}” in all films from now on."
        return Done(review_address(skipped, now.id), says, follow=True)
    plan = plan_teaching(shop, db, heard, meant)
    films = {film.id: film.title for film in reading.recordings(db.conn)}
    values = {
        "item": now,
        "heard": plan.heard,
        "meant": plan.meant,
        "count": len(plan.changes),
        "films": len({one.recording for one in plan.changes}),
        "changes": [(films[one.recording], one.before.text, one.after.text) for one in plan.changes[:CHANGES_SHOWN]],
        "warnings": plan.warnings,
        "skipped": "\n".join(skipped),
        "back": review_address(skipped, now.id),
    }
    data = {"heard": plan.heard, "meant": plan.meant, "changes": len(plan.changes), "warnings": list(plan.warnings)}
    return Page("review_word.html", f"Write “{plan.meant}” for “{plan.heard}”?", values, data, "review")


def told_on_the_page(db: Database, shop: Shop, form: Form) -> Done | Page:
    """As `decide`, but what cannot be done is said on the page, which stays at the stretch."""
    try:
        return decide(db, shop, form)
    except BadAddress:
        raise
    except DiaryidxError as error:
        skipped = [one for one in form.text("skip").splitlines() if one]
        at = form.text("item") or None
        return Done(review_address(skipped, at), f"Not done: {error}", went_wrong=True)
