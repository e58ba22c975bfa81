"""Pictures of a shop's pages for the README: ``python -m tests.browser.pictures SHOP FOLDER``.

SHOP is a shop folder that has been indexed, such as the demo's; the pictures are PNG files named by page and size.
They show what the films of that shop gave: nothing is staged.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from diaryidx.shop import load_shop
from tests.browser.conftest import BROWSERS, FLAGS, SIZES
from tests.site.running import running

QUESTION = "how do I change the front brake pads"


def pages_of(database: Path) -> dict[str, str]:
    """The pages to take: front page, a search, the bike and the film that have most to show, a month, an answer."""
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True) as connection:

        def first(query: str) -> str:
            return str(connection.execute(query).fetchone()[0])

        bike = first("select build from statements where build is not null group by build order by count(*) desc")
        film, start = connection.execute(
            """select recording_id, min(start) from statements where status = 'done' and build is not null
               group by recording_id order by count(*) desc"""
        ).fetchone()
        month = first("select month from recording_details where month is not null order by month desc")
    return {
        "front": "/",
        "search": f"/search?q={QUESTION}",
        "bike": f"/builds/{bike}",
        "film": f"/films/{film}?t={start}",
        "month": f"/months/{month}",
        "answer": "/questions/1",
    }


def take(page: Page, address: str, file: Path) -> None:
    """One picture of what fits on the screen, once films and stills have loaded."""
    page.goto(address)
    page.wait_for_load_state("networkidle")
    key = page.locator("#player-says button")
    if key.count():
        key.click()
        page.wait_for_function("() => document.getElementById('player').currentTime > 0")
        page.wait_for_timeout(1500)
        page.evaluate("() => document.getElementById('player').pause()")
    page.wait_for_timeout(500)
    page.screenshot(path=str(file))


def main(shop_folder: Path, folder: Path) -> None:
    """Take every page at every size."""
    path = next(found for name in BROWSERS if (found := shutil.which(name)))
    shop = load_shop(shop_folder)
    folder.mkdir(parents=True, exist_ok=True)
    with running(shop) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        for size, (width, height) in SIZES.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            for name, place in pages_of(shop.database).items():
                take(page, address + place, folder / f"{name}-{size}.png")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
