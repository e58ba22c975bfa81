"""What people do with the site, in a real browser: they search, open a film, choose a sentence and hear it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.site.running import running
from tests.site.seeded_shop import DIARY, NOTE, SHADE_STEP, TUTORIAL, seeded_shop

Screenshot = Callable[[Page, str], None]

#: The shade of grey that the player's picture really has: which second of the film is on the screen.
SECOND_SHOWN = f"""() => {{
  const video = document.getElementById("player");
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 8;
  const context = canvas.getContext("2d");
  context.drawImage(video, 0, 0, 8, 8);
  const grey = context.getImageData(4, 4, 1, 1).data[0];
  return (grey * 219 / 255) / {SHADE_STEP};  // the film's black is 16 and its white 235 (ITU-R BT.601)
}}"""


def now(page: Page) -> float:
    """The player's time in seconds."""
    found = page.evaluate("document.getElementById('player').currentTime")
    assert isinstance(found, int | float)
    return float(found)


def wait_until_playing_from(page: Page, start: float, within: float = 1.5) -> None:
    """The player goes on by itself from ``start``, and sound has been decoded."""
    page.wait_for_function(
        """start => {
          const player = document.getElementById('player');
          return !player.paused && !player.seeking && player.currentTime >= start;
        }""",
        arg=start,
    )
    first = now(page)
    assert start <= first <= start + within, f"it plays at {first:.2f}, not from {start}"
    page.wait_for_function("was => document.getElementById('player').currentTime > was + 0.4", arg=first)
    assert page.evaluate("document.getElementById('player').webkitAudioDecodedByteCount") > 0
    assert not page.evaluate("document.getElementById('player').muted")


def press_play_if_asked(page: Page) -> None:
    """Browsers hold back sound until a person touched the page; then the page offers a key to press."""
    page.wait_for_function(
        "() => !document.getElementById('player').paused || document.querySelector('#player-says button')"
    )
    key = page.locator("#player-says button")
    if key.count():
        key.click()


def test_search_open_a_film_choose_a_sentence_and_hear_it(page: Page, screenshot: Screenshot) -> None:
    page.goto("/")
    page.get_by_label("What do you need to know?").fill("who fitted the caliper")
    page.get_by_role("button", name="Find").click()
    expect(page).to_have_title("who fitted the caliper: search · Quillmark Cycles")
    page.get_by_role("link", name="Play Build diary, February from 0:03").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Build diary, February")
    line = page.get_by_role("link", name="0:07 We are waiting for the seat")
    line.click()
    wait_until_playing_from(page, 7.1)
    expect(line).to_have_attribute("aria-current", "true")
    assert page.locator(".spoken [aria-current]").count() == 1
    assert abs(page.evaluate(SECOND_SHOWN) - 7) < 1.5, "the picture is of that moment too"
    screenshot(page, "film-playing")
    assert page.url.endswith(f"/films/{DIARY}?t=7.1"), "the address can be sent to somebody"


def test_the_sentence_being_spoken_is_marked_as_the_film_goes_on(page: Page) -> None:
    page.goto(f"/films/{DIARY}")
    page.get_by_role("link", name="0:03 First of all").click()
    wait_until_playing_from(page, 3.2)
    page.evaluate("document.getElementById('player').playbackRate = 4")
    marked = page.locator(".spoken [aria-current]")
    expect(marked).to_contain_text("First of all the curlew")
    expect(marked).to_contain_text("We are waiting for the seat")
    expect(marked).to_contain_text("The mirrors might be going on")
    expect(page.locator("nav.topics [aria-current]")).to_contain_text("The curlew")


@pytest.mark.parametrize("moment", ["?t=13.2", "#t=13.2"])
def test_a_deep_link_starts_there(page: Page, moment: str) -> None:
    page.goto(f"/films/{DIARY}{moment}")
    press_play_if_asked(page)
    wait_until_playing_from(page, 13.2)
    expect(page.locator(".spoken [aria-current]")).to_contain_text("Next up the heron")
    assert abs(page.evaluate(SECOND_SHOWN) - 13) < 1.5


def test_a_topic_plays_from_its_start(page: Page) -> None:
    page.goto(f"/films/{DIARY}")
    topics = page.get_by_role("navigation", name="What the film talks about")
    page.wait_for_load_state()
    if not topics.get_by_role("link").first.is_visible():  # on a phone they are folded away
        topics.get_by_text("What it talks about").click()
    topics.get_by_role("link", name="The heron").click()
    wait_until_playing_from(page, 13.2)


def test_a_bikes_line_leads_to_its_moment(page: Page, screenshot: Screenshot) -> None:
    page.goto("/builds/41")
    screenshot(page, "bike")
    page.get_by_role("link", name="Play Build diary, February from 0:07").first.click()
    press_play_if_asked(page)
    wait_until_playing_from(page, 7.1)


def test_it_all_works_by_keyboard(page: Page) -> None:
    page.goto("/")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page itself")).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_label("What do you need to know?")).to_be_focused()
    page.keyboard.type("who fitted the caliper")
    page.keyboard.press("Enter")
    link = page.get_by_role("link", name="Play Build diary, February from 0:03").first
    link.focus()
    expect(link).to_have_css("outline-style", "solid")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Build diary, February")
    page.wait_for_load_state()
    lines = page.locator(".spoken a[data-start]")
    lines.nth(0).focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    expect(lines.nth(2)).to_be_focused()
    page.keyboard.press("Enter")
    wait_until_playing_from(page, 7.1)


def test_the_player_stays_in_sight_while_the_words_scroll(page: Page) -> None:
    page.goto(f"/films/{DIARY}")
    page.locator(".spoken a[data-start]").last.scroll_into_view_if_needed()
    box = page.locator("#player").bounding_box()
    assert box is not None
    assert -1 <= box["y"] < (page.viewport_size or {})["height"] / 2


@pytest.mark.parametrize("path", [f"/films/{DIARY}", "/search?q=calli+per"])
def test_what_was_heard_is_shown_when_asked_for_by_keyboard_alone(page: Page, path: str) -> None:
    page.goto(path)
    expect(page.locator("mark.put-right").first).to_have_text("caliper", ignore_case=True)
    heard = page.get_by_text("“calli per” is taken for “caliper”").first
    expect(heard).to_be_hidden()
    page.get_by_text("What was heard").first.focus()
    page.keyboard.press("Enter")
    expect(heard).to_be_visible()


def test_what_was_heard_needs_no_script(browser: Browser, address: str) -> None:
    with browser.new_context(java_script_enabled=False, base_url=address) as context:
        page = context.new_page()
        page.goto(f"/films/{DIARY}")
        page.get_by_text("What was heard").first.click()
        first = page.get_by_text("First heard: “first of all the curlew the front brake calli per is done”")
        expect(first).to_be_visible()


def test_sound_alone_plays_too(page: Page) -> None:
    page.goto(f"/films/{NOTE}")
    page.get_by_role("link", name="0:00 Note for forty one").click()
    wait_until_playing_from(page, 0.2)


def test_an_answer_is_silent_until_asked_and_starts_at_its_words(page: Page, screenshot: Screenshot) -> None:
    page.goto("/questions/1")
    page.wait_for_function("() => document.getElementById('player').readyState >= 1")
    screenshot(page, "question")
    assert page.evaluate("document.getElementById('player').paused")
    assert abs(now(page) - 4.2) < 0.1
    page.get_by_role("link", name="0:09 Push the pistons back").click()
    wait_until_playing_from(page, 9.2)
    expect(page.locator(".spoken [aria-current]")).to_contain_text("Push the pistons back")


def test_a_reply_is_copied(page: Page) -> None:
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.goto("/questions/1")
    page.get_by_role("button", name="Copy the reply").click()
    expect(page.get_by_text("Copied. Paste it into your reply.")).to_be_visible()
    copied = page.evaluate("navigator.clipboard.readText()")
    assert copied.replace("\r\n", "\n").startswith("Hello,")
    assert "slide the old brake pads out" in copied


def test_a_reply_can_be_copied_where_the_browser_forbids_the_clipboard(page: Page) -> None:
    page.add_init_script("Object.defineProperty(navigator, 'clipboard', { value: undefined })")
    page.goto("/questions/1")
    page.get_by_role("button", name="Copy the reply").click()
    expect(page.get_by_text("The reply is selected: copy it now.")).to_be_visible()
    assert "Hello," in page.evaluate(
        "() => { const t = document.activeElement; return t.value.slice(t.selectionStart, t.selectionEnd); }"
    )


def test_the_customers_name_is_seen_only_when_opened(page: Page) -> None:
    page.goto("/builds/41")
    expect(page.get_by_text("Odo Fennimore")).to_be_hidden()
    page.get_by_text("Customer and frame number (private)").click()
    expect(page.get_by_text("Odo Fennimore")).to_be_visible()


def test_captions_show_in_the_player(page: Page) -> None:
    page.goto(f"/films/{TUTORIAL}")
    page.evaluate("document.getElementById('player').textTracks[0].mode = 'showing'")
    page.wait_for_function("() => document.getElementById('player').textTracks[0].cues?.length === 4")
    assert page.evaluate("document.getElementById('player').textTracks[0].cues[3].startTime") == 14.2


def test_a_film_whose_file_is_gone_says_so(browser: Browser, tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    with running(shop) as address:
        opened = browser.new_page()
        opened.goto(f"{address}/films/{DIARY}")
        expect(opened.get_by_role("status")).to_contain_text("cannot be played here")
        expect(opened.locator(".spoken a[data-start]")).to_have_count(6)
        opened.close()


def test_a_line_is_a_link_where_scripts_are_off(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, base_url=address)
    opened = context.new_page()
    opened.goto(f"/films/{DIARY}")
    opened.get_by_role("link", name="0:07 We are waiting for the seat").click()
    expect(opened.locator("#player")).to_have_attribute("src", f"/media/{DIARY}#t=7.10")
    context.close()
