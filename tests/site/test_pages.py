"""What each page says, and that its JSON says the same."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from pathlib import Path

import httpx
import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.records import OPEN_STATUSES, STATUSES, Mention, Statement
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address, film_address, name_in_address
from diaryidx.site.builds import SECTIONS
from diaryidx.site.films import noted_in
from diaryidx.site.moments import moments_of
from diaryidx.site.wording import STATUS_WORDS, day_words, detail_words, sentence_words, what_words
from diaryidx.store import writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.wording import doubt
from tests.site.running import running
from tests.site.seeded_shop import (
    BUILDS,
    CUSTOMER,
    DIARY,
    LATER_DIARY,
    NOTE,
    REGISTRATION,
    TUTORIAL,
    VIN,
    empty_shop,
    seeded_shop,
)

EVERY_PAGE = [
    "/", "/search", "/search?q=brake+pads", "/search?q=nothing+such", "/builds", "/builds/41", "/builds/J~2F17~2Eb",
    "/builds/41?since=2025-03-01", "/gaps", "/developments",
    "/questions", "/questions/1", "/films", f"/films/{DIARY}", f"/films/{NOTE}", "/months", "/months/2025-03",
]  # fmt: skip


def words_of(page: str) -> str:
    """What a person reads on a page: no tags, one space."""
    body = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


@pytest.mark.parametrize("address", EVERY_PAGE)
def test_every_page_is_there_in_plain_words(site: httpx.Client, address: str) -> None:
    reply = site.get(address)
    assert reply.status_code == 200
    assert reply.headers["content-type"] == "text/html; charset=utf-8"
    words = words_of(reply.text).lower()
    for jargon in ("segment", "mention", "entity", "score", "confidence", "bm25", "none", "null"):
        assert not re.search(rf"\b{jargon}s?\b", words), f"{jargon} is no word for a workshop"
    assert "small demo model" in words


@pytest.mark.parametrize("address", EVERY_PAGE)
def test_every_page_is_there_as_json_at_the_same_address(site: httpx.Client, address: str) -> None:
    path, mark, query = address.partition("?")
    reply = site.get(f"{path}.json{mark}{query}")
    assert reply.status_code == 200
    assert reply.headers["content-type"].startswith("application/json")
    assert isinstance(reply.json(), dict)
    offered = re.search(r'rel="alternate" type="application/json" href="([^"]+)"', site.get(address).text)
    assert offered
    assert site.get(html.unescape(offered[1])).json() == reply.json()


def test_every_link_on_every_page_leads_somewhere(site: httpx.Client) -> None:
    found = {
        html.unescape(link)
        for address in EVERY_PAGE
        for link in re.findall(r'(?:href|src)="(/[^"]*)"', site.get(address).text)
    }
    assert len(found) > 40
    broken = {link: site.get(link).status_code for link in found}
    assert not {link: status for link, status in broken.items() if status != 200}


def test_the_front_page_shows_bikes_in_the_shop_questions_and_films(site: httpx.Client) -> None:
    words = words_of(site.get("/").text)
    for shown in ("Marlowe Curlew", "the Heron", "How do I change the front brake pads", "Build diary, March"):
        assert shown in words
    assert "Tansy & Rook" not in words, "a bike that went home is not in the shop"
    assert "broken.mp4: this is no film; put back a good copy" in words
    data = site.get("/.json").json()
    assert [build["job_number"] for build in data["builds"]] == ["41", "J/17.b"]


def test_an_empty_shop_says_what_to_do_next(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop", model="")
    with running(shop) as address:
        for page in ("/", "/builds", "/questions", "/films", "/months", "/search?q=seat"):
            reply = httpx.get(address + page, trust_env=False)
            assert reply.status_code == 200
            assert "small demo model" not in reply.text, "a shop with its own model is not told that it has another"
        words = words_of(httpx.get(address, trust_env=False).text)
    assert str(shop.recordings) in words
    assert "diaryidx index" in words


def test_films_that_are_half_heard_or_damaged_say_so(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    db = open_store(shop.database)
    row = RecordingRow("new", "new.webm", 1, 1, "h", "New film", "diary", None, None, None, 60.0, True)
    writing.save_recording(db, row)
    torn = replace(row, id="torn", path="torn.webm", content_hash="t", title="Torn", state="indexed", warning="cut off")
    writing.save_recording(db, torn)
    for number in range(25):
        writing.save_failure(db, f"bad{number}.mp4", 1, 1, "no film")
    db.close()
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False) as client:
        films = words_of(client.get("/films").text)
        assert "New film Diary, 1:00 , no date still being listened to" in films
        assert "No date known" in films
        assert "bad0.mp4: no film" in films
        assert "And 5 more" in films
        assert "It is still being listened to." in words_of(client.get("/films/new").text)
        assert "cut off No speech was heard in it." in words_of(client.get("/films/torn").text)
        assert "25 files could not be listened to" in words_of(client.get("/").text)


def test_a_list_of_many_years_shows_the_latest_months_and_links_to_the_others(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    db = open_store(shop.database)
    months = [f"{year}-{month:02d}" for year in (2023, 2024) for month in range(1, 13)]
    for month in months:
        day, title = f"{month}-05", f"Film of {month}"
        row = RecordingRow(month, f"{month}.webm", 1, 1, month, title, "diary", day, "file name", month, 9.0, False)
        writing.save_recording(db, row)
    db.close()
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False) as client:
        page = client.get("/films").text
        assert [month for month in months if f"Film of {month}" in page] == months[12:]
        assert [month for month in months if f'href="/months/{month}"' in page] == months
        assert "Film of 2023-01" in client.get("/months/2023-01").text


def test_search_finds_a_bike_by_number_an_answer_and_what_was_said(site: httpx.Client) -> None:
    by_number = site.get("/search.json", params={"q": "41"}).json()
    assert [build["job_number"] for build in by_number["builds"]] == ["41"]
    pads = site.get("/search.json", params={"q": "how do I change the front brake pads"}).json()
    assert pads["answered"]
    assert (pads["answers"][0]["recording"], pads["answers"][0]["entry"]) == (TUTORIAL, 1)
    assert pads["cautions"]
    page = site.get("/search", params={"q": "how do I change the front brake pads"}).text
    assert film_address(TUTORIAL, 4.2) in page
    assert pads["cautions"][0] in words_of(page)
    assert "curlew the front brake caliper is done" in words_of(site.get("/search", params={"q": "caliper"}).text)


@pytest.mark.parametrize(
    "question", ['"', "a AND", "NEAR(", "*", "text:x", "'; drop table builds; --", "📷", "\x00", "(" * 400]
)
def test_nothing_typed_into_the_search_box_breaks_it(site: httpx.Client, question: str) -> None:
    reply = site.get("/search", params={"q": question})
    assert reply.status_code == 200
    assert "<h1>" in reply.text


def test_what_is_typed_and_what_is_said_is_never_markup(site: httpx.Client) -> None:
    reply = site.get("/search", params={"q": "<script>alert(1)</script>"})
    assert "<script>alert" not in reply.text
    film = site.get(f"/films/{DIARY}").text
    assert "<b>right</b>" not in film
    assert "&lt;b&gt;right&lt;/b&gt; &amp; that" in film
    assert "script-src 'self'" in reply.headers["content-security-policy"]


def test_a_bikes_page_tells_what_is_open_what_is_done_and_plays_each_line(site: httpx.Client) -> None:
    page = site.get("/builds/41").text
    words = words_of(page)
    for shown in ("Job 41", REGISTRATION, "Waiting", "Seat", "from Kestrel Yard", "Planned", "Asked for",
                  "Waiting on Kestrel Yard since 27 February 2025", "As it stands", "Film by film",
                  "Caliper, front: done fit · by Tove", "Tank: done paint · in satin black",
                  "Tank satin black, painted, done by 28 March 2025",
                  "The films disagree", "Came in 13 January 2025"):  # fmt: skip
        assert shown in words, shown
    for recording, start in ((DIARY, 3.2), (DIARY, 7.1), (DIARY, 10.2), (LATER_DIARY, 0.4), (NOTE, 0.2)):
        assert f'href="{film_address(recording, start)}"' in page
    assert "we are waiting for the seat from kestrel yard" in page.lower()
    data = site.get("/builds/41.json").json()
    assert {one["status"] for one in data["statements"]} >= {"done", "waiting", "planned", "asked for"}
    assert len(data["conflicts"]) == 1


def test_doubtful_statements_are_shown_as_doubtful_in_words(site: httpx.Client) -> None:
    words = words_of(site.get("/builds/41").text)
    assert "Mirror, both Planned since 27 February 2025 not sure Build diary, February" in words
    assert "Caliper, front fit · Planned since 28 March 2025 we think Build diary, March" in words
    sure = "Seat in tan · from Kestrel Yard · Waiting on Kestrel Yard since 27 February 2025 Build diary, February"
    assert sure in words, "what is sure carries no doubt"
    film = words_of(site.get(f"/films/{DIARY}").text)
    assert "Mirror, both: planned, not sure" in film
    assert "not sure it is this one" in film
    assert "going on next month heard poorly" in film


def test_parts_noted_from_the_same_words_share_one_line_and_one_part_stays_together() -> None:
    titles = {"a": ("Diary", "2025-02-27")}
    said = [
        Statement("done", "both are in", "forks", recording="a", start=1.0, certainty=0.9),
        Statement("done", "seat done", "seat", recording="a", start=5.0, certainty=0.9),
        Statement("done", "both are in", "yokes", recording="a", start=1.0, certainty=0.3),
        Statement("done", "forks again", "forks", recording="a", start=9.0, certainty=0.9),
        Statement("asked for", "brown seat", "seat", source="book", when="2025-01-01", certainty=0.9),
    ]
    moments = moments_of(said, titles)
    assert [(one.start, [note.what for note in one.notes]) for one in moments] == [
        (1.0, ["Forks", "Yokes"]), (9.0, ["Forks"]), (5.0, ["Seat"]), (None, ["Seat"])
    ]  # fmt: skip
    assert [note.doubt for note in moments[0].notes] == ["", "not sure"]
    assert (moments[3].title, moments[3].day, moments[3].address) == ("the job book", "1 January 2025", None)


def test_cautions_go_with_open_work_on_brakes(site: httpx.Client) -> None:
    data = site.get("/builds/41.json").json()
    assert any("brake" in caution.lower() for caution in data["cautions"])
    page = site.get("/builds/41").text
    assert all(caution in words_of(page) for caution in data["cautions"])


def test_a_customers_name_and_frame_number_are_folded_away(site: httpx.Client) -> None:
    page = site.get("/builds/41").text
    folded = re.findall(r"<details class=\"private\">.*?</details>", page, flags=re.S)
    assert len(folded) == 1
    outside = page.replace(folded[0], "")
    for private in (CUSTOMER, VIN):
        assert private in folded[0]
        assert private not in outside
    for address in EVERY_PAGE:
        if not address.startswith("/builds/41"):
            assert CUSTOMER not in site.get(address).text


def test_a_questions_page_has_answer_film_cautions_and_a_reply(site: httpx.Client) -> None:
    page = site.get("/questions/1").text
    data = site.get("/questions/1.json").json()
    assert f'src="/media/{TUTORIAL}#t=4.20,20.00"' in page
    assert "slide the old brake pads out" in words_of(page)
    assert data["cautions"]
    assert all(caution in words_of(page) for caution in data["cautions"])
    starts = [float(start) for start in re.findall(r'<a href="[^"]+" data-start="([\d.]+)" data-end', page)]
    assert starts == [4.2, 9.2, 14.2], "the question itself is not part of the answer"
    assert data["reply"].startswith("Hello,")
    assert data["reply"] in html.unescape(page)
    assert all(caution in data["reply"] for caution in data["cautions"])
    assert "Quillmark Cycles" in data["reply"]


def test_a_films_page_has_every_sentence_with_its_moment(site: httpx.Client) -> None:
    page = site.get(f"/films/{DIARY}").text
    assert re.findall(r'class="spoken".*?</ol>', page, flags=re.S)
    starts = [
        float(start)
        for start in re.findall(r'<a href="/films/diary-february\?t=([\d.]+)" data-start="[\d.]+" data-end', page)
    ]
    assert starts == [0.5, 3.2, 7.1, 10.2, 13.2, 17.2]
    assert "First heard: “first of all the curlew the front brake calli per is done”" in words_of(page)
    assert 'front brake <mark class="put-right" title="heard: calli per">caliper</mark> is done' in page
    assert "“calli per” is taken for “caliper” (sure)" in words_of(page)
    assert f'<track kind="captions" srclang="en" label="Words as heard" src="/films/{DIARY}/captions.vtt">' in page
    assert 'href="/builds/J~2F17~2Eb"' in page


@pytest.mark.parametrize("words", ["calli per", "caliper"])
def test_a_search_finds_what_was_heard_as_well_as_what_is_meant(site: httpx.Client, words: str) -> None:
    page = site.get("/search", params={"q": words}).text
    assert '<mark class="put-right" title="heard: calli per">caliper</mark>' in page
    assert "“calli per” is taken for “caliper” (sure)" in words_of(page)
    hits = site.get("/search.json", params={"q": words}).json()["films"]
    assert any(one["repairs"] and one["heard"] != one["text"] for one in hits)


def test_a_bikes_page_marks_what_was_put_right(site: httpx.Client) -> None:
    page = site.get("/builds/41").text
    assert '<mark class="put-right" title="heard: calli per">caliper</mark>' in page
    assert "“calli per” is taken for “caliper” (sure)" in words_of(page)


def test_sound_alone_gets_a_sound_player(site: httpx.Client) -> None:
    page = site.get(f"/films/{NOTE}").text
    assert "<audio" in page
    assert "<video" not in page


def test_a_deep_link_starts_there_even_without_a_script(site: httpx.Client) -> None:
    assert f'src="/media/{DIARY}#t=7.10"' in site.get(f"/films/{DIARY}?t=7.1").text
    assert f'src="/media/{DIARY}#t=24.00"' in site.get(f"/films/{DIARY}?t=99999").text, "kept inside the film"
    assert f'src="/media/{DIARY}"' in site.get(f"/films/{DIARY}").text


def test_a_months_page_has_what_marketing_needs(site: httpx.Client) -> None:
    words = words_of(site.get("/months/2025-03").text)
    for shown in ("March 2025", "Marlowe Curlew", "Brass filler cap, about £40, as said on 28 March 2025",
                  "12 April 2025: open day, the yard", "not fixed yet",
                  "To be confirmed (“hopefully”, as said on 28 March 2025)",
                  "Changing front brake pads", "Worth cutting out"):  # fmt: skip
        assert shown in words, shown
    assert "For April 2025" in words_of(site.get("/months/2025-02").text)
    data = site.get("/months/2025-03.json").json()
    assert data["products"][0]["price"] == 40.0


def test_captions_are_webvtt_that_another_program_reads(site: httpx.Client, tmp_path: Path) -> None:
    """W3C WebVTT, read by webvtt-py."""
    reply = site.get(f"/films/{DIARY}/captions.vtt")
    assert reply.headers["content-type"] == "text/vtt; charset=utf-8"
    file = tmp_path / "captions.vtt"
    file.write_text(reply.text, encoding="utf-8")
    cues = webvtt.read(str(file))
    assert [cue.start for cue in cues] == [
        "00:00:00.500", "00:00:03.200", "00:00:07.100", "00:00:10.200", "00:00:13.200", "00:00:17.200"
    ]  # fmt: skip
    assert html.unescape(cues[5].raw_text) == "<b>right</b> & that is all we have"


@given(st.text(min_size=1, max_size=30).filter(lambda name: name.isprintable()))
def test_any_job_number_makes_an_address_of_one_part_that_leads_back(job_number: str) -> None:
    part = build_address(job_number).removeprefix("/builds/")
    assert re.fullmatch(r"[A-Za-z0-9_~+-]+", part)
    assert name_in_address(part) == job_number


def test_awkward_job_numbers_have_pages(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    numbers = ["12.json", "a b", "50%", "x?y#z", "../41", "Größe", "a~2Fb", "+"]
    db = open_store(shop.database)
    writing.save_builds(db, [type(BUILDS[0])(number, nickname=f"bike {number}") for number in numbers])
    db.close()
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False) as client:
        for number in numbers:
            reply = client.get(build_address(number))
            assert reply.status_code == 200, number
            assert f"bike {number}" in words_of(reply.text)
            assert client.get(build_address(number) + ".json").json()["build"]["job_number"] == number


@pytest.mark.parametrize(
    ("address", "status", "says"),
    [
        ("/builds/999", 404, "999"),
        ("/films/nothing", 404, "nothing"),
        (f"/films/{DIARY}x", 404, DIARY),
        ("/films/nothing/captions.vtt", 404, ""),
        ("/questions/99", 404, "99"),
        ("/months/2019-01", 404, "January 2019"),
        ("/nowhere", 404, ""),
        ("/nowhere/at/all/here", 404, ""),
        ("/questions/abc", 400, "/questions/1"),
        ("/questions/1111111111111111111111", 400, ""),
        ("/months/march", 400, "/months/2025-03"),
        ("/months/2025-13", 400, ""),
        (f"/films/{DIARY}?t=soon", 400, "t=93.2"),
        (f"/films/{DIARY}?t=nan", 400, ""),
        (f"/films/{DIARY}?t=-1", 400, ""),
        ("/search?q=" + "x" * 501, 400, "500"),
    ],
)
def test_what_is_not_there_says_so_and_what_to_do(site: httpx.Client, address: str, status: int, says: str) -> None:
    reply = site.get(address)
    words = words_of(reply.text)
    assert (reply.status_code, "Traceback" in words, says in words) == (status, False, True), words
    assert 'href="/films"' in reply.text
    path, mark, query = address.partition("?")
    if not path.endswith(".vtt"):
        data = site.get(f"{path}.json{mark}{query}")
        assert (data.status_code, data.json()["status"], data.json()["ok"]) == (status, status, False)


def test_a_site_whose_words_are_wrong_says_which_line_and_goes_on(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    shop.words.write_text("parts:\n  - [oops\n", encoding="utf-8")
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False) as client:
        reply = client.get("/search?q=seat")
        assert reply.status_code == 500
        assert "words.yaml" in words_of(reply.text)
        assert "Traceback" not in reply.text
        shop.words.write_text("parts:\n  - flange dangler\n", encoding="utf-8")
        assert client.get("/search?q=seat").status_code == 200, "mended without starting again"


def test_a_damaged_database_is_said_without_a_stack_trace(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False) as client:
        content = bytearray(shop.database.read_bytes())
        content[4096:] = b"\x00" * (len(content) - 4096)
        shop.database.write_bytes(content)
        reply = client.get("/films")
    assert reply.status_code == 500
    assert "diaryidx check" in words_of(reply.text)
    assert "sqlite3" not in reply.text
    assert "Traceback" not in reply.text


def test_the_site_shows_what_an_index_adds_while_it_runs(tmp_path: Path) -> None:
    shop = empty_shop(tmp_path / "shop")
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False) as client:
        assert client.get("/builds.json").json()["builds"] == []
        db = open_store(shop.database)
        writing.save_builds(db, BUILDS)
        db.close()
        assert len(client.get("/builds.json").json()["builds"]) == len(BUILDS)


def test_every_status_has_words_and_every_open_one_a_place() -> None:
    assert set(STATUS_WORDS) == set(STATUSES)
    assert set(SECTIONS) == set(OPEN_STATUSES)


def test_statements_dates_and_doubt_are_put_in_words() -> None:
    statement = Statement("done", "x", "indicator", "left", "fit", "chrome", quantity="two", who="Tove", when="2025-03")
    assert what_words(statement) == "Indicator, left"
    assert detail_words(statement) == ["fit", "in chrome", "quantity two", "by Tove", "March 2025"]
    assert what_words(Statement("done", "x")) == "Something else"
    assert what_words(Statement("done", "x", task="mot")) == "MOT"
    assert sentence_words("i think it has passed its mot") == "I think it has passed its MOT"
    assert (day_words("2025-03-04"), day_words("2025-03"), day_words(None)) == ("4 March 2025", "March 2025", "no date")
    assert (day_words("2025-99"), day_words("soon")) == ("2025-99", "soon")
    assert [doubt(certainty) for certainty in (None, 0.9, 0.5, 0.49)] == ["", "", "we think", "not sure"]


def test_the_seeded_shop_is_whole(seeded: Shop) -> None:
    assert (seeded.recordings / "pads.webm").stat().st_size > 10_000


def test_a_bikes_page_shows_its_notes_and_what_they_state(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    db = open_store(shop.database)
    note = writing.save_note(db, "41", "Loom is back from the <electrician>", "2025-04-02", "Wes", [])
    writing.save_note_reading(db, note.id, [Statement("done", note.text, "wiring loom", certainty=0.9)], "k")
    undone = writing.save_note(db, "41", "never mind", "2025-04-03", "Wes", [])
    writing.undo_note(db, undone.id, "Wes")
    db.close()
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False, timeout=20) as client:
        words = words_of(client.get("/builds/41").text)
        assert "Notes from the bench Loom is back from the <electrician> Wes, 2 April 2025, note 1" in words
        assert "never mind" not in words
        told = client.get("/builds/41.json").json()
    assert [one["text"] for one in told["notes"]] == [note.text]
    assert [one["note"] for one in told["statements"] if one["note"] is not None] == [note.id]


def test_a_torque_is_noted_in_both_units_and_a_length_is_not() -> None:
    """NIST SP 811 (2008), B.8: 1 lbf ft is 1.355818 N m."""
    said = [
        Mention("MEASURE", "47 Nm", "47 newton metre", 3, 0, 5, value={"amount": 47.0, "unit": "newton metre"}),
        Mention("MEASURE", "10 mm", "10 millimetre", 4, 0, 5, value={"amount": 10.0, "unit": "millimetre"}),
    ]
    assert noted_in([], said) == {3: ["47 Nm (35 lbf ft)"]}
