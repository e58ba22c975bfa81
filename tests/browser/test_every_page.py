"""Every page kind in a real browser: axe-core, small screens, large fingers, dark rooms and paper."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.conftest import SIZES
from tests.site.running import running
from tests.site.seeded_shop import DIARY, NOTE, empty_shop

PAGES = {
    "home": "/",
    "search": "/search?q=front+brake+pads",
    "nothing-found": "/search?q=xylophone",
    "bikes": "/builds",
    "bike": "/builds/41",
    "since": "/builds/41?since=2025-03-01",
    "handover": "/builds/41/handover",
    "gaps": "/gaps",
    "developments": "/developments",
    "questions": "/questions",
    "question": "/questions/1",
    "films": "/films",
    "film": f"/films/{DIARY}?t=7.1",
    "sound": f"/films/{NOTE}",
    "months": "/months",
    "month": "/months/2025-03",
    "problem": "/films/nothing",
    "wrong-use": "/questions/abc",
}
#: WCAG 2.2, 2.5.5 Target Size (Enhanced): 44 CSS pixels, links inside a sentence excepted.
TARGET_PIXELS = 44
SMALL_TARGETS = """least => {
  const inSentence = (one) => one.tagName === "A" && one.closest("p") && getComputedStyle(one).display === "inline";
  return [...document.querySelectorAll("a, button, input, summary, textarea")]
    .filter((one) => one.checkVisibility() && !one.matches(".skip") && !inSentence(one))
    .map((one) => [one.closest("label.tick") ?? one, one.outerHTML])
    .map(([target, html]) => [target.getBoundingClientRect(), html])
    .filter(([box]) => box.height < least || box.width < least)
    .map(([box, html]) => `${html.slice(0, 90)} is ${Math.round(box.width)} x ${Math.round(box.height)}`);
}"""


def axe_violations(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['html'][:120]}: {node['failureSummary']}" for one in found for node in one["nodes"]]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_accessible_fits_and_can_be_touched(
    browser: Browser, address: str, name: str, screenshot: Callable[[Page, str], None]
) -> None:
    opened = browser.new_page(base_url=address)
    for width, height in SIZES.values():
        opened.set_viewport_size({"width": width, "height": height})
        opened.goto(PAGES[name])
        screenshot(opened, name)
        assert axe_violations(opened) == []
        assert opened.evaluate("document.documentElement.scrollWidth") <= width
        assert opened.evaluate(SMALL_TARGETS, TARGET_PIXELS) == []
        assert opened.evaluate("document.querySelectorAll('h1').length") == 1
    opened.close()


@pytest.mark.parametrize("name", ["home", "search", "bike", "question", "film", "month"])
def test_a_page_is_as_readable_in_the_dark(browser: Browser, address: str, name: str) -> None:
    context = browser.new_context(base_url=address, color_scheme="dark", viewport={"width": 360, "height": 740})
    opened = context.new_page()
    opened.goto(PAGES[name])
    assert opened.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(21, 24, 26)"
    assert axe_violations(opened) == []
    context.close()


def test_an_empty_shops_front_page_is_accessible_too(browser: Browser, tmp_path: Path) -> None:
    with running(empty_shop(tmp_path / "shop")) as address:
        opened = browser.new_page(viewport={"width": 360, "height": 740})
        opened.goto(address)
        assert axe_violations(opened) == []
        assert opened.evaluate("document.documentElement.scrollWidth") <= 360
        opened.close()


def test_nothing_is_fetched_from_anywhere_else(browser: Browser, address: str) -> None:
    asked: list[str] = []
    opened = browser.new_page()
    opened.on("request", lambda request: asked.append(request.url))
    for place in ("/", "/builds/41", f"/films/{DIARY}", "/questions/1"):
        opened.goto(address + place)
        opened.wait_for_load_state("networkidle")
    opened.close()
    assert len(asked) > 8
    assert [url for url in asked if not url.startswith(address + "/")] == []


def test_a_bikes_page_prints_as_a_sheet_without_the_site_around_it(
    browser: Browser, address: str, tmp_path: Path
) -> None:
    opened = browser.new_page(base_url=address)
    opened.goto("/builds/41")
    opened.emulate_media(media="print")
    for gone in (".top nav", "form.search", "details.private", ".notice"):
        assert not opened.locator(gone).first.is_visible()
    assert opened.get_by_role("heading", name="Marlowe Curlew").is_visible()
    sheet = opened.pdf(format="A4")
    assert sheet.startswith(b"%PDF")
    opened.close()
