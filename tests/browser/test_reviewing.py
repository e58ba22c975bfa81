"""Signing in and reviewing in a real browser: with the keyboard alone, without scripts, on a phone, by role."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from diaryidx.shop import load_shop
from tests.browser.conftest import SIZES
from tests.browser.test_every_page import SMALL_TARGETS, TARGET_PIXELS, axe_violations
from tests.site.doubtful_shop import ITEMS, doubtful_shop
from tests.site.people import PASSWORDS, PEOPLE, with_people
from tests.site.running import running

#: Ten items a minute is what review is for; the machine's own share of it, with a clip that starts each time, must
#: leave most of that minute to the person.
ITEMS_TIMED, SECONDS_ALLOWED = 10, 45


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop full of doubts, with people who sign in, to be copied for each test."""
    return with_people(doubtful_shop(tmp_path_factory.mktemp("doubts") / "shop")).folder


@pytest.fixture
def doubts(pattern: Path, tmp_path: Path) -> Iterator[str]:
    """Where the site of a fresh copy of that shop is."""
    shutil.copytree(pattern, tmp_path / "shop")
    with running(load_shop(tmp_path / "shop"), open_door=False) as address:
        yield address


@pytest.fixture
def screen(browser: Browser, doubts: str) -> Iterator[Page]:
    context = browser.new_context(base_url=doubts, viewport={"width": 1280, "height": 900})
    context.set_default_timeout(20_000)
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    yield opened
    context.close()
    assert not complaints


def sign_in_by_keyboard(page: Page, role: str = "staff") -> None:
    """From the page that asks for it, to wherever it leads."""
    page.get_by_label("Name").focus()
    page.keyboard.type(PEOPLE[role])
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORDS[PEOPLE[role]])
    with page.expect_navigation():
        page.keyboard.press("Enter")


def press(page: Page, *keys: str) -> None:
    """Press keys of which the last one decides; wait for the next page with its heading in focus."""
    for key in keys[:-1]:
        page.keyboard.press(key)
    with page.expect_navigation():
        page.keyboard.press(keys[-1])
    expect(page.locator("h1")).to_be_focused()


def by_likelihood(page: Page) -> tuple[str, str]:
    """The two bikes that the first doubt may be about, the likeliest first; both are about as likely."""
    first = "201" if page.get_by_role("button", name="Not job 201").count() else "202"
    return first, "202" if first == "201" else "201"


def left(page: Page) -> int:
    return int(page.get_by_text(" in doubt ·").inner_text().split()[0])


def plays(page: Page) -> bool:
    page.wait_for_function(
        "() => { const p = document.getElementById('player'); return !p.paused && p.currentTime > 0; }"
    )
    return True


def test_ten_items_are_decided_with_the_keyboard_alone_well_within_a_minute(screen: Page) -> None:
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    assert screen.url.endswith("/review"), "signing in leads on to what was wanted"
    expect(screen.locator("h1")).to_be_focused()
    before = left(screen)
    assert before == ITEMS
    started = time.monotonic()
    for number in range(ITEMS_TIMED):
        assert plays(screen), "the clip starts by itself"
        press(screen, "n" if number % 3 == 2 else "a" if number % 3 else "2")
        expect(screen.locator("#said")).to_contain_text("Decided")
        if screen.get_by_text("Nothing is in doubt").count():
            break
    took = time.monotonic() - started
    print(f"\n{number + 1} items in {took:.1f} s")
    screen.goto("/decisions.json")
    decided = screen.evaluate("JSON.parse(document.body.innerText).decisions.map(one => one.actor)")
    assert decided == ["Bram Oakes"] * ITEMS_TIMED
    assert took < SECONDS_ALLOWED


def test_over_somebody_elses_decision_one_page_more_asks_and_can_be_read_and_answered_by_keyboard(
    screen: Page, browser: Browser, doubts: str
) -> None:
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    item = screen.locator("input[name=item]").first.get_attribute("value")
    press(screen, "a")
    other = browser.new_page(base_url=doubts)
    for width, height in SIZES.values():
        other.set_viewport_size({"width": width, "height": height})
        other.goto(f"/review?at={item}")
        if other.get_by_label("Name").count():
            sign_in_by_keyboard(other, "owner")
        other.keyboard.press("n")
        expect(other.locator("h1")).to_have_text("Decide otherwise?")
        expect(other.get_by_text("Bram Oakes decided on")).to_be_visible()
        assert axe_violations(other) == []
        assert other.evaluate("document.documentElement.scrollWidth") <= width
        assert other.evaluate(SMALL_TARGETS, TARGET_PIXELS) == []
    other.get_by_role("button", name="Decide so all the same").focus()
    other.keyboard.press("Enter")
    expect(other.locator("#said")).to_contain_text("Decided: about no bike")
    other.close()


def test_every_key_does_what_the_page_says(screen: Page) -> None:
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    first, second = by_likelihood(screen)
    press(screen, "r")
    expect(screen.locator("#said")).to_contain_text(f"not job {first}")
    expect(screen.get_by_role("button", name=f"Not job {second}")).to_be_visible()
    press(screen, "u")
    expect(screen.locator("#said")).to_contain_text(f"Undone: not job {first}")
    screen.keyboard.press("b")
    expect(screen.get_by_label("Another bike")).to_be_focused()
    screen.keyboard.type("an")
    screen.keyboard.press("Escape")
    expect(screen.locator("h1")).to_be_focused()
    screen.keyboard.press("b")
    screen.keyboard.type("bramble")
    press(screen, "Enter")
    expect(screen.locator("#said")).to_contain_text("job 201")
    first = screen.locator("[name=item]").first.input_value()
    press(screen, "k")
    assert screen.locator("[name=item]").first.input_value() != first
    press(screen, "s", "Enter")
    expect(screen.locator("#said")).to_contain_text("Cut in two")
    expect(screen.locator(".spoken li")).to_have_count(1)
    press(screen, "u")
    expect(screen.locator(".spoken li")).to_have_count(2)
    press(screen, "j")
    expect(screen.locator(".spoken li")).to_have_count(4)
    for _ in range(2):
        screen.keyboard.press("ArrowDown")
    screen.keyboard.press("s")
    screen.keyboard.press("ArrowDown")
    expect(screen.locator(".cut").nth(1)).to_be_focused()
    press(screen, "Enter")
    expect(screen.locator(".spoken li")).to_have_count(2)
    screen.keyboard.press("w")
    expect(screen.get_by_label("A misheard word or words")).to_be_focused()
    screen.keyboard.type("number")
    screen.keyboard.press("Tab")
    screen.keyboard.type("job")
    with screen.expect_navigation():
        screen.keyboard.press("Enter")
    expect(screen.get_by_role("button", name="Write it so")).to_be_focused()
    press(screen, "Enter")
    expect(screen.locator("#said")).to_contain_text("“number” is written as “job”")


def test_a_key_plays_and_pauses_and_the_clip_ends_where_the_stretch_ends(screen: Page) -> None:
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    assert plays(screen)
    screen.keyboard.press("p")
    screen.wait_for_function("() => document.getElementById('player').paused")
    screen.keyboard.press("p")
    assert plays(screen)
    screen.wait_for_function("() => document.getElementById('player').paused", timeout=15_000)
    assert 1.8 <= screen.evaluate("document.getElementById('player').currentTime") < 3.5
    screen.keyboard.press("p")
    screen.wait_for_function("() => !document.getElementById('player').paused")


def test_single_keys_can_be_turned_off_and_stay_off(screen: Page) -> None:
    """WCAG 2.2, 2.1.4 Character Key Shortcuts."""
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    screen.keyboard.press("?")
    screen.get_by_label("Single keys work").uncheck()
    screen.reload()
    screen.keyboard.press("n")
    screen.wait_for_timeout(300)
    assert left(screen) == ITEMS
    screen.get_by_text("Keys", exact=True).click()
    screen.get_by_label("Single keys work").check()
    screen.locator("h1").focus()
    press(screen, "n")


def test_typing_in_a_field_presses_no_key(screen: Page) -> None:
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    screen.keyboard.press("b")
    screen.keyboard.type("an1rjusk")
    screen.wait_for_timeout(300)
    expect(screen.get_by_label("Another bike")).to_have_value("an1rjusk")
    screen.get_by_role("searchbox").focus()
    screen.keyboard.type("a1")
    screen.wait_for_timeout(300)
    assert left(screen) == ITEMS


def test_a_screen_reader_is_told_what_each_button_does(screen: Page) -> None:
    screen.goto("/review")
    sign_in_by_keyboard(screen)
    likeliest, _ = by_likelihood(screen)
    told = (
        f"Yes, likeliest Job {likeliest}",
        f"Not job {likeliest}",
        "About no bike",
        "One with what follows",
        "Undo my last",
    )
    for name in told:
        expect(screen.get_by_role("button", name=name)).to_be_visible()
    expect(screen.get_by_role("button", name="cut before “we fitted the seat”")).to_be_visible()
    press(screen, "n")
    assert screen.evaluate("document.activeElement.getAttribute('aria-describedby')") == "said"
    assert "which bike is it?" in screen.title()


def test_review_works_where_scripts_are_off(browser: Browser, doubts: str) -> None:
    context = browser.new_context(base_url=doubts, java_script_enabled=False, viewport={"width": 360, "height": 740})
    opened = context.new_page()
    opened.goto("/review")
    opened.get_by_label("Name").fill(PEOPLE["staff"])
    opened.get_by_label("Password").fill(PASSWORDS[PEOPLE["staff"]])
    opened.get_by_role("button", name="Sign in").click()
    opened.get_by_label("Another bike").fill("Tarnbeck")
    opened.get_by_role("button", name="It is this one").click()
    opened.get_by_role("group", name="That name fits several").get_by_role("button", name="Job 204").click()
    expect(opened.get_by_text("Decided: job 204")).to_be_visible()
    opened.get_by_role("link", name="Skip", exact=True).click()
    opened.get_by_role("button", name="About no bike").click()
    expect(opened.get_by_text("Decided: about no bike")).to_be_visible()
    opened.get_by_role("link", name="All decisions").click()
    opened.get_by_role("button", name="Undo job 204").click()
    expect(opened.get_by_text("undone by Bram Oakes")).to_be_visible()
    opened.get_by_role("button", name="Sign out").click()
    expect(opened.get_by_role("heading", name="Sign in")).to_be_visible()
    opened.goto("/decisions")
    expect(opened.get_by_role("heading", name="Sign in")).to_be_visible()
    context.close()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("dark", [False, True])
def test_sign_in_review_and_decisions_are_accessible_and_fit(
    browser: Browser, doubts: str, size: str, dark: bool, screenshot: Callable[[Page, str], None]
) -> None:
    width, height = SIZES[size]
    context = browser.new_context(
        base_url=doubts, viewport={"width": width, "height": height}, color_scheme="dark" if dark else "light"
    )
    opened = context.new_page()

    def sound(name: str) -> None:
        screenshot(opened, name)
        assert axe_violations(opened) == []
        assert opened.evaluate("document.documentElement.scrollWidth") <= width
        assert opened.evaluate(SMALL_TARGETS, TARGET_PIXELS) == []
        assert opened.locator("h1").count() == 1

    opened.goto("/review")
    sound("sign-in")
    opened.get_by_label("Name").fill("Nobody")
    opened.get_by_label("Password").fill("wrong")
    opened.get_by_role("button", name="Sign in").click()
    expect(opened.get_by_role("alert")).to_be_visible()
    sound("sign-in-wrong")
    sign_in_by_keyboard(opened)
    opened.goto("/review")
    sound("review")
    press(opened, "a")
    sound("review-decided")
    opened.get_by_label("Another bike").fill("Tarnbeck")
    opened.get_by_role("button", name="It is this one").click()
    sound("review-several")
    opened.get_by_label("A misheard word or words").fill("number")
    opened.get_by_label("What was meant").fill("job")
    opened.get_by_role("button", name="Show what that changes").click()
    sound("review-word")
    opened.goto("/decisions")
    sound("decisions")
    context.close()
