"""The border: nothing is changed, nothing is given away, and only this machine's own pages get in."""

from __future__ import annotations

import sqlite3

import httpx
import pytest

from diaryidx.shop import Shop
from tests.site.seeded_shop import DIARY

ADDRESSES = ["/", "/search", "/builds/41", f"/films/{DIARY}", f"/media/{DIARY}", "/shop", "/shop/builds",
             "/shop/builds/41", "/-/auth-token", "/-/messages", "/-/logout", "/nowhere", "/films.json"]  # fmt: skip
CHANGING = ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW"]


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_method_but_reading_is_refused_with_and_without_cookies(site: httpx.Client, address: str) -> None:
    """RFC 9110, 15.5.6: a 405 names the methods that are allowed."""
    cookies = {"cookie": "ds_actor=x; ds_csrftoken=y"}
    for method, headers in [*((method, {}) for method in CHANGING), ("POST", cookies), ("DELETE", cookies)]:
        reply = site.request(method, address, headers=headers, content=b"x=1")
        assert (reply.status_code, reply.headers["allow"]) == (405, "GET, HEAD"), (method, address)


def test_the_database_is_the_same_after_all_that_was_tried(site: httpx.Client, seeded: Shop) -> None:
    def dump() -> list[str]:
        with sqlite3.connect(f"file:{seeded.database}?mode=ro", uri=True) as connection:
            return list(connection.iterdump())

    before = dump()
    for address in (
        "/shop/builds/-/insert",
        "/shop/-/create",
        "/shop?sql=delete+from+builds",
        "/shop/builds/41/-/delete",
    ):
        for method in ("GET", *CHANGING):
            site.request(method, address, content=b"{}")
    assert dump() == before
    assert len(before) > 20


@pytest.mark.parametrize("address", ["/", f"/films/{DIARY}", "/builds.json", "/nowhere", "/static/site.css"])
def test_head_says_what_get_would_and_sends_nothing(site: httpx.Client, address: str) -> None:
    get, head = site.get(address), site.head(address)
    assert head.status_code == get.status_code
    assert head.headers["content-type"] == get.headers["content-type"]
    assert head.content == b""


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:8001", "192.168.1.5", ""]
)
def test_a_page_elsewhere_that_points_its_name_here_gets_nothing(site: httpx.Client, host: str) -> None:
    for address in ("/", "/builds/41.json", f"/media/{DIARY}", "/shop/builds.json"):
        reply = site.get(address, headers={"host": host})
        assert reply.status_code in (400, 421)
        assert "Fennimore" not in reply.text


@pytest.mark.parametrize("host", ["127.0.0.1:8001", "localhost", "LOCALHOST:80", "[::1]:8001"])
def test_the_machines_own_names_are_let_in(site: httpx.Client, host: str) -> None:
    assert site.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "name", ["metadata", "settings", "databases", "threads", "plugins", "versions", "permissions", "auth-token"]
)
def test_inner_pages_are_closed(site: httpx.Client, seeded: Shop, name: str) -> None:
    for address in (f"/-/{name}", f"/-/{name}.json", f"/%2D/{name}.json", f"//-/{name}.json"):
        reply = site.get(address, follow_redirects=True)
        assert reply.status_code == 404, address
        assert str(seeded.folder) not in reply.text


def test_the_database_cannot_be_downloaded_and_free_queries_are_closed(site: httpx.Client) -> None:
    assert site.get("/shop.db").status_code == 403
    for address in ("/shop?sql=select+1", "/shop.json?sql=select+1", "/shop/builds?_where=1=1", "/_internal"):
        reply = site.get(address)
        assert reply.status_code in (400, 403), address
        assert "Traceback" not in reply.text


def test_the_tables_can_be_read(site: httpx.Client) -> None:
    reply = site.get("/shop/builds.json?_shape=array")
    assert {row["job_number"] for row in reply.json()} == {"41", "J/17.b", "30"}


@pytest.mark.parametrize("address", ["/", "/shop/builds", f"/media/{DIARY}", "/nowhere", "/-/metadata"])
def test_every_answer_carries_safe_headers(site: httpx.Client, address: str) -> None:
    headers = site.get(address).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] in ("same-origin", "no-referrer")
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "access-control-allow-origin" not in headers


def test_our_pages_load_nothing_from_elsewhere(site: httpx.Client) -> None:
    for address in ("/", f"/films/{DIARY}", "/questions/1"):
        reply = site.get(address)
        assert "default-src 'none'" in reply.headers["content-security-policy"]
        assert "http://" not in reply.text.replace("http://www.w3.org", "")
        assert "https://" not in reply.text
        assert "style=" not in reply.text
        assert " on" + "click=" not in reply.text
