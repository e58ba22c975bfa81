"""A site that really runs: uvicorn on a free port of this machine, in a thread of the test."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn

from diaryidx.shop import Shop
from diaryidx.site.server import listen, make_app


@contextmanager
def running(shop: Shop) -> Iterator[str]:
    """The address of a shop's site, without the slash at its end, for as long as the block lasts."""
    listening = listen(0)
    config = uvicorn.Config(make_app(shop).app(), log_level="critical", timeout_graceful_shutdown=1)
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
