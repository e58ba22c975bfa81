"""A site that really runs: uvicorn on a free port of this machine, in a thread of the test.

For tests of anything but signing in, requests that bring no sign-in of their own get one at the door: a cookie as the
site itself makes it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import uvicorn
from datasette.app import Datasette

from diaryidx.shop import Shop
from diaryidx.site.context import shop_of
from diaryidx.site.guard import App
from diaryidx.site.server import listen, make_app
from diaryidx.site.signin import COOKIE, cookie_for, starter


def signed_in(site: Datasette) -> App:
    """A site for tests that are not about signing in: its owner is."""
    app, staff = site.app(), shop_of(site).settings.staff  # type: ignore[union-attr]
    owner = next((person for person in staff if person.role == "owner"), starter())
    cookie = f"{COOKIE}={cookie_for(site, owner)}".encode()

    async def at_the_door(scope: Any, receive: Any, send: Any) -> None:
        headers = scope.get("headers", [])
        brought = b"; ".join(value for name, value in headers if name.lower() == b"cookie")
        if scope["type"] == "http" and COOKIE.encode() + b"=" not in brought:
            others = [one for one in headers if one[0].lower() != b"cookie"]
            both = b"; ".join(filter(None, (brought, cookie)))
            scope = {**scope, "headers": [*others, (b"cookie", both)]}
        await app(scope, receive, send)

    return at_the_door


@contextmanager
def running(shop: Shop, *, open_door: bool = True) -> Iterator[str]:
    """The address of a shop's site, without the slash at its end, for as long as the block lasts.

    ``open_door``: whoever comes without a sign-in gets the owner's; False leaves everything to the site.
    """
    site = make_app(shop)
    with running_app(signed_in(site) if open_door else site.app()) as address:
        yield address


@contextmanager
def running_app(app: App) -> Iterator[str]:
    """The address of an application, without the slash at its end."""
    listening = listen(0)
    config = uvicorn.Config(app, log_level="critical", timeout_graceful_shutdown=1, proxy_headers=False)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    deadline = time.monotonic() + 20
    while not server.started and time.monotonic() < deadline:
        time.sleep(0.01)
    assert server.started, "the site did not start within 20 seconds"
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)
