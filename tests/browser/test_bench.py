"""Notes from the bench as somebody at the bench sends them: on a phone, through a bike's page."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Browser, expect

from tests.browser.conftest import SIZES
from tests.browser.test_every_page import SMALL_TARGETS, TARGET_PIXELS, axe_violations
from tests.site.people import PASSWORDS, PEOPLE, with_people
from tests.site.running import running
from tests.site.seeded_shop import seeded_shop
from tests.site.test_bench_notes import photo, sound_file


def test_a_note_with_a_photo_and_a_voice_note_are_sent_from_a_phone(browser: Browser, tmp_path: Path) -> None:
    (tmp_path / "panel.jpg").write_bytes(photo())
    sound_file(tmp_path / "Recording 7.m4a", "aac")
    width, height = SIZES["phone"]
    with running(with_people(seeded_shop(tmp_path / "shop", films=False)), open_door=False) as address:
        context = browser.new_context(base_url=address, viewport={"width": width, "height": height}, has_touch=True)
        page = context.new_page()
        page.goto("/builds/41")
        page.get_by_label("Name").fill(PEOPLE["staff"].lower() + " ")
        page.get_by_label("Password").fill(PASSWORDS[PEOPLE["staff"]])
        page.get_by_role("button", name="Sign in").tap()
        page.get_by_label("Write a note").fill("Left panel has a run")
        page.get_by_label("Photos").set_input_files(tmp_path / "panel.jpg")
        page.get_by_role("button", name="Keep the note").tap()
        expect(page.get_by_text("Note 1 is kept.")).to_be_visible()
        picture = page.get_by_role("img", name="Photo 1 of note 1: panel.jpg")
        picture.scroll_into_view_if_needed()
        expect(picture).to_be_visible()
        page.wait_for_function("() => document.querySelector('.photos img').naturalWidth === 64")
        page.get_by_label("Send a voice note").set_input_files(tmp_path / "Recording 7.m4a")
        page.get_by_role("button", name="Send it").tap()
        expect(page.get_by_role("heading", name="Waiting to be listened to")).to_be_visible()
        assert axe_violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate(SMALL_TARGETS, TARGET_PIXELS) == []
        page.get_by_role("button", name="Undo note 1").tap()
        expect(page.get_by_text("Note 1 is undone; its words are kept.")).to_be_visible()
        expect(page.get_by_text("Left panel has a run")).to_have_count(0)
        context.close()
