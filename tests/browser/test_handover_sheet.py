"""The handover sheet on paper: printed by Chromium, read back with pypdf."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from diaryidx.records import Build, Statement
from diaryidx.shop import Shop
from diaryidx.site.handover import handover_html
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from tests.site.seeded_shop import empty_shop

#: ISO 216: A4 is 210 x 297 mm; a PDF's point is 1/72 inch (ISO 32000-1, 8.3.2.3), an inch is 25.4 mm.
A4_POINTS = (210 / 25.4 * 72, 297 / 25.4 * 72)
PARTS = (
    "seat", "forks", "rim", "brake pads", "wiring loom", "carburettor", "silencer", "chain", "mudguard", "headlight",
    "rear shock", "handlebar", "brake lines", "speedo", "battery", "fuel tank",
)  # fmt: skip
#: Elements whose words stick out of them: on paper those would be cut off.
CUT_OFF = """() => [...document.querySelectorAll("main *")]
  .filter((one) => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== "inline"
    && one.clientWidth > 0)
  .map((one) => one.outerHTML.slice(0, 90))"""
Printed = Callable[[int, str], tuple[PdfReader, list[str]]]


def shop_with(folder: Path, parts: int, wish: str) -> Shop:
    """A shop with one bike that has had work on so many parts, a third of it open."""
    shop = empty_shop(folder)
    db = open_store(shop.database)
    writing.save_builds(db, [
        Build("41", "Odo Fennimore", "Marlowe", "Curlew", "1998", "XA41 BCD", "JH2RC4407LM000141", "bronze",
              date_in="2025-01-13", promised="2025-05-01", asked_for=wish),
    ])  # fmt: skip
    note = writing.save_note(db, "41", "all of it", "2025-04-02", "Wes", [])
    said = [
        Statement(
            "waiting" if place % 3 == 2 else "done", f"words about part {place}",
            PARTS[place % len(PARTS)] + (f" {place}" if place >= len(PARTS) else ""), "front" if place % 2 else None,
            finish="satin black" if place % 2 else "tan", supplier="Kestrel Yard" if place % 4 == 0 else None,
            task="fit", certainty=0.9,
        )
        for place in range(parts)
    ]  # fmt: skip
    writing.save_note_reading(db, note.id, said, "k")
    db.close()
    return shop


@pytest.fixture
def printed(browser: Browser, tmp_path: Path) -> Printed:
    def print_it(parts: int, wish: str) -> tuple[PdfReader, list[str]]:
        shop = shop_with(tmp_path / f"shop-{parts}", parts, wish)
        db = open_store(shop.database)
        file = tmp_path / f"sheet-{parts}.html"
        file.write_text(handover_html(db.conn, shop, reading.build(db.conn, "41")), encoding="utf-8")
        db.close()
        opened: Page = browser.new_page()
        opened.goto(file.as_uri())
        sheet = opened.pdf(prefer_css_page_size=True)
        opened.emulate_media(media="print")
        opened.set_viewport_size({"width": 680, "height": 1009})  # the width of A4 without its margins, 180 mm
        cut_off = opened.evaluate(CUT_OFF)
        opened.close()
        return PdfReader(io.BytesIO(sheet)), cut_off

    return print_it


def words_on(pdf: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in pdf.pages).replace("ﬁ", "fi").replace("ﬀ", "ff").split())


def test_the_sheet_of_a_usual_bike_is_one_page_of_a4_with_every_word_on_it(printed: Printed) -> None:
    pdf, cut_off = printed(12, "quilted seat in tan; slimmer loom")
    assert len(pdf.pages) == 1
    box = pdf.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(A4_POINTS, abs=1)
    words = words_on(pdf)
    for shown in (
        "Handover: Marlowe Curlew", "XA41 BCD", "JH2RC4407LM000141", "Odo Fennimore", "Seat tan, fitted",
        "Kestrel Yard", "Still open", "Brakes - pump the lever", "qualified technician", "Received by",
    ):  # fmt: skip
        assert shown in words, shown
    assert "Back to the bike" not in words
    assert cut_off == []


def test_every_word_lies_inside_the_margins_of_the_paper(printed: Printed) -> None:
    pdf, _cut_off = printed(14, "a " + "very-long-word-without-any-space" * 6)
    outside: list[str] = []

    def look(text: str, matrix: list[float], at: list[float], *_font: object) -> None:
        left = at[4] * matrix[0] + matrix[4]
        if text.strip() and not 25 <= left <= A4_POINTS[0] - 25:
            outside.append(text)

    for page in pdf.pages:
        page.extract_text(visitor_text=look)
    assert outside == []


def test_a_long_sheet_breaks_between_parts_and_keeps_headings_with_what_they_head(printed: Printed) -> None:
    pdf, cut_off = printed(90, "seat")
    assert 2 <= len(pdf.pages) <= 6 and cut_off == []
    pages = [[line.strip() for line in page.extract_text().splitlines() if line.strip()] for page in pdf.pages]
    for page in pages[:-1]:
        assert page[-1] not in ("Still open", "Take care", "What was done", "Front end", "The whole bike"), page[-1]
    signing = next(place for place, page in enumerate(pages) if "Received by" in " ".join(page))
    assert signing == len(pages) - 1 and " ".join(pages[signing]).count("Signature") == 3, (
        "places to sign stay together"
    )
    words = words_on(pdf)
    assert all(f"{PARTS[n % len(PARTS)].capitalize()} {n}" in words for n in range(60, 90, 3))
    assert pages[1][0].startswith("System") or "Still open" in " ".join(pages[0]), "a table's head stands on each page"
