"""The review page with real requests and no script: what is shown, what each button keeps, and who may press them."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from diaryidx.shop import Shop
from diaryidx.store import reading
from diaryidx.store.database import open_store
from tests.site.doubtful_shop import ITEMS, WALK, doubtful_shop
from tests.site.people import as_role, token_in, with_people


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return with_people(doubtful_shop(tmp_path / "shop", film=False))


def wait_until(holds: Callable[[], bool]) -> None:
    """Wait for what follows behind a deed."""
    deadline = time.monotonic() + 60
    while not holds():
        assert time.monotonic() < deadline, "what follows was never done"
        time.sleep(0.05)


def asked(client: httpx.Client) -> str:
    return str(client.get("/review.json").json()["item"]["id"])


def press(client: httpx.Client, item: str = f"{WALK}@0.0", **fields: str) -> httpx.Response:
    """Press a button of the page that shows an item."""
    token = token_in(client.get("/review").text)
    return client.post("/review", data={"csrftoken": token, "item": item, "skip": "", **fields})


def made(client: httpx.Client) -> list[tuple[str, str, dict[str, object], str | None]]:
    """Who decided what, oldest first, and who undid it."""
    rows = client.get("/decisions.json").json()["decisions"]
    return [(row["actor"], row["kind"], row["what"], row["undone_by"]) for row in reversed(rows)]


def test_an_item_is_shown_with_its_words_its_clip_and_what_speaks_for_each_bike(bram: httpx.Client) -> None:
    page = bram.get("/review").text
    assert f"{ITEMS} in doubt" in page
    assert f'src="/media/{WALK}#t=0.00,1.90"' in page
    for words in ("we fitted the seat", "Otter 500", "Heron 900", "asked for: seat", "Then there is this one number 0"):
        assert words.lower() in page.lower(), words
    shown = bram.get("/review.json").json()
    assert (shown["item"]["id"], shown["in_doubt"]) == (f"{WALK}@0.0", ITEMS)
    assert {one["job_number"] for one in shown["item"]["candidates"]} == {"201", "202"}


@pytest.mark.parametrize(
    ("fields", "kind", "what"),
    [
        ({"assign": "202"}, "link", {"build": "202"}),
        ({"refuse": "201"}, "link", {"not": "201"}),
        ({"do": "not-a-build"}, "not a build", {}),
        ({"do": "join"}, "join", {}),
        ({"split": "1.0"}, "split", {"at": 1.0}),
        ({"do": "find", "name": "Bramble"}, "link", {"build": "201"}),
        ({"do": "find", "name": "qx21abc"}, "link", {"build": "201"}),
        ({"do": "find", "name": "Dov"}, "link", {"build": "204"}),
        ({"do": "find", "name": "the red one"}, "link", {"build": "203"}),
    ],
)
def test_each_button_keeps_what_it_says_with_the_persons_name(
    bram: httpx.Client, fields: dict[str, str], kind: str, what: dict[str, object]
) -> None:
    reply = press(bram, **fields)
    assert reply.status_code == 303
    assert made(bram) == [("Bram Oakes", kind, what, None)]
    assert 'class="told"' in bram.get(reply.headers["location"]).text


def test_a_decided_item_makes_room_for_the_next_and_what_follows_from_it_follows(
    bram: httpx.Client, shop: Shop
) -> None:
    press(bram, assign="202")
    assert asked(bram) != f"{WALK}@0.0"
    wait_until(lambda: not reading.links_due(sqlite3.connect(shop.database)))


def test_a_name_that_fits_several_asks_which(bram: httpx.Client) -> None:
    reply = press(bram, do="find", name="Tarnbeck")
    assert reply.status_code == 200
    assert "fits several" in reply.text
    assert 'name="assign" value="201"' in reply.text.partition("fits several")[2]
    assert 'name="assign" value="204"' in reply.text.partition("fits several")[2]
    assert made(bram) == []


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"do": "find", "name": "xylophone"}, "no build fits"),
        ({"do": "find", "name": ""}, "Not done"),
        ({"assign": "999"}, "999"),
        ({"split": "999"}, "cut"),
        ({"do": "explode"}, "no button"),
        ({}, "no button"),
        ({"do": "undo"}, "nothing that could be undone"),
        ({"item": "nonsense", "do": "join"}, "nonsense"),
        ({"do": "word", "heard": "", "meant": "x"}, "say what was heard"),
    ],
)
def test_what_cannot_be_done_is_said_on_the_page_and_nothing_is_kept(
    bram: httpx.Client, fields: dict[str, str], said: str
) -> None:
    reply = press(bram, **fields)
    while reply.status_code == 303:
        reply = bram.get(reply.headers["location"])
    assert said in reply.text
    assert made(bram) == []


def test_what_is_skipped_comes_last_and_can_be_gone_through_again(bram: httpx.Client) -> None:
    seen, place = [], "/review"
    for _ in range(ITEMS):
        page = bram.get(place).text
        seen.append(token_free_item(page))
        place = page.partition('class="button" href="')[2].partition('"')[0].replace("&amp;", "&")
    assert len(set(seen)) == ITEMS
    assert "Only what you skipped is left" in bram.get(place).text
    assert asked(bram) == seen[0]


def token_free_item(page: str) -> str:
    return page.partition('name="item" value="')[2].partition('"')[0]


def test_undo_takes_back_ones_own_last_and_shows_it_again(bram: httpx.Client, address: str) -> None:
    press(bram, assign="202")
    with closing(as_role(address, "owner")) as tove:
        press(tove, f"{WALK}@2.0", assign="201")
    reply = press(bram, f"{WALK}@4.0", do="undo")
    assert "0.0" in reply.headers["location"]
    assert made(bram) == [
        ("Bram Oakes", "link", {"build": "202"}, "Bram Oakes"),
        ("Tove", "link", {"build": "201"}, None),
    ]


def test_a_misheard_word_is_shown_with_all_that_it_changes_before_it_is_taught(bram: httpx.Client, shop: Shop) -> None:
    first = press(bram, do="word", heard="stand", meant="paddock stand")
    assert first.status_code == 200
    assert "2 sentences in 1 film would change" in first.text
    assert made(bram) == []
    second = press(bram, do="word", heard="stand", meant="paddock stand", sure="1")
    assert second.status_code == 303
    assert made(bram) == [("Bram Oakes", "word", {"heard": "stand", "meant": "paddock stand", "taught": 1}, None)]
    wait_until(lambda: "we fitted the paddock stand" in bram.get(f"/films/{WALK}.json").text)
    press(bram, do="undo")
    assert made(bram)[0][3] == "Bram Oakes"
    wait_until(lambda: "paddock stand" not in bram.get(f"/films/{WALK}.json").text)


# --- who may ---------------------------------------------------------------------------------------------------------


def test_others_decisions_are_undone_by_an_owner_alone(bram: httpx.Client, address: str) -> None:
    with closing(as_role(address, "owner")) as tove:
        press(tove, assign="202")
        press(bram, f"{WALK}@2.0", assign="201")
        assert "/decisions/1/undo" not in bram.get("/decisions").text
        assert "/decisions/2/undo" in bram.get("/decisions").text
        token = token_in(bram.get("/decisions").text)
        assert bram.post("/decisions/1/undo", data={"csrftoken": token}).status_code == 403
        assert made(bram)[0][3] is None
        token = token_in(tove.get("/decisions").text)
        assert tove.post("/decisions/2/undo", data={"csrftoken": token}).status_code == 303
        assert [row[3] for row in made(bram)] == [None, "Tove"]
        trail = tove.get("/decisions").text
        assert "undone by Tove" in trail
        assert "Bram Oakes, " in trail
        assert tove.post("/decisions/99/undo", data={"csrftoken": token}).status_code == 404


def test_nobody_decides_without_being_allowed_to(address: str, shop: Shop) -> None:
    """No cookie, another site's page, a forged token, marketing, somebody removed: each leaves all as it is."""
    with closing(as_role(address, "staff")) as bram, closing(as_role(address, "marketing")) as ida:
        token = token_in(bram.get("/").text)
        form = {"item": f"{WALK}@0.0", "assign": "202", "skip": ""}
        whole = {**form, "csrftoken": token}
        bare = httpx.Client(base_url=address, trust_env=False)
        for place in ("/review", "/decisions/1/undo"):
            tries = {
                "no cookie": bare.post(place, data=whole),
                "only the forms' cookie": bare.post(place, data=whole, headers={"cookie": f"ds_csrftoken={token}"}),
                "no token": bram.post(place, data=form),
                "forged token": bram.post(place, data={**form, "csrftoken": token[:-2]}),
                "another's token": bram.post(place, data={**form, "csrftoken": token_in(ida.get("/").text)}),
                "another site": bram.post(place, data=whole, headers={"origin": "https://evil.example"}),
                "a frame": bram.post(place, data=whole, headers={"origin": "null"}),
                "cross-site": bram.post(place, data=whole, headers={"sec-fetch-site": "cross-site"}),
                "bearer": bram.post(place, data=form, headers={"authorization": "Bearer x"}),
                "marketing": ida.post(place, data={**form, "csrftoken": token_in(ida.get("/").text)}),
            }
            assert {what: reply.status_code for what, reply in tries.items()} == dict.fromkeys(tries, 403)
            assert bram.put(place, data=whole).status_code == 405
            assert bram.delete(place).status_code == 405
        with_people(shop, {"owner": "Tove"})
        assert bram.post("/review", data=whole).status_code == 403, "removed"
    with closing(open_store(shop.database)) as db:
        assert db.table("decisions").count == 0


def test_of_two_who_see_the_same_item_the_second_is_told(bram: httpx.Client, address: str) -> None:
    with closing(as_role(address, "owner")) as tove:
        assert 'name="seen" value=""' in tove.get("/review").text
        press(bram, assign="202", seen="")
        reply = press(tove, assign="201", seen="")
        assert "somebody else decided" in tove.get(reply.headers["location"]).text
        assert made(bram) == [("Bram Oakes", "link", {"build": "202"}, None)]
        press(tove, assign="201", seen="1", over="1")
        assert [row[0] for row in made(bram)] == ["Bram Oakes", "Tove"]


def test_deciding_over_somebody_else_shows_who_said_what_and_takes_a_button(bram: httpx.Client, address: str) -> None:
    press(bram, assign="202")
    with closing(as_role(address, "owner")) as tove:
        page = press(tove, do="not-a-build", seen="1")
        assert page.status_code == 200 and "Decide otherwise?" in page.text
        assert "Bram Oakes decided on" in page.text and "job 202" in page.text
        assert len(made(tove)) == 1, "nothing is kept until the button is pressed"
        press(tove, do="not-a-build", seen="1", over="1")
        assert [row[1] for row in made(tove)] == ["link", "not a build"]
        assert "About no bike (over number 1)" in tove.get("/decisions").text
        press(tove, do="undo")
        assert [row[3] for row in made(tove)] == [None, "Tove"]
        assert tove.get("/review.json", params={"at": f"{WALK}@0.0"}).json()["item"]["build"] == "202"


def test_a_get_decides_nothing(bram: httpx.Client) -> None:
    bram.get("/review", params={"item": f"{WALK}@0.0", "assign": "202", "do": "not-a-build"})
    assert bram.get("/decisions/1/undo").status_code == 404
    assert made(bram) == []
