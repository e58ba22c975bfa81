"""What may be sent to the site, and how much: the forms of its own pages, each with its address and its limit.

Datasette's cross-site check lets requests without cookies, and requests that name a bearer, pass. So the guard lets
neither come that far: a form needs the cookie that the check compares with, no ``Authorization``, and, where the
browser says from which site it comes, this one.
"""

from __future__ import annotations

import re
from collections.abc import MutableMapping
from typing import Any
from urllib.parse import urlsplit

from python_multipart.multipart import FormParser

from diaryidx.site.media import Receive, Scope
from diaryidx.site.signin import FORM_COOKIE, SIGN_IN, SIGN_OUT, cookies_of

#: Addresses that take a form, with the most bytes that one may have: words, photos, a voice note (our own choice).
WORDS, PHOTOS, VOICE = 100_000, 80_000_000, 120_000_000
FORMS: tuple[tuple[re.Pattern[str], int], ...] = tuple(
    (re.compile(pattern), limit)
    for pattern, limit in (
        (re.escape(SIGN_IN), WORDS),
        (re.escape(SIGN_OUT), WORDS),
        (r"/review", WORDS),
        (r"/(?:decisions|notes)/[0-9]{1,12}/undo", WORDS),
        (r"/builds/[^/]+/notes", PHOTOS),
        (r"/builds/[^/]+/voice-notes", VOICE),
    )
)
URLENCODED, MULTIPART = "application/x-www-form-urlencoded", "multipart/form-data"
#: After a form that is too long, this many times its limit is still read and thrown away, so that a browser is ready
#: to hear why it was refused.
PATIENCE = 4

Message = MutableMapping[str, Any]


class TooLarge(Exception):
    """What is sent is more than its form takes; the message says how much that is."""


def limit_of(path: str) -> int | None:
    """The most bytes that may be sent to an address; None where nothing may be sent at all."""
    return next((limit for pattern, limit in FORMS if pattern.fullmatch(path)), None)


def boundary_of(scope: Scope) -> str | None:
    """What separates the parts of a form with files; None for a form of another kind."""
    kind = next((value.decode("latin-1") for name, value in scope["headers"] if name.lower() == b"content-type"), "")
    return kind.partition("boundary=")[2].strip('"') if kind.startswith(MULTIPART) else None


def refusal(scope: Scope) -> tuple[int, str] | None:
    """Why a form is refused before it is read, as a status and a line; None when it may come in."""
    headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
    if not from_here(headers) or b"authorization" in headers or not cookies_of(scope).get(FORM_COOKIE):
        return 403, "This was not sent by a page of this site in your browser; load the page again and try once more."
    kind, _, rest = headers.get(b"content-type", "").partition(";")
    if kind.strip().lower() != URLENCODED and not (kind == MULTIPART and rest.startswith(" boundary=")):
        return 415, "This is no form of this site."
    return None


def from_here(headers: dict[bytes, str]) -> bool:
    """Whether a request comes from a page of this very site, by what browsers say of it and no page can change.

    ``Origin``: RFC 6454, 7; ``Sec-Fetch-Site``: W3C Fetch Metadata Request Headers. A browser sends at least one of
    them with a form; a program that sends neither still needs the cookie and the token.
    """
    origin, site = headers.get(b"origin"), headers.get(b"sec-fetch-site")
    if origin is not None and urlsplit(origin).netloc != headers.get(b"host", ""):
        return False
    return site in (None, "same-origin")


def limited(receive: Receive, limit: int) -> Receive:
    """What is received, until it is more than ``limit`` bytes.

    :raises TooLarge: when more comes, after some of the rest was thrown away.
    """
    taken = 0

    async def receiving() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            await drain(receive, message, limit)
            raise TooLarge(f"this is more than the {size_words(limit)} that fit here; send less")
        return message

    return receiving


async def token_in_front(boundary: str, receive: Receive) -> tuple[str, Receive]:
    """The token that a form with files begins with, and the form to be received from its start.

    Datasette's cross-site check takes the token from a header too, and cannot read forms with files by every version of
    the library that reads them (asgi-csrf 0.11 with python-multipart 0.0.34), so the guard hands it over in the header.

    :raises ValueError: the form does not begin with one.
    """
    tokens: list[str] = []
    taken: list[Message] = []

    def keep(part: Any) -> None:
        if part.field_name == b"csrftoken":
            tokens.append((part.value or b"").decode("ascii"))

    parser = FormParser(MULTIPART, keep, lambda part: None, boundary=boundary)
    more, read = True, 0
    while more and not tokens and read <= WORDS:
        message = await receive()
        taken.append(message)
        parser.write(message.get("body", b""))
        read += len(message.get("body", b""))
        more = bool(message.get("more_body")) and message["type"] == "http.request"
    if not tokens:
        raise ValueError("no token in front")

    async def again() -> Message:
        return taken.pop(0) if taken else await receive()

    return tokens[0], again


async def drain(receive: Receive, message: Message, limit: int) -> None:
    """Read on and throw away, until the end or until patience ends."""
    taken = 0
    while message.get("more_body") and message["type"] == "http.request" and taken < PATIENCE * limit:
        message = await receive()
        taken += len(message.get("body", b""))


async def whole(receive: Receive) -> bytes:
    """All that is received."""
    body, more = b"", True
    while more:
        message = await receive()
        body += message.get("body", b"")
        more = bool(message.get("more_body")) and message["type"] == "http.request"
    return body


def replayed(body: bytes) -> Receive:
    """A body that was read, to be received once more."""
    messages = [{"type": "http.request", "body": body, "more_body": False}]

    async def receiving() -> Message:
        return messages.pop() if messages else {"type": "http.disconnect"}

    return receiving


def size_words(size: int) -> str:
    """A number of bytes in words."""
    return f"{size // 1_000_000} MB" if size >= 1_000_000 else f"{size // 1000} kB"
