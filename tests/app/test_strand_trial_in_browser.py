"""The strand trial in a real browser: big enough to touch, inside a phone's width, and there again after a reload."""

import os
from pathlib import Path

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER
PICTURES = os.environ.get("TRESSMETER_PICTURES")  # a folder for pictures of the screens, to be looked at
TO_TARGETS = (("zones", "Zones"), ("readings", "Readings"), ("care", "Care"), ("plan", "Targets"))


def to_targets(visitor: Visitor) -> None:
    visitor.page.get_by_role("button", name="Open the demo visit").click()
    visitor.page.wait_for_selector("canvas", timeout=30_000)
    for label, title in TO_TARGETS:
        visitor.next(f"Next: {label}", title)


def picture(visitor: Visitor, name: str) -> None:
    """The whole screen, on a phone and on a laptop, where pictures are asked for."""
    if not PICTURES:
        return
    for width, height in ((1280, 800), (390, 844)):
        visitor.page.set_viewport_size({"width": width, "height": height})
        visitor.settle()
        tall = visitor.page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        visitor.page.set_viewport_size({"width": width, "height": min(tall + 60, 9000)})
        visitor.settle()
        visitor.page.screenshot(path=str(Path(PICTURES) / f"{name}_{width}.png"))
    visitor.page.set_viewport_size({"width": 390, "height": 844})
    visitor.settle()


def test_a_strand_trial_by_finger_and_after_a_reload(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    with browser.page_server() as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        window = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce")
        page = window.new_page()
        visitor = Visitor(page)
        page.goto(address)
        visitor.wait_for_title("Photograph")
        to_targets(visitor)
        visitor.next("Make the plan", "Plan")
        page.get_by_text("Try the mix on a strand first").click()
        visitor.settle()
        page.locator(".stExpander").get_by_text("crown", exact=True).click()
        visitor.settle()
        came_out = page.get_by_role("radiogroup", name="How the strand of the crown came out, wet and pulled")
        came_out.get_by_text("broke", exact=True).click()
        visitor.wait_for_words("No formula for crown")
        picture(visitor, "trial_stop")
        came_out.get_by_text("whole, and springs back").click()
        page.get_by_label("Minutes on the strand").fill("10")
        page.keyboard.press("Enter")
        page.get_by_role("button", name="Demo photograph of the strands").click()
        page.get_by_role("button", name="Use the plan made anew").click(timeout=60_000)
        visitor.wait_for_words("The plan above rests on this strand trial.")
        visitor.settle()
        assert browser.small_targets(page) == []
        assert browser.crowded_targets(page) == []
        assert browser.small_letters(page) == []
        assert not browser.scrolls_sideways(page)
        picture(visitor, "trial_in_use")
        page.reload()
        visitor.wait_for_title("Plan")
        visitor.wait_for_words("The plan above rests on this strand trial.")
        page.get_by_role("button", name="Back to the plan before the trial").click()
        visitor.wait_for_words("Use the plan made anew")
        chromium.close()
    assert visitor.faults == []
    assert browser.outside_hosts(visitor.asked) == set()
