"""A reload, and a new start of the program, in a real browser: the visit is where it was."""

import os
from pathlib import Path

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER
PICTURES = os.environ.get("TRESSMETER_PICTURES")  # a folder for pictures of the screens, to be looked at


def _picture(visitor: Visitor, name: str) -> None:
    if PICTURES:
        visitor.page.screenshot(path=str(Path(PICTURES) / f"{name}.png"), full_page=True)


def _wait_for_readings(page) -> None:
    """Until all four zones of the demo visit are read."""
    page.wait_for_function("() => document.querySelectorAll('.reading .figure').length === 4", timeout=60_000)


def test_a_visit_is_where_it_was_after_a_reload_and_after_a_new_start(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        page = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True).new_page()
        visitor = Visitor(page)
        with browser.page_server() as address:
            page.goto(address)
            visitor.wait_for_title("Photograph")
            page.get_by_role("button", name="Open the demo visit").click()
            page.wait_for_selector("text=Step 1 of")
            visitor.next("Next: zones", "Zones")
            visitor.next("Next: readings", "Readings")
            _wait_for_readings(page)
            figures = page.locator(".reading .figure").all_inner_texts()
            assert "visit=" in page.url
            page.reload()
            visitor.wait_for_title("Readings")
            _wait_for_readings(page)
            assert page.locator(".reading .figure").all_inner_texts() == figures
            _picture(visitor, "after_a_reload")
            query = page.url.split("?")[1]
        with browser.page_server() as address:
            page.goto(f"{address}readings?{query}")
            visitor.wait_for_title("Readings")
            _wait_for_readings(page)
            assert page.locator(".reading .figure").all_inner_texts() == figures
            page.goto(address)
            visitor.wait_for_title("Photograph")
            page.wait_for_selector("text=Unfinished visits")
            _picture(visitor, "unfinished_visits")
            visitor.check_looks("Photograph with unfinished visits")
            page.get_by_role("button", name="Go on").click()
            page.wait_for_selector(".where .client:has-text('Marigold')")
            page.wait_for_url(f"**?{query}")
        chromium.close()
    assert browser.outside_hosts(visitor.asked) == set()
