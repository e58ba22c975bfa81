"""Marketing sees every bike and nobody's name: on all pages that the front page leads to, as JSON, in the tables."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from pathlib import Path

import httpx
import pytest

from diaryidx.builds.relinking import relink
from diaryidx.noting import keep_note
from diaryidx.records import Reading, Segment, Sentence, Subject
from diaryidx.shop import Shop
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from tests.site.people import as_role, with_people
from tests.site.seeded_shop import CUSTOMER, REGISTRATION, VIN, seeded_shop

#: Names and numbers of the job book, in every way in which they might come out.
PRIVATE = (
    CUSTOMER, CUSTOMER.split()[1], "Ida Brask", "Per Amsel", "Amsel", REGISTRATION, REGISTRATION.replace(" ", ""), VIN,
    VIN[-6:],
)  # fmt: skip
MOST_PAGES = 400


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """The seeded shop, with a film and a note that say whose the bike is and what its plate is."""
    shop = with_people(seeded_shop(tmp_path / "shop", films=False))
    with closing(open_store(shop.database)) as db:
        said = ("this curlew is odo's, mister fennimore", f"its plate is {REGISTRATION.lower()} and he rang")
        writing.save_recording(
            db, writing.RecordingRow("visit", "visit.mp4", 1, 1, "h", "A visit by Odo Fennimore", "diary", "2025-03-30",
                                     "file name", "2025-03", 10.0, True)
        )  # fmt: skip
        sentences = [Sentence(5.0 * place, 5.0 * place + 4, text, text) for place, text in enumerate(said)]
        segment = Segment(0.0, 9.0, 0, 1, "odo fennimore's curlew", Subject("build", "41"), "41", 0.95)
        writing.save_reading(db, "visit", sentences, Reading("diary", segments=(segment,)), reading_key="k")
        keep_note(shop, db, reading.build(db.conn, "41"), f"Odo Fennimore rang about {VIN}", author="Tove")
        relink(db)
    return shop


def pages_from(client: httpx.Client, start: str = "/") -> Iterator[tuple[str, str]]:
    """Every page that links lead to, each also as JSON."""
    seen, todo = {start}, [start]
    while todo and len(seen) < MOST_PAGES:
        address = todo.pop(0)
        reply = client.get(address, headers={"accept": "text/html"})
        if reply.status_code == 200 and "text" in reply.headers["content-type"] + "text" * ("json" in address):
            yield address, unescape(reply.text)
        if "html" not in reply.headers.get("content-type", ""):
            continue
        found = (unescape(one) for one in re.findall(r'(?:href|src)="(/[^"#]*)', reply.text))
        for link in found:
            if link not in seen and not link.startswith(
                ("/static", "/media", "/stills", "/-/", "/sign-out", "/photos")
            ):
                seen.add(link)
                todo.append(link)


def test_marketing_meets_no_customers_name_registration_or_vin_anywhere(address: str) -> None:
    with closing(as_role(address, "marketing")) as ida:
        searched = ["/search?q=curlew", "/search.json?q=curlew", "/search?q=rang", "/search.json?q=rang"]
        shown = {place: text for start in ("/", *searched) for place, text in pages_from(ida, start)}
        assert {
            "/builds/41",
            "/builds/41.json",
            "/builds/41/handover",
            "/films/visit",
            "/films/visit.json",
        } <= shown.keys()
        assert any(place.endswith("captions.vtt") for place in shown)
        leaks = {
            (place, word) for place, text in shown.items() for word in PRIVATE
            if re.search(rf"(?<![a-z0-9]){re.escape(word)}(?![a-z0-9])", re.sub(r'"/[^"]*"', "", text), re.IGNORECASE)
        }  # fmt: skip
        assert leaks == set()
        assert "the customer" in shown["/films/visit"] and "[number]" in shown["/films/visit"]
        assert "Marlowe Curlew" in shown["/builds/41"], "the bike itself is there"
        build = ida.get("/builds/41.json").json()["build"]
        assert (build["customer"], build["registration"], build["vin"]) == (None, None, None)


def test_staff_see_whose_a_bike_is(bram: httpx.Client) -> None:
    page = bram.get("/builds/41").text
    assert CUSTOMER in page and REGISTRATION in page and VIN in page
    assert bram.get("/builds/41.json").json()["build"]["customer"] == CUSTOMER


def test_marketing_finds_no_bike_by_what_it_may_not_see(address: str) -> None:
    with closing(as_role(address, "marketing")) as ida, closing(as_role(address, "staff")) as bram:
        for typed in (REGISTRATION, VIN, VIN[-6:]):
            assert [one["job_number"] for one in bram.get("/search.json", params={"q": typed}).json()["builds"]] == [
                "41"
            ]
            assert ida.get("/search.json", params={"q": typed}).json()["builds"] == []
        assert ida.get("/search.json", params={"q": "curlew"}).json()["builds"][0]["job_number"] == "41"


def test_marketing_reaches_none_of_the_tables(address: str) -> None:
    places = ("/shop", "/shop.json", "/shop/builds", "/shop/builds.json", "/shop/builds.csv", "/shop/builds/41",
              "/shop/builds/41.json", "/shop/sentences_fts", "/shop/notes.json", "/shop/decisions.csv",
              "/shop/builds.json?_shape=array", "/shop?sql=select+*+from+builds")  # fmt: skip
    with closing(as_role(address, "marketing")) as ida:
        for place in places:
            reply = ida.get(place, headers={"accept": "text/html"})
            assert reply.status_code in (403, 404), place
            assert not any(word.lower() in reply.text.lower() for word in PRIVATE), place
