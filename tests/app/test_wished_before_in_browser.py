"""What a client wished for, in a real browser: big enough to touch, and the fields show what was confirmed."""

from dataclasses import replace

from estimator.pages.draft_json import as_json, from_json
from estimator.records.drafts import Drafts
from estimator.records.place import SalonPlace
from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.test_strand_trial_in_browser import TO_TARGETS, picture, to_targets
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER


def with_wish(drafts: Drafts, name: str) -> str:
    """The name of another draft of the same visit, as it begins from what a client sent."""
    kept, other = drafts.load(name), drafts.new_id()
    assert kept is not None
    begun = replace(from_json(kept.content, dict(kept.photos)), wishes={}, wished_level=9.0, wished_tone="beige")
    told = as_json(begun)
    drafts.keep(other, begun.client, told.content, told.photos)
    return other


def test_a_confirmed_wish_stands_in_the_fields(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    with browser.page_server() as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        window = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce")
        visitor = Visitor(window.new_page())
        visitor.page.goto(address)
        visitor.wait_for_title("Photograph")
        to_targets(visitor)
        name = visitor.page.url.split("visit=")[1].split("&")[0]
        again = Visitor(window.new_page())
        again.page.goto(f"{address}?visit={with_wish(Drafts(SalonPlace(tmp_path / 'salon')), name)}")
        again.page.wait_for_selector("canvas", timeout=30_000)
        for label, title in TO_TARGETS:
            again.next(f"Next: {label}", title)
        picture(again, "wished_before")
        again.check_looks("wished before")
        button = again.page.get_by_role("button", name="The client wished level 9, beige: confirm")
        button.click()
        button.wait_for(state="detached")
        again.settle()
        picture(again, "wished_confirmed")
        assert again.page.locator(".st-key-level_fringe input").input_value() == "9.0"
        pressed = ".st-key-tone_fringe button:is([aria-checked=true], [aria-pressed=true])"
        assert again.page.locator(pressed).inner_text() == "beige"
