"""The site as a program: a Datasette over the shop's database with our plugins, on this machine only."""

from __future__ import annotations

import asyncio
import errno
import logging
import socket
import ssl
import webbrowser
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import httpx
import uvicorn
from datasette.app import Datasette

from diaryidx.errors import WrongUse
from diaryidx.resources import plugins_folder
from diaryidx.shop import Shop
from diaryidx.site.context import DATABASE, PLUGIN
from diaryidx.site.remembered import signing_key
from diaryidx.site.signin import entrance
from diaryidx.staff import ABILITIES, Ability
from diaryidx.store.database import open_store

#: The only address it listens on unless told otherwise.
HOST = "127.0.0.1"
#: Stands for every address of the machine.
EVERYWHERE = "0.0.0.0"
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
            "databases": {DATABASE: {"allow": {"role": _roles("tables", "customers")}, "allow_sql": False}},
            "plugins": {PLUGIN: {"shop": str(shop.folder), "hosts": list(hosts)}},
        },
        plugins_dir=str(plugins),
        template_dir=str(plugins / "templates"),
        static_mounts=[("static", str(plugins / "static"))],
        settings=SETTINGS,
        secret=signing_key(shop.folder),
    )


def _roles(*needed: Ability) -> list[str]:
    """The roles that have all of some abilities; the tables hold customers' names as they are."""
    return [role for role, abilities in ABILITIES.items() if abilities.issuperset(needed)]


@dataclass(frozen=True, slots=True)
class Reach:
    """From where the site is reached: the machine's address that it listens at, and the files for HTTPS, if any."""

    host: str = HOST
    certificate: Path | None = None
    key: Path | None = None

    @property
    def own_machine_only(self) -> bool:
        """Whether nobody else in the network reaches it."""
        return self.host == HOST

    def address(self, port: int, host: str | None = None) -> str:
        """Its web address."""
        return f"{'https' if self.certificate else 'http'}://{host or self.host}:{port}/"


def serve(
    shop: Shop,
    port: int | None,
    open_browser: bool,
    on_ready: Callable[[str, str | None], None],
    reach: Reach | None = None,
) -> None:
    """Run the site until Ctrl-C; on this machine alone unless told otherwise.

    :param port: where to listen; the next free one when it is taken; 0 or None for any.
    :param on_ready: called once the site really answered, with its address and, while nobody is set up to sign in, with
        the link that signs in whoever started it.
    :raises WrongUse: no port is free, or others are to reach it while nobody is set up to sign in.
    :raises StoreError: as `make_app`.
    """
    reach = reach or Reach()
    if not reach.own_machine_only and not shop.settings.staff:
        raise WrongUse("set up who may sign in first, `diaryidx staff add NAME --role owner`; then others can reach it")
    site = make_app(shop, () if reach.own_machine_only else ("*", *_machine_names()))
    listening = listen(port or 0, reach.host)
    found = listening.getsockname()[1]
    address = reach.address(found, _machine_names()[0] if reach.host == EVERYWHERE else None)

    def ready() -> None:
        link = entrance(site, address)
        on_ready(address, link)
        if open_browser:
            webbrowser.open(link or address)

    with listening, suppress(KeyboardInterrupt):
        asyncio.run(_run(site, listening, reach, ready))


def _machine_names() -> tuple[str, str]:
    """What this machine is called in its network, plainly and by multicast DNS (RFC 6762)."""
    name = socket.gethostname().lower().removesuffix(".local")
    return name, f"{name}.local"


def listen(port: int, host: str = HOST) -> socket.socket:
    """A socket that listens on ``port`` of this machine, or on the next free one.

    :raises WrongUse: none of the next `PORTS_TRIED` ports is free.
    """
    for candidate in range(port, min(port + PORTS_TRIED, 65536)) if port else [0]:
        try:
            listening = socket.create_server((host, candidate))
        except OSError as error:
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise WrongUse(f"cannot listen on {host}: {error.strerror}") from error
            continue
        # asyncio sets this only on sockets that it made itself; without it every answer waits for a delayed
        # acknowledgement, 40 ms on Linux, between its head and its body. Accepted sockets inherit it.
        listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return listening
    raise WrongUse(f"ports {port} to {port + PORTS_TRIED - 1} are all taken; name another one with --port")


async def _run(site: Datasette, listening: socket.socket, reach: Reach, ready: Callable[[], None]) -> None:
    config = uvicorn.Config(
        site.app(),
        lifespan="on",
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=FAREWELL_SECONDS,
        ws="none",
        ssl_certfile=reach.certificate,
        ssl_keyfile=reach.key,
        proxy_headers=False,  # nobody may say for himself where he comes from
    )
    try:
        config.load()
    except (OSError, ssl.SSLError) as error:
        raise WrongUse(f"{reach.certificate}: no certificate that this site can use ({error})") from error
    logging.getLogger("uvicorn.error").addFilter(_is_no_farewell)
    server = uvicorn.Server(config)
    own = reach.address(listening.getsockname()[1], HOST if reach.host == EVERYWHERE else None)
    announcing = asyncio.create_task(_announce(server, own, ready))
    try:
        await server.serve(sockets=[listening])
    finally:
        announcing.cancel()
        with suppress(asyncio.CancelledError):
            await announcing


def _is_no_farewell(record: logging.LogRecord) -> bool:
    """Whoever ends the site while a film plays need not be told that the film was cut off."""
    return "graceful shutdown exceeded" not in record.getMessage()


async def _announce(server: uvicorn.Server, address: str, ready: Callable[[], None]) -> None:
    """Wait until the site answers, if only with where to sign in, then say so."""
    while not server.started:
        await asyncio.sleep(0.02)
    async with httpx.AsyncClient(timeout=FIRST_PAGE_SECONDS, trust_env=False, verify=False) as client:
        await client.get(address)
    await asyncio.to_thread(ready)
