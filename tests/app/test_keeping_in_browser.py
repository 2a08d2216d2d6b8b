"""Keeping a visit, finding it again by the client's code and taking it back, in a real browser."""

import os
from pathlib import Path
from typing import Any

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER
PICTURES = os.environ.get("TRESSMETER_PICTURES")  # a folder for pictures of the screens, to be looked at


def _picture(visitor: Visitor, name: str) -> None:
    if not PICTURES:
        return
    for width, height in ((390, 844), (1180, 820)):
        visitor.page.set_viewport_size({"width": width, "height": height})
        visitor.settle()
        path = Path(PICTURES) / f"{name}_{width}.png"
        visitor.page.locator("[data-testid=stMainBlockContainer]").screenshot(path=str(path))
    visitor.page.set_viewport_size({"width": 390, "height": 844})


def _press(page: Any, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_a_visit_is_kept_found_again_and_taken_back(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    with sync_playwright() as playwright, browser.page_server() as address:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        page = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True).new_page()
        visitor = Visitor(page)
        page.on("request", lambda request: visitor.asked.append(request.url))
        page.goto(address)
        visitor.wait_for_title("Photograph")
        page.get_by_role("button", name="Open the demo visit").click()
        page.wait_for_selector(".where .client:has-text('Marigold')")
        visitor.settle()
        page.locator(".st-key-steps a").nth(6).click()
        visitor.wait_for_title("After")
        _press(page, "Keep this visit in the records")
        page.wait_for_selector("text=I agree that the salon keeps a record of my visits")
        visitor.check_looks("After, asked to agree")
        for number in (0, 1):
            page.get_by_text("the client agrees", exact=True).nth(number).click()
            visitor.settle()
        page.get_by_text("signed", exact=True).click()
        visitor.settle()
        _picture(visitor, "asked_to_agree")
        _press(page, "Keep")
        page.wait_for_selector("text=Kept under Marigold", timeout=60_000)
        visitor.check_looks("After, kept")
        _press(page, "Make the bowl sheet")
        page.wait_for_selector("text=Download the bowl sheet", timeout=60_000)
        _picture(visitor, "kept")
        page.locator(".st-key-steps a").nth(0).click()
        visitor.wait_for_title("Photograph")
        page.wait_for_selector("text=Earlier visits of this client: 1")
        visitor.check_looks("Photograph with an earlier visit")
        _picture(visitor, "earlier_visits")
        page.locator(".st-key-steps a").nth(6).click()
        visitor.wait_for_title("After")
        _press(page, "Take it back")
        page.wait_for_selector("text=Keep this visit in the records")
        page.locator(".st-key-steps a").nth(0).click()
        visitor.wait_for_title("Photograph")
        assert page.get_by_text("Earlier visits").count() == 0
        chromium.close()
    assert browser.outside_hosts(visitor.asked) == set()
