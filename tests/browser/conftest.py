"""The system's own Chromium, driven by playwright, on one seeded site for all tests of this room.

With ``DIARYIDX_SCREENSHOTS`` set to a folder, each page kind's picture is left there for the README.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from tests.site.running import running
from tests.site.seeded_shop import seeded_shop

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZES = {"phone": (360, 740), "desk": (1280, 900)}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Open for one module only: while playwright runs, no other test could use asyncio in this thread."""
    path = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip(f"NO BROWSER: none of {', '.join(BROWSERS)} is installed, so nothing was tried in a real one")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the seeded site is, without a slash at the end."""
    shop = seeded_shop(tmp_path_factory.mktemp("browsed") / "shop")
    with running(shop) as found:
        yield found


@pytest.fixture(params=SIZES)
def page(request: pytest.FixtureRequest, browser: Browser, address: str) -> Iterator[Page]:
    """An empty page of a phone's and of a desk's size; anything that a page complains of fails the test."""
    width, height = SIZES[request.param]
    context = browser.new_context(
        base_url=address, viewport={"width": width, "height": height}, has_touch=request.param == "phone"
    )
    context.set_default_timeout(10_000)
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda error: complaints.append(str(error)))

    def listen(said: ConsoleMessage) -> None:
        if said.type == "error" and "the server responded with a status of 4" not in said.text:
            complaints.append(said.text)

    opened.on("console", listen)
    yield opened
    context.close()
    assert not complaints


@pytest.fixture
def screenshot(request: pytest.FixtureRequest) -> object:
    """Leaves a picture of a page in the folder that ``DIARYIDX_SCREENSHOTS`` names, if it does."""
    folder = os.environ.get("DIARYIDX_SCREENSHOTS")

    def take(page: Page, name: str) -> None:
        if folder:
            size = "phone" if (page.viewport_size or {})["width"] < 500 else "desk"
            Path(folder).mkdir(parents=True, exist_ok=True)
            page.screenshot(path=str(Path(folder) / f"{name}-{size}.png"))

    return take
