"""Other films, pointing, a tutorial's needs, customers' parts and digressions on pages and as JSON."""

from __future__ import annotations

import html
import io
import re

import httpx
from PIL import Image
from seeded_shop import DIARY, LATER_DIARY, TUTORIAL


def words_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_a_film_links_the_film_that_it_refers_to_and_is_linked_by_it(site: httpx.Client) -> None:
    page = site.get(f"/films/{LATER_DIARY}").text
    assert f'<a href="/films/{TUTORIAL}">Changing front brake pads</a>' in page
    assert "“the film we made on brake pads”: Refers to the film Changing front brake pads , 5 March 2025" in words_of(
        page
    )
    assert "gearboxes" not in page, "a film that is not known is no link"
    back = site.get(f"/films/{TUTORIAL}").text
    assert f'spoken of in <a href="/films/{LATER_DIARY}?t=12.4">Build diary, March</a>' in back


def test_the_sentences_as_json_say_what_they_refer_to_and_what_is_an_aside(site: httpx.Client) -> None:
    sentences = site.get(f"/films/{LATER_DIARY}.json").json()["sentences"]
    assert [one["aside"] for one in sentences] == [False, True, False, False]
    assert [(one["film"], one["title"]) for one in sentences[3]["refers"]] == [
        (TUTORIAL, "Changing front brake pads"), (None, None),
    ]  # fmt: skip


def test_what_is_pointed_at_has_a_picture_of_that_very_second(site: httpx.Client) -> None:
    for address in (f"/films/{DIARY}", "/builds/41"):
        page = site.get(address).text
        assert f'src="/stills/{DIARY}/4.63.jpg"' in page, address
        assert f'href="/films/{DIARY}?t=4.63"' in page, address
    picture = site.get(f"/stills/{DIARY}/4.63.jpg")
    assert picture.headers["content-type"] == "image/jpeg"
    assert Image.open(io.BytesIO(picture.content)).width > 0
    assert site.get(f"/stills/{DIARY}/4.631.jpg").status_code == 404
    assert site.get(f"/films/{DIARY}.json").json()["sentences"][1]["points"][0]["at"] == 4.63


def test_a_tutorial_says_what_is_needed_for_all_of_it_and_for_each_step(site: httpx.Client) -> None:
    page = site.get(f"/films/{TUTORIAL}").text
    words = words_of(page)
    assert "You need Tools torque wrench Parts and materials copper grease" in words
    assert "caliper bolts 35 Nm (26 lbf ft)" in words and "Never ride with a soft lever" in words
    assert f'href="/films/{TUTORIAL}?t=9.4"' in page
    data = site.get(f"/films/{TUTORIAL}.json").json()
    assert [need["said"] for need in data["needs"]["tools"]] == ["torque wrench"]
    assert data["segments"][0]["step"]["number"] == 1
    assert data["segments"][0]["step"]["torques"][0] == {
        "text": "35 Nm (26 lbf ft)", "amount": 35.0, "unit": "newton metre", "part": "caliper bolts", "start": 9.4,
    }  # fmt: skip
    assert site.get(f"/films/{DIARY}.json").json()["needs"] is None


def test_customers_parts_stand_in_the_history_and_on_the_handover_sheet(site: httpx.Client) -> None:
    words = words_of(site.get("/builds/41").text)
    assert "Caliper: customer's own part" in words
    assert "Seat: to be like the one on his last bike" in words
    sheet = site.get("/builds/41/handover").text
    assert "Caliper: customer's own part" in html.unescape(sheet)
    assert "Mirror: customer's own part" not in html.unescape(sheet), "what is doubtful stays out"
    data = site.get("/builds/41.json").json()
    assert [(one["how"], one["part"]) for one in data["customer_parts"]] == [
        ("supplied", "caliper"), ("copied", "seat"), ("supplied", "mirror"),
    ]  # fmt: skip


def test_an_aside_is_shown_as_one(site: httpx.Client) -> None:
    assert "An aside, not of the bike" in words_of(site.get(f"/films/{LATER_DIARY}").text)
