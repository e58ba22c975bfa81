"""Signing in: who a request comes from, how long that holds, and what slows guessing down.

Passwords are checked by datasette-auth-passwords. While nobody is set up, whoever started the site signs in as its
owner by a link that is printed in the terminal and good once. The link and what slows guessing down live as long as the
running site; the key that signs, and what was signed out, outlive it (`remembered.py`).
"""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote
from weakref import WeakKeyDictionary

from datasette.app import Datasette
from datasette.utils.asgi import Forbidden, Request, Response
from itsdangerous import BadSignature

from diaryidx.noting import account_name
from diaryidx.shop import Person, Shop
from diaryidx.site.context import shop_of
from diaryidx.site.remembered import end_sign_in, was_ended
from diaryidx.staff import Ability, may

SIGN_IN, ENTER, SIGN_OUT = "/-/login", "/enter", "/sign-out"
#: The plugin that checks passwords, and the cookie that it and Datasette agree on.
CHECKER, COOKIE, FORM_COOKIE = "datasette-auth-passwords", "ds_actor", "ds_csrftoken"
#: How long one sign-in holds, in seconds: a long day in the workshop (our own choice).
SESSION_SECONDS = 12 * 3600
#: Wrong passwords in a row that cost nothing; each further one doubles the wait, in seconds, up to the longest. That
#: is far below the 100 in a row that NIST SP 800-63B, 5.2.2, allows at most (from memory).
FREE_TRIES, LONGEST_WAIT = 5, 15 * 60
MOST_REMEMBERED = 10_000
#: Who came by the link, in place of the mark of a password.
BY_LINK = "by link"


@dataclass(slots=True)
class Door:
    """What one running site remembers of signing in. ``link`` is the token that is good once; None once used."""

    link: str | None = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    ended: set[str] = field(default_factory=set)
    failures: dict[str, tuple[int, float]] = field(default_factory=dict)


_doors: WeakKeyDictionary[Datasette, Door] = WeakKeyDictionary()


def door_of(datasette: Datasette) -> Door:
    """The memory of a running site; made at first asking."""
    return _doors.setdefault(datasette, Door())


# --- who it is -------------------------------------------------------------------------------------------------------


def actor_for(person: Person) -> dict[str, Any]:
    """What the signed cookie of a person who signs in now says; never the same twice."""
    return {
        "id": person.name,
        "role": person.role,
        "since": int(time.time()),
        "session": secrets.token_hex(16),
        "key": _key_of(person),
    }


def cookie_for(datasette: Datasette, person: Person) -> str:
    """The value of the cookie for a person who signs in now."""
    value: str = datasette.sign({"a": actor_for(person)}, "actor")
    return value


def accounts_of(datasette: Datasette) -> dict[str, Any]:
    """Who may sign in with a password, as datasette-auth-passwords wants to be told."""
    shop = shop_of(datasette)
    if shop is None:
        return {}
    hashes = {f"{person.name}_password_hash": person.password_hash for person in shop.settings.staff}
    return {**hashes, "actors": {person.name: actor_for(person) for person in shop.settings.staff}}


def person_of(datasette: Datasette, cookie: str) -> Person | None:
    """Who a cookie stands for, as shop.toml has them now; None for one that is forged, too old, ended or overtaken."""
    shop = shop_of(datasette)
    actor = _actor_in(datasette, cookie)
    if shop is None or actor is None or actor["session"] in door_of(datasette).ended:
        return None
    if was_ended(shop.folder, actor["session"]):
        return None
    if not 0 <= time.time() - actor["since"] <= SESSION_SECONDS:
        return None
    if not shop.settings.staff:
        return starter() if actor["key"] == BY_LINK else None
    found = (person for person in shop.settings.staff if person.name == actor["id"])
    return next((person for person in found if _key_of(person) == actor["key"]), None)


def starter() -> Person:
    """Whoever started the site, by the name of their account on this machine."""
    return Person(account_name(), "owner")


def _actor_in(datasette: Datasette, cookie: str) -> dict[str, Any] | None:
    try:
        actor = datasette.unsign(cookie, "actor")["a"]
    except (BadSignature, KeyError, TypeError):
        return None
    whole = isinstance(actor, dict) and {"id", "since", "session", "key"} <= actor.keys()
    return actor if whole else None


def _key_of(person: Person) -> str:
    """Changes with the password, so that a new one ends what was begun with the old one."""
    return hashlib.sha256(person.password_hash.encode()).hexdigest()[:16] if person.password_hash else BY_LINK


def person_in(request: Request) -> Person | None:
    """Who a request comes from, as the guard found out."""
    person: Person | None = request.scope.get("person")
    return person


def require(request: Request, ability: Ability) -> Person:
    """Who a request comes from, if they may do something.

    :raises Forbidden: they may not.
    """
    person = person_in(request)
    if person is None:
        raise Forbidden("Sign in first.")
    if not may(person, ability):
        raise Forbidden(f"{person.name} is signed in as {person.role}, which this is not open to.")
    return person


# --- coming and going ------------------------------------------------------------------------------------------------


def entrance(datasette: Datasette, address: str) -> str | None:
    """The link by which whoever started the site signs in, once; None where people are set up."""
    shop = shop_of(datasette)
    token = door_of(datasette).link
    return (
        None if shop is None or shop.settings.staff or token is None else f"{address.rstrip('/')}{ENTER}?token={token}"
    )


def enter(datasette: Datasette, token: str) -> Response:
    """Sign in whoever comes with the link from the terminal.

    :raises Forbidden: the link was used before, is none, or people are set up by now.
    """
    door, shop = door_of(datasette), shop_of(datasette)
    good = door.link is not None and secrets.compare_digest(token.encode(), door.link.encode())
    if not good or shop is None or shop.settings.staff:
        raise Forbidden("This link is good once, and only while nobody is set up. Start the site again for a new one.")
    door.link = None
    return _moved(datasette, "/", cookie_for(datasette, starter()))


def leave(datasette: Datasette, cookie: str) -> Response:
    """End a sign-in, also for copies of its cookie."""
    actor = _actor_in(datasette, cookie)
    if actor is not None:
        door_of(datasette).ended.add(actor["session"])
        if (shop := shop_of(datasette)) is not None:
            end_sign_in(shop.folder, actor["session"], actor["since"] + SESSION_SECONDS)
    return _moved(datasette, SIGN_IN, "")


def _moved(_datasette: Datasette, address: str, cookie: str) -> Response:
    response = Response.redirect(address, headers={"Cache-Control": "no-store"})
    response.set_cookie(COOKIE, cookie, max_age=None if cookie else 0)
    response.set_cookie(FORM_COOKIE, "", max_age=0)  # what was set before somebody signed in is worth nothing after
    return response


def way_back(asked: str) -> str:
    """Where to go after signing in: a place on this site, else the front page."""
    inside = asked.startswith("/") and not asked.startswith(("//", "/\\", ENTER, SIGN_OUT, SIGN_IN))
    return asked if inside and asked.isascii() and asked.isprintable() else "/"


def sign_in_address(path: str) -> str:
    """The sign-in page that leads on to a place."""
    back = way_back(path)
    return SIGN_IN if back == "/" else f"{SIGN_IN}?next={quote(back, safe='/')}"


# --- guessing --------------------------------------------------------------------------------------------------------


def wait_before_trying(door: Door, keys: tuple[str, ...], now: float) -> int:
    """How many seconds must pass before somebody may try again.

    :param keys: what tries are counted by: the name that is tried, and where it is tried from.
    """
    waits = [0.0]
    for key in keys:
        count, last = door.failures.get(key, (0, 0.0))
        if count >= FREE_TRIES:
            waits.append(last + min(2.0 ** (count - FREE_TRIES), LONGEST_WAIT) - now)
    return max(0, -int(-max(waits) // 1))


def count_try(door: Door, keys: tuple[str, ...], now: float) -> None:
    """Remember a try, before it is known how it ends."""
    if len(door.failures) > MOST_REMEMBERED:
        recent = sorted(door.failures.items(), key=lambda item: item[1][1])[-MOST_REMEMBERED // 2 :]
        door.failures = dict(recent)
    for key in keys:
        door.failures[key] = (door.failures.get(key, (0, 0.0))[0] + 1, now)


def forget_tries(door: Door, keys: tuple[str, ...]) -> None:
    """Somebody knew the password."""
    for key in keys:
        door.failures.pop(key, None)


def named(shop: Shop, typed: str) -> str:
    """The name in staff that somebody means; telephones write capitals and spaces of their own."""
    wanted = " ".join(typed.split()).casefold()
    found = (person.name for person in shop.settings.staff if person.name.casefold() == wanted)
    return next(found, typed)


def cookies_of(scope: Mapping[str, Any]) -> dict[str, str]:
    """The cookies of a request. Of several with one name the last counts: browsers send those of longer paths, which
    another site on this machine may have set for a part of ours, before the one for all of it (RFC 6265, 5.4)."""
    cookies: dict[str, str] = {}
    for name, value in scope["headers"]:
        if name.lower() == b"cookie":
            for pair in value.decode("latin-1").split(";"):
                key, equals, text = pair.strip().partition("=")
                if equals:
                    cookies[key] = text.strip('"')
    return cookies
