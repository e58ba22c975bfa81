"""The site as a program that a person starts and stops."""

from __future__ import annotations

import asyncio
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import httpx
import pytest
from datasette.app import Datasette

from diaryidx.errors import StoreError, WrongUse
from diaryidx.shop import Shop
from diaryidx.site import server
from diaryidx.site.server import listen, make_app
from diaryidx.site.signin import COOKIE, cookie_for, starter
from tests.site.people import with_people
from tests.site.seeded_shop import BUILDS, empty_shop

SERVING = """
import sys
from pathlib import Path
from diaryidx.shop import load_shop
from diaryidx.site.server import serve
serve(load_shop(Path(sys.argv[1])), int(sys.argv[2]), False, lambda address, link: print(link, flush=True))
print("ended", flush=True)
"""


@contextmanager
def serving(shop: Shop, port: int, script: str = SERVING) -> Iterator[subprocess.Popen[str]]:
    command = [sys.executable, "-c", script, str(shop.folder), str(port)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        yield process
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def first_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    return process.stdout.readline().strip()


def client_of(process: subprocess.Popen[str]) -> httpx.Client:
    """A browser of whoever started the site, signed in by the link that it printed."""
    link = first_line(process)
    client = httpx.Client(base_url=link.partition("/enter")[0], trust_env=False)
    assert client.get(link).status_code == 302
    return client


def get(app: Datasette, address: str) -> httpx.Response:
    cookies = {COOKIE: cookie_for(app, starter())}
    return asyncio.run(app.client.get(address, cookies=cookies))  # type: ignore[no-any-return]


def test_it_says_its_address_once_it_answers_and_ends_cleanly_on_ctrl_c(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    with serving(shop, 0) as process:
        with closing(client_of(process)) as client:
            assert client.get("/").status_code == 200
        with socket.create_connection(("127.0.0.1", client.base_url.port or 0)):
            process.send_signal(signal.SIGINT)
            out, errors = process.communicate(timeout=10)
    assert (process.returncode, out, errors) == (0, "ended\n", "")


def test_a_film_that_is_playing_does_not_hold_it_open(tmp_path: Path) -> None:
    from tests.site.test_media_serving import add_film

    shop = empty_shop(tmp_path / "shop")
    with (shop.recordings / "big.webm").open("wb") as file:
        file.truncate(200_000_000)
    add_film(shop, "big.webm")
    with serving(shop, 0) as process, client_of(process).stream("GET", "/media/film") as reply:
        next(reply.iter_bytes(1000))
        started = time.monotonic()
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=15)
    assert process.returncode == 0
    assert "Traceback" not in errors
    assert time.monotonic() - started < 8


def test_a_taken_port_leads_to_the_next_free_one(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with listen(port) as listening:
            assert port < listening.getsockname()[1] < port + server.PORTS_TRIED


def test_answers_do_not_wait_for_acknowledgements() -> None:
    """RFC 896 and RFC 1122, 4.2.3.4: without TCP_NODELAY the second small write of an answer waits for the first's."""
    with listen(0) as listening, socket.create_connection(listening.getsockname()):
        accepted, _ = listening.accept()
        with accepted:
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0


def test_no_free_port_is_said_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        monkeypatch.setattr(server, "PORTS_TRIED", 1)
        with pytest.raises(WrongUse, match="--port"):
            listen(taken.getsockname()[1])


def test_it_listens_on_this_machine_alone(tmp_path: Path) -> None:
    """Read from the kernel's own table: local addresses in hexadecimal, 0A is LISTEN (proc(5), /proc/net/tcp)."""
    if not Path("/proc/net/tcp").exists():
        pytest.skip("no /proc/net/tcp on this system")
    with listen(0) as listening:
        port = f"{listening.getsockname()[1]:04X}"
        rows = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
        assert [row[1] for row in rows if row[1].endswith(f":{port}") and row[3] == "0A"] == [f"0100007F:{port}"]


def test_a_foreign_database_is_refused_before_anything_is_served(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    shop.database.write_bytes(b"this is no database" * 100)
    with pytest.raises(StoreError):
        make_app(shop)


def test_two_shops_in_one_program_do_not_mix(tmp_path: Path) -> None:
    from diaryidx.store import writing
    from diaryidx.store.database import open_store

    one, other = empty_shop(tmp_path / "one"), empty_shop(tmp_path / "other")
    db = open_store(one.database)
    writing.save_builds(db, BUILDS)
    db.close()
    apps = make_app(one), make_app(other)
    counts = [len(get(app, "/builds.json").json()["builds"]) for app in apps]
    assert counts == [len(BUILDS), 0]


def test_another_datasette_in_the_same_program_keeps_its_own_ways(tmp_path: Path) -> None:
    make_app(empty_shop(tmp_path / "shop"))
    plain = Datasette(memory=True)
    assert asyncio.run(plain.client.get("/-/versions.json")).status_code == 200
    assert "There is nothing here" not in asyncio.run(plain.client.get("/nowhere")).text


def test_the_site_loads_neither_spacy_nor_vosk(tmp_path: Path) -> None:
    """Pages must open at once on a small machine, and a public copy of the site has neither."""
    shop = empty_shop(tmp_path / "shop")
    script = """
import asyncio, pkgutil, sys, importlib
from pathlib import Path
import diaryidx.site
for module in pkgutil.iter_modules(diaryidx.site.__path__):
    importlib.import_module(f"diaryidx.site.{module.name}")
from diaryidx.shop import load_shop
from diaryidx.site.signin import COOKIE, cookie_for, starter
app = diaryidx.site.server.make_app(load_shop(Path(sys.argv[1])))
cookies = {COOKIE: cookie_for(app, starter())}
for address in ("/", "/search?q=brake+pads", "/builds", "/questions", "/films", "/months", "/review", "/decisions"):
    assert asyncio.run(app.client.get(address, cookies=cookies)).status_code == 200, address
heavy = {"spacy", "vosk", "thinc", "srsly"} & sys.modules.keys()
sys.exit(f"loaded: {sorted(heavy)}" if heavy else 0)
"""
    ended = subprocess.run(
        [sys.executable, "-c", script, str(shop.folder)], capture_output=True, text=True, check=False
    )
    assert (ended.returncode, ended.stderr) == (0, "")


def test_serving_is_quick_to_start(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    started = time.monotonic()
    with serving(shop, 0) as process:
        first_line(process)
        assert time.monotonic() - started < 8, "from nothing to a page that answers, on two cores shared with others"


def test_others_reach_it_only_once_people_are_set_up(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    with pytest.raises(WrongUse, match="staff add"):
        server.serve(shop, 0, False, lambda address, link: None, server.Reach("0.0.0.0"))


@pytest.mark.parametrize(
    ("host", "status"),
    [("192.168.1.5:8001", 200), ("[fd00::5]:8001", 200), (server._machine_names()[1], 200), ("evil.example", 421),
     ("192.168.1.5.evil.example", 421), ("*", 421)],
)  # fmt: skip
def test_in_the_network_it_answers_to_bare_addresses_and_its_own_name_alone(
    tmp_path: Path, host: str, status: int
) -> None:
    """A page elsewhere cannot have a bare address for its own name (DNS rebinding)."""
    app = make_app(with_people(empty_shop(tmp_path / "shop")), ("*", *server._machine_names()))
    reply = asyncio.run(app.client.get("/-/login", headers={"host": host}))
    assert reply.status_code == status


def test_over_https_cookies_never_go_out_in_the_clear(tmp_path: Path) -> None:
    """RFC 6265, 4.1.2.5: Secure."""
    if shutil.which("openssl") is None:
        pytest.skip("NO OPENSSL: no certificate could be made, so HTTPS was not tried")
    pem, key = tmp_path / "cert.pem", tmp_path / "key.pem"
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=x", "-days", "2"]
    command += ["-addext", "subjectAltName=IP:127.0.0.1"]
    subprocess.run([*command, "-keyout", str(key), "-out", str(pem)], check=True, capture_output=True)
    shop = empty_shop(tmp_path / "shop")
    script = SERVING.replace(
        "flush=True))", f"flush=True), Reach('127.0.0.1', Path({str(pem)!r}), Path({str(key)!r})))"
    )
    script = script.replace("import serve", "import Reach, serve")
    with serving(shop, 0, script) as process:
        link = first_line(process)
        assert link.startswith("https://127.0.0.1:")
        reply = httpx.get(link, trust_env=False, verify=ssl.create_default_context(cafile=str(pem)))
        assert reply.status_code == 302
        assert all("; secure" in cookie.lower() for cookie in reply.headers.get_list("set-cookie"))


def test_what_is_no_certificate_is_said_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "cert.pem").write_text("nothing")
    with pytest.raises(WrongUse, match=r"cert\.pem") as refused:
        server.serve(
            empty_shop(tmp_path / "shop"), 0, False, lambda address, link: None,
            server.Reach(certificate=tmp_path / "cert.pem", key=tmp_path / "cert.pem"),
        )  # fmt: skip
    assert "\n" not in str(refused.value)
