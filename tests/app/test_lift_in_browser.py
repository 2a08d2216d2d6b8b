"""The running clock in a real browser: big enough for wet gloves, there again after a reload, the same on two pages."""

import os
from collections.abc import Iterator

import pytest

from estimator.lifting.clock_events import Kind, StrandSaid, new_event
from estimator.lifting.clock_store import ClockStore, instant_now
from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright

pytestmark = IN_A_BROWSER
LEAST_KEY_PX, LEAST_DIGIT_PX = 64, 72  # our own rules: wet gloves, and figures that are read at arm's length


@pytest.fixture
def store(tmp_path) -> Iterator[ClockStore]:
    before = os.environ.get("TRESSMETER_SALON")
    os.environ["TRESSMETER_SALON"] = str(tmp_path)
    kept = ClockStore(tmp_path / "clock.json")
    said = StrandSaid(start_level=4.0)
    kept.add(
        new_event(Kind.START, "nape", instant_now(), most_minutes=30, check_minutes=5, target_level=8, strand=said)
    )
    yield kept
    os.environ.pop("TRESSMETER_SALON")
    if before is not None:
        os.environ["TRESSMETER_SALON"] = before


def seconds(page) -> int:
    minutes, rest = page.locator(".clock .time").first.inner_text().split(":")
    return 60 * int(minutes) + int(rest)


def test_the_clock_can_be_read_and_pressed_survives_a_reload_and_agrees_with_a_second_page(store):
    with browser.page_server() as address, sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=browser.CHROMIUM)
        page = chromium.new_page(viewport={"width": 390, "height": 844})
        page.goto(address + "lift")
        page.wait_for_selector(".clock .time", timeout=60_000)
        size = page.locator(".clock .time").first.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
        assert size >= LEAST_DIGIT_PX
        for box in page.locator('[class*="st-key-clock_keys_"] button').all():
            place = box.bounding_box()
            assert min(place["width"], place["height"]) >= LEAST_KEY_PX
        assert browser.small_targets(page) == []
        assert browser.small_letters(page) == []
        assert not browser.scrolls_sideways(page)
        first = seconds(page)
        page.wait_for_timeout(2500)
        assert seconds(page) > first  # it counts without a press
        page.reload()
        page.wait_for_selector(".clock .time", timeout=60_000)
        assert seconds(page) >= first
        other = chromium.new_page(viewport={"width": 1180, "height": 820})
        other.goto(address + "lift")
        other.wait_for_selector(".clock .time", timeout=60_000)
        other.locator(".st-key-rinse_nape button").click()
        other.wait_for_selector("text=rinsed at", timeout=30_000)
        page.wait_for_selector("text=rinsed at", timeout=30_000)  # the first page sees it by itself
        chromium.close()
    assert not store.load().is_running("nape")
