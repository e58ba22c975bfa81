"""The site as a program: a Datasette over the shop's database with our plugins, on this machine only."""

from __future__ import annotations

import asyncio
import errno
import socket
import webbrowser
from collections.abc import Callable, Sequence
from contextlib import suppress

import httpx
import uvicorn
from datasette.app import Datasette

from diaryidx.errors import WrongUse
from diaryidx.resources import plugins_folder
from diaryidx.shop import Shop
from diaryidx.site.context import DATABASE, PLUGIN
from diaryidx.site.signin import entrance
from diaryidx.staff import ABILITIES, Ability
from diaryidx.store.database import open_store

#: The only address it listens on unless told otherwise.
HOST = "127.0.0.1"
#: How many ports to try from the one asked for.
PORTS_TRIED = 20
#: Seconds that a film may go on playing after Ctrl-C, and that the first page may take.
FAREWELL_SECONDS, FIRST_PAGE_SECONDS = 1, 30
SETTINGS = {
    "allow_download": False,
    # Nothing on our pages needs free SQL, and a query can keep a processor busy.
    "default_allow_sql": False,
    "sql_time_limit_ms": 2000,
    "max_returned_rows": 1000,
    "suggest_facets": False,
    "max_csv_mb": 50,
    "default_cache_ttl": 0,
    "num_sql_threads": 4,
}


def make_app(shop: Shop, hosts: Sequence[str] = ()) -> Datasette:
    """The site of a shop as a Datasette instance; ``.app()`` is its ASGI application.

    The database is made or upgraded first, so that an empty shop has a site too.

    :param hosts: names under which others in the network reach it; ``*`` for any bare address.
    :raises StoreError: the database is damaged, locked or not ours.
    """
    open_store(shop.database).close()
    plugins = plugins_folder()
    return Datasette(
        files=[str(shop.database)],
        metadata={
            "title": shop.settings.name,
            "allow": {"role": _roles("look up")},
            "databases": {DATABASE: {"allow": {"role": _roles("tables")}, "allow_sql": False}},
            "plugins": {PLUGIN: {"shop": str(shop.folder), "hosts": list(hosts)}},
        },
        plugins_dir=str(plugins),
        template_dir=str(plugins / "templates"),
        static_mounts=[("static", str(plugins / "static"))],
        settings=SETTINGS,
    )


def _roles(ability: Ability) -> list[str]:
    return [role for role, abilities in ABILITIES.items() if ability in abilities]


def serve(shop: Shop, port: int | None, open_browser: bool, on_ready: Callable[[str, str | None], None]) -> None:
    """Run the site on this machine until Ctrl-C.

    :param port: where to listen; the next free one when it is taken; 0 or None for any.
    :param on_ready: called once the site really answered, with its address and, while nobody is set up to sign in, with
        the link that signs in whoever started it.
    :raises WrongUse: no port is free.
    :raises StoreError: as `make_app`.
    """
    site = make_app(shop)
    listening = listen(port or 0)
    address = f"http://{HOST}:{listening.getsockname()[1]}/"

    def ready() -> None:
        link = entrance(site, address)
        on_ready(address, link)
        if open_browser:
            webbrowser.open(link or address)

    with listening, suppress(KeyboardInterrupt):
        asyncio.run(_run(site, listening, address, ready))


def listen(port: int) -> socket.socket:
    """A socket that listens on ``port`` of this machine, or on the next free one.

    :raises WrongUse: none of the next `PORTS_TRIED` ports is free.
    """
    for candidate in range(port, min(port + PORTS_TRIED, 65536)) if port else [0]:
        try:
            listening = socket.create_server((HOST, candidate))
        except OSError as error:
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise WrongUse(f"cannot listen on {HOST}: {error.strerror}") from error
            continue
        # asyncio sets this only on sockets that it made itself; without it every answer waits for a delayed
        # acknowledgement, 40 ms on Linux, between its head and its body. Accepted sockets inherit it.
        listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return listening
    raise WrongUse(f"ports {port} to {port + PORTS_TRIED - 1} are all taken; name another one with --port")


async def _run(site: Datasette, listening: socket.socket, address: str, ready: Callable[[], None]) -> None:
    config = uvicorn.Config(
        site.app(),
        lifespan="on",
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=FAREWELL_SECONDS,
        ws="none",
        proxy_headers=False,  # nobody may say for himself where he comes from
    )
    server = uvicorn.Server(config)
    announcing = asyncio.create_task(_announce(server, address, ready))
    try:
        await server.serve(sockets=[listening])
    finally:
        announcing.cancel()
        with suppress(asyncio.CancelledError):
            await announcing


async def _announce(server: uvicorn.Server, address: str, ready: Callable[[], None]) -> None:
    """Wait until the site answers, if only with where to sign in, then say so."""
    while not server.started:
        await asyncio.sleep(0.02)
    async with httpx.AsyncClient(timeout=FIRST_PAGE_SECONDS, trust_env=False) as client:
        await client.get(address)
    await asyncio.to_thread(ready)
