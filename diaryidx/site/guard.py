"""The site's border: small checks that every request passes before Datasette sees it, each with its own test.

Nobody gets anything without signing in but the way in; nothing is changed but by the site's own forms. Neither leans on
Datasette's cross-site check alone, which lets requests without cookies pass.
"""

from __future__ import annotations

import asyncio
import ipaddress
import json
import logging
import time
import unicodedata
from collections.abc import Awaitable, Callable, Sequence
from typing import Any
from urllib.parse import parse_qs, parse_qsl, urlencode

from datasette.app import Datasette

from diaryidx.errors import DiaryidxError
from diaryidx.shop import Person, Shop
from diaryidx.site import forms, signin
from diaryidx.site.context import config_of, shop_of
from diaryidx.site.media import Receive, Scope, Send
from diaryidx.site.page import CONTENT_SECURITY_POLICY

log = logging.getLogger("diaryidx.site")

App = Callable[[Scope, Receive, Send], Awaitable[None]]

#: Names under which a browser on this machine reaches it. A page elsewhere that makes its own name point at this
#: machine (DNS rebinding) sends that name and is refused.
OWN_HOSTS = ("127.0.0.1", "localhost", "[::1]")
READING_METHODS = ("GET", "HEAD")
#: Datasette's inner pages (settings, paths on disk, threads, its own sign-in by token) are closed; its static files
#: and the sign-in page are needed.
INNER, INNER_OPEN = "/-/", ("/-/static/", signin.SIGN_IN)
#: What is there for everybody: the way in, and what its page looks like.
OPEN_EXACTLY, OPEN_BELOW = (signin.SIGN_IN, signin.ENTER), ("/static/", "/-/static/")
#: A wrong password is answered after this many seconds, whether the name is known or not.
WRONG_SECONDS = 1.0
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


def guarded(app: App, datasette: Datasette) -> App:
    """Wrap the site: own host names only, nothing private without signing in, no change but by its own forms."""
    own_hosts = (*OWN_HOSTS, *config_of(datasette).get("hosts", ()))

    async def guard(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return await app(scope, receive, send)
        refused = _refusal(scope, own_hosts)
        if refused is not None:
            await forms.drain(receive, {"type": "http.request", "more_body": True}, forms.WORDS)
            return await _refuse(scope, send, *refused)
        try:
            person = signin.person_of(datasette, signin.cookies_of(scope).get(signin.COOKIE, ""))
            shop = shop_of(datasette)
        except DiaryidxError as error:  # shop.toml was broken while the site runs: nobody can be told from anybody
            return await _refuse(scope, send, 500, str(error))
        scope = _known(scope, person)
        if person is None and not _open_to_all(_raw_path(scope)):
            return await _to_sign_in(scope, send)
        sending = _with_headers(send, scope)
        if scope["method"] in READING_METHODS:
            return await app(scope, receive, sending)
        if scope["path"] == signin.SIGN_IN and shop is not None:
            return await _sign_in(app, datasette, shop, scope, receive, sending)
        await _take_form(app, scope, receive, sending)

    return guard


def _refusal(scope: Scope, own_hosts: Sequence[str]) -> tuple[int, str] | None:
    """Why a request is refused, as a status and a line; None when it may pass."""
    hosts = [value.decode("latin-1") for name, value in scope["headers"] if name.lower() == b"host"]
    if len(hosts) != 1:
        return 400, "The request does not say which site it is for."
    if not _is_own(_without_port(hosts[0]).lower(), own_hosts):
        return 421, "This site answers to its own names alone: 127.0.0.1 or localhost on the machine it runs on."
    if scope["path"].startswith(INNER) and not scope["path"].startswith(INNER_OPEN):
        return 404 if scope["method"] in READING_METHODS else 405, "There is nothing here. Start from the front page: /"
    if scope["method"] in READING_METHODS:
        return None
    if scope["method"] != "POST" or forms.limit_of(scope["path"]) is None:
        return 405, "Nothing can be changed here; the site's own pages have forms for what can."
    return forms.refusal(scope)


def _is_own(host: str, own_hosts: Sequence[str]) -> bool:
    """Whether a host name is ours. Where the site is open to the network, ``*`` stands for every bare address."""
    if host != "*" and host in own_hosts:
        return True
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return "*" in own_hosts


def _without_port(host: str) -> str:
    name, colon, port = host.rpartition(":")
    return name if colon and port.isdigit() else host


def _open_to_all(path: str) -> bool:
    return path in OPEN_EXACTLY or path.startswith(OPEN_BELOW)


def _raw_path(scope: Scope) -> str:
    """The path as it was sent, which is what Datasette finds pages by."""
    raw: bytes | None = scope.get("raw_path")
    return scope["path"] if raw is None else raw.decode("latin-1").partition("?")[0]


def _known(scope: Scope, person: Person | None) -> Scope:
    """The request with who it comes from; cookies that are not ours or do not hold, and passwords in headers, stay out.

    Without ``Authorization``, no password can be tried past the sign-in page.
    """
    cookies = signin.cookies_of(scope)
    ours = [signin.FORM_COOKIE, "ds_messages", *([signin.COOKIE] if person else [])]
    kept = "; ".join(f"{name}={cookies[name]}" for name in ours if name in cookies and cookies[name].isascii())
    headers = [one for one in scope["headers"] if one[0].lower() not in (b"cookie", b"authorization")]
    return {**scope, "person": person, "headers": [*headers, *([(b"cookie", kept.encode())] if kept else [])]}


async def _to_sign_in(scope: Scope, send: Send) -> None:
    """A person is led to the sign-in page; a program, a player or a picture is told."""
    accepts = next((value for name, value in scope["headers"] if name.lower() == b"accept"), b"")
    path = _raw_path(scope)
    if scope["method"] not in READING_METHODS or path.endswith(".json") or b"text/html" not in accepts:
        return await _refuse(scope, send, 403, f"Sign in first: {signin.SIGN_IN}")
    asked = path + (f"?{scope['query_string'].decode('latin-1')}" if scope.get("query_string") else "")
    location = signin.sign_in_address(asked).encode()
    headers = [*HEADERS, (b"location", location), (b"cache-control", b"no-store"), (b"content-length", b"0")]
    await send({"type": "http.response.start", "status": 302, "headers": headers})
    await send({"type": "http.response.body", "body": b""})


async def _take_form(app: App, scope: Scope, receive: Receive, send: Send) -> None:
    """Let a form in, no longer than it may be; one that cannot be read is refused in a line."""
    started = False

    async def sending(message: Any) -> None:
        nonlocal started
        started = True
        await send(message)

    receiving = forms.limited(receive, forms.limit_of(scope["path"]) or 0)
    try:
        if (boundary := forms.boundary_of(scope)) is not None:
            token, receiving = await forms.token_in_front(boundary, receiving)
            scope = {**scope, "headers": [*scope["headers"], (b"x-csrftoken", token.encode())]}
        await app(scope, receiving, sending)
    except forms.TooLarge as error:
        await _refuse(scope, send, 413, str(error))
    except Exception as error:  # of who reads forms before anything catches its errors
        if started:
            raise
        log.debug("a form could not be read", exc_info=error)
        await _refuse(scope, send, 400, "This form cannot be read; load the page again and try once more.")


async def _sign_in(app: App, datasette: Datasette, shop: Shop, scope: Scope, receive: Receive, send: Send) -> None:
    """Have a name and a password checked: guessing gets ever slower, and a wrong answer tells nothing by its time."""
    started = time.monotonic()
    try:
        body = (await forms.whole(forms.limited(receive, forms.WORDS))).decode()
    except (forms.TooLarge, UnicodeDecodeError):
        return await _refuse(scope, send, 400, "This form cannot be read; load the page again and try once more.")
    fields = dict(parse_qsl(body))
    name = signin.named(shop, unicodedata.normalize("NFC", fields.get("username", "")))
    keys = f"name {name.casefold()[:60]}", f"from {(scope.get('client') or ['?'])[0]}"
    door = signin.door_of(datasette)
    wait = signin.wait_before_trying(door, keys, started)
    if wait:
        fields = {**fields, "username": "", "password": ""}
    else:
        signin.count_try(door, keys, started)
        fields["username"] = name
    answer: list[Any] = []

    async def gather(message: Any) -> None:
        answer.append(message)

    await _take_form(app, {**scope, "sign_in_wait": wait}, forms.replayed(urlencode(fields).encode()), gather)
    start = answer[0]
    if start["status"] == 302:
        signin.forget_tries(door, keys)
        answer[0] = _led_back(start, scope)
    else:
        answer[0] = {**start, "status": 429 if wait else 403}
        if wait:
            answer[0]["headers"] = [*start["headers"], (b"retry-after", str(wait).encode())]
        await asyncio.sleep(max(0.0, started + WRONG_SECONDS - time.monotonic()))
    for message in answer:
        await send(message)


def _led_back(start: Any, scope: Scope) -> Any:
    """The answer to a right password leads on to where the person wanted to go, and starts the forms' cookie anew."""
    asked = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("next", ["/"])[0]
    headers = [(name, value) for name, value in start["headers"] if name.lower() != b"location"]
    anew = f"{signin.FORM_COOKIE}=; Path=/; Max-Age=0; SameSite=Lax".encode()
    return {**start, "headers": [*headers, (b"location", signin.way_back(asked).encode()), (b"set-cookie", anew)]}


async def _refuse(scope: Scope, send: Send, status: int, line: str) -> None:
    as_json = scope["path"].endswith(".json")
    data: dict[str, Any] = {"ok": False, "status": status, "error": line}
    body = json.dumps(data).encode() if as_json else (line + "\n").encode()
    content_type = b"application/json; charset=utf-8" if as_json else b"text/plain; charset=utf-8"
    headers = [*HEADERS, (b"content-type", content_type), (b"content-length", str(len(body)).encode())]
    if status == 405:
        headers.append((b"allow", ", ".join(READING_METHODS).encode()))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})


def _with_headers(send: Send, scope: Scope) -> Send:
    """Safe headers on every answer, cookies that no script can read, and no body after HEAD."""
    added = list(HEADERS)
    if scope["path"] == signin.SIGN_IN:  # this page is made by the plugin that checks passwords
        added += [(b"content-security-policy", CONTENT_SECURITY_POLICY.encode()), (b"cache-control", b"no-store")]
    marks = b"; HttpOnly; Secure" if scope.get("scheme") == "https" else b"; HttpOnly"

    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            headers = [
                (name, value + marks if bytes(name).lower() == b"set-cookie" else value)
                for name, value in message.get("headers", ())
            ]
            own = {bytes(name).lower() for name, _value in headers}
            message = {**message, "headers": [*headers, *(one for one in added if one[0] not in own)]}
        elif scope["method"] == "HEAD" and message["type"] == "http.response.body":
            message = {**message, "body": b""}
        await send(message)

    return sending
