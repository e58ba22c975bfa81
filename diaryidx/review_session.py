"""Review in the terminal: one doubtful stretch at a time, a key a decision."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from sqlite_utils import Database

from diaryidx import correcting
from diaryidx.builds import review
from diaryidx.builds.finding import find_build
from diaryidx.builds.relinking import relink
from diaryidx.builds.review import Item
from diaryidx.builds.shop_words import vocabulary_of
from diaryidx.errors import DecidedBefore, DiaryidxError, WrongUse
from diaryidx.records import Build
from diaryidx.shop import Shop

#: After each decision the links that follow from it are found, as long as that takes no longer than this, in seconds;
#: in a larger archive once at the end.
PATIENCE = 0.5


class Screen(Protocol):
    """What a person sees and presses."""

    def item(self, one: Item, left: int) -> None:
        """Show a stretch and the keys; ``left`` counts those in doubt."""

    def key(self) -> str:
        """Wait for one key."""

    def ask(self, question: str) -> str:
        """Wait for a line; empty means no."""

    def say(self, text: str) -> None:
        """Show one line."""


@dataclass(slots=True)
class _Session:
    shop: Shop
    db: Database
    actor: str
    screen: Screen
    skipped: set[str] = field(default_factory=set)
    decided: list[int] = field(default_factory=list)
    links_due: bool = False
    patient: bool = True


def run(shop: Shop, db: Database, actor: str, screen: Screen) -> int:
    """Ask about one stretch after the other, most valuable first, until none is left or the person stops.

    Every decision is kept at once. A wrong key does nothing.

    :returns: how many decisions were made and not taken back.
    """
    session = _Session(shop, db, review.checked_actor(actor), screen)
    try:
        while found := review.items(db.conn, 1, session.skipped):
            if not _about(session, found[0]):
                break
        else:
            screen.say("Nothing more is in doubt." if not session.skipped else "Only what you skipped is left.")
    finally:
        if session.links_due:
            relink(db, shop.words)
    return len(session.decided)


def _about(session: _Session, one: Item) -> bool:
    """Ask about one stretch until it is decided or left; False when the person stops."""
    session.screen.item(one, review.count_items(session.db.conn))
    while True:
        key = session.screen.key()
        if key in ("q", "\x03", "\x04", "\x1b"):
            return False
        if key in ("k", " "):
            session.skipped.add(one.id)
            return True
        try:
            if _press(session, one, key):
                _follow(session)
                return True
        except DiaryidxError as error:
            session.screen.say(str(error))


def _press(session: _Session, one: Item, key: str) -> bool:
    """Do what a key stands for; whether anything was decided."""
    if key.isdigit() and 1 <= int(key) <= len(one.candidates):
        return _decide(session, one, "assign", one.candidates[int(key) - 1].job_number)
    action = KEYS.get(key.lower())
    return action is not None and action(session, one)


def _decide(session: _Session, one: Item, action: review.Action, value: str | None = None) -> bool:
    try:
        made = review.decide(session.db, one.id, action, session.actor, value)
    except DecidedBefore as error:
        session.screen.say(str(error).partition(" To decide")[0])
        if session.screen.ask("decide otherwise all the same? (yes or no)").lower() not in ("y", "yes"):
            return False
        made = review.decide(session.db, one.id, action, session.actor, value, over=True)
    session.decided.append(made.id)
    return True


def _assign(session: _Session, one: Item) -> bool:
    words = session.screen.ask("which bike")
    if not words:
        return False
    found = find_build(session.db.conn, words, vocabulary_of(session.db.conn, session.shop))
    if not isinstance(found, Build):
        raise WrongUse("that fits " + ", ".join(f"job {other.job_number} ({other.why})" for other in found))
    return _decide(session, one, "assign", found.job_number)


def _split(session: _Session, one: Item) -> bool:
    moment = session.screen.ask("cut it at (seconds or m:ss)")
    return bool(moment) and _decide(session, one, "split", moment)


def _correct_word(session: _Session, one: Item) -> bool:
    heard = session.screen.ask("what was heard")
    meant = session.screen.ask("what is meant") if heard else ""
    if not meant:
        return False
    made = correcting.correct_word(session.shop, session.db, one.id, heard, meant, session.actor)
    session.decided.append(made.id)
    session.screen.say(f"“{heard}” is written as “{meant}” in all films from now on.")
    return True


def _undo(session: _Session, _one: Item) -> bool:
    if not session.decided:
        raise WrongUse("you have decided nothing yet that could be undone here")
    correcting.undo(session.shop, session.db, session.actor, session.decided[-1])
    session.decided.pop()
    return True


def _follow(session: _Session) -> None:
    """Let other stretches follow from the decision, if that is quick."""
    session.links_due = True
    if session.patient:
        started = time.perf_counter()
        relink(session.db, session.shop.words)
        session.links_due = False
        session.patient = time.perf_counter() - started <= PATIENCE


#: What each key stands for; ``1`` to ``9`` assign a candidate, ``k`` skips and ``q`` stops.
KEYS: dict[str, Callable[[_Session, Item], bool]] = {
    "a": lambda session, one: _decide(session, one, "accept"),
    "r": lambda session, one: _decide(session, one, "refuse"),
    "n": lambda session, one: _decide(session, one, "not-a-build"),
    "b": _assign,
    "w": _correct_word,
    "s": _split,
    "j": lambda session, one: _decide(session, one, "join"),
    "u": _undo,
}
