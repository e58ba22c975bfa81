"""The handover sheet: what stands on it, and what must never stand on it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import httpx
from click.testing import CliRunner
from sqlite_utils import Database

from diaryidx.cli import main
from diaryidx.records import Build, Statement
from diaryidx.shop import Shop, load_shop
from diaryidx.site.handover import handover_html, sheet_of
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from tests.site.seeded_shop import CUSTOMER, DIARY, REGISTRATION, VIN, seeded_shop
from tests.site.test_pages import words_of


def note(db: Database, job: str, text: str, *stated: Statement) -> None:
    kept = writing.save_note(db, job, text, "2025-04-02", "Wes", [])
    writing.save_note_reading(db, kept.id, list(stated), "k")


def test_a_sheet_says_what_was_done_what_is_open_and_what_to_take_care_of(site: httpx.Client) -> None:
    reply = site.get("/builds/41/handover")
    assert reply.status_code == 200
    words = words_of(reply.text)
    for shown in (
        "Quillmark Cycles Handover: Marlowe Curlew", REGISTRATION, VIN, CUSTOMER, "Came in 13 January 2025",
        "Caliper, front fitted (to be checked) 27 February 2025", "Tank satin black, painted 28 March 2025",
        "Still open", "Seat, tan (Kestrel Yard): waiting on Kestrel Yard since 27 February 2025",
        "To settle before it leaves Front caliper, fit (27 February 2025) or front caliper, fit (28 March 2025)?",
        "Brakes - pump the lever", "Follow the maker's service manual", "Check the road-legality rules",
        "Inspected by a qualified technician Name, date Signature Handed over by", "Received by",
    ):  # fmt: skip
        assert shown in words, shown
    data = site.get("/builds/41/handover.json").json()
    assert data["job_number"] == "41"
    assert "brakes" in " ".join(data["cautions"]).lower()
    assert site.get("/builds/nothing/handover").status_code == 404


def test_nothing_said_on_film_is_quoted_on_a_sheet(site: httpx.Client) -> None:
    words = words_of(site.get("/builds/41/handover").text).lower()
    for quoted in ("we are waiting for the seat from", "has its tank in satin black now", "frayed"):
        assert quoted not in words


def test_other_customers_are_taken_out_and_the_bikes_own_stays(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    db = open_store(shop.database)
    own = reading.build(db.conn, "41")
    wish = f"seat like Ida Brask's, call 01632 960 123 456; bars as on {own.registration}"
    writing.save_builds(db, [replace(own, asked_for=wish), Build("9", "Ida Brask", registration="QQ77 ABC")])
    html = handover_html(db.conn, shop, reading.build(db.conn, "41"))
    db.close()
    for private in ("Ida", "Brask", "QQ77", "01632", "960 123"):
        assert private not in html, private
    assert CUSTOMER in html and REGISTRATION in html


def test_what_is_doubtful_is_to_be_checked_and_a_person_can_settle_it(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    db = open_store(shop.database)
    note(db, "30", "bars might be on", Statement("done", "bars might be on", "handlebar", certainty=0.6))
    note(db, "30", "grips are on", Statement("done", "grips are on", "grips", certainty=0.9))
    rows = {row.part: row.check for _system, rows in sheet_of(db.conn, shop, reading.build(db.conn, "30")).done
            for row in rows}  # fmt: skip
    db.close()
    assert rows == {"Handlebar": True, "Grips": False}


def test_a_finished_bike_has_nothing_open_and_still_places_to_sign(site: httpx.Client) -> None:
    words = words_of(site.get("/builds/30/handover").text)
    assert "Nothing is recorded as done." in words and "Nothing is recorded as open." in words
    assert "Went out 20 January 2025" in words and "Received by" in words


def test_history_writes_the_sheet_as_one_file_that_needs_nothing_beside_it(seeded: Shop, tmp_path: Path) -> None:
    file = tmp_path / "sheet.html"
    done = CliRunner().invoke(main, ["history", "41", "--sheet", str(file), "--shop", str(seeded.folder)])
    assert done.exit_code == 0 and str(file) in done.output
    html = file.read_text(encoding="utf-8")
    assert "@page" in html and "Handover: Marlowe Curlew" in html
    for outside in ("href=", "src=", "http:", "https:", "url("):
        assert outside not in html, outside
    refused = CliRunner().invoke(
        main, ["history", "41", "--sheet", str(tmp_path / "no" / "x.html"), "--shop", str(seeded.folder)]
    )
    assert refused.exit_code == 2 and "name a file in a folder that is there" in refused.output


def test_job_numbers_and_names_that_look_like_markup_stay_words(tmp_path: Path) -> None:
    shop = load_shop(seeded_shop(tmp_path / "shop", films=False).folder)
    db = open_store(shop.database)
    writing.save_builds(db, [Build("66", "<b>Bo</b>", nickname="<script>alert(1)</script>", asked_for="<i>seat</i>")])
    html = handover_html(db.conn, shop, reading.build(db.conn, "66"))
    db.close()
    assert "<script>" not in html and "<b>Bo" not in html and "<i>seat" not in html
    assert DIARY not in html
