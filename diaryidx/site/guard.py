"""The site's border: small checks that every request passes before Datasette sees it, each with its own test.

Nothing can be changed through this site yet, so every method but GET and HEAD is refused. That does not lean on
Datasette's cross-site check, which lets requests without cookies pass.
"""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, Sequence
from typing import Any

from diaryidx.site.media import Receive, Scope, Send

App = Callable[[Scope, Receive, Send], Awaitable[None]]

#: Names under which a browser on this machine reaches it. A page elsewhere that makes its own name point at this
#: machine (DNS rebinding) sends that name and is refused.
OWN_HOSTS = ("127.0.0.1", "localhost", "[::1]")
READING_METHODS = ("GET", "HEAD")
#: Datasette's inner pages (settings, paths on disk, threads, sign-in by token) are closed; its static files are needed.
INNER, INNER_OPEN = "/-/", ("/-/static/",)
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)


def guarded(app: App, own_hosts: Sequence[str] = OWN_HOSTS) -> App:
    """Wrap the site: own host names only, reading only, inner pages closed, safe headers, no body after HEAD."""

    async def guard(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return await app(scope, receive, send)
        refused = _refusal(scope, own_hosts)
        if refused is not None:
            return await _refuse(scope, send, *refused)
        return await app(scope, receive, _with_headers(send, scope["method"] == "HEAD"))

    return guard


def _refusal(scope: Scope, own_hosts: Sequence[str]) -> tuple[int, str] | None:
    """Why a request is refused, as a status and a line; None when it may pass."""
    hosts = [value.decode("latin-1") for name, value in scope["headers"] if name.lower() == b"host"]
    if len(hosts) != 1:
        return 400, "The request does not say which site it is for."
    if _without_port(hosts[0]).lower() not in own_hosts:
        return 421, "This site answers only on the machine it runs on, as 127.0.0.1 or localhost."
    if scope["method"] not in READING_METHODS:
        return 405, "This site is for reading; nothing can be changed through it."
    if scope["path"].startswith(INNER) and not scope["path"].startswith(INNER_OPEN):
        return 404, "There is nothing here. Start from the front page: /"
    return None


def _without_port(host: str) -> str:
    name, colon, port = host.rpartition(":")
    return name if colon and port.isdigit() else host


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


def _with_headers(send: Send, bodiless: bool) -> Send:
    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            headers = list(message.get("headers", ()))
            own = {bytes(name).lower() for name, _value in headers}
            message = {**message, "headers": [*headers, *(one for one in HEADERS if one[0] not in own)]}
        elif bodiless and message["type"] == "http.response.body":
            message = {**message, "body": b""}
        await send(message)

    return sending
