"""The shelf by finger in a real browser: a shade told in words, a swatch pointed at, a file to take away."""

from pathlib import Path

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.test_strand_trial_in_browser import picture, to_targets
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER
SAMPLES = Path(__file__).parents[2] / "sample_images"


def test_a_shade_is_told_and_measured_by_finger(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    with browser.page_server() as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        window = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce")
        page = window.new_page()
        visitor = Visitor(page)
        page.goto(address)
        visitor.wait_for_title("Photograph")
        to_targets(visitor)
        page.locator("summary").filter(has_text="Shelf:").click()
        visitor.settle()
        page.get_by_label("Name, in words of your own").fill("Evening violet")
        form = page.locator("[data-testid=stForm]")
        visitor.settle()
        form.locator("[data-testid=stSelectbox] button").first.tap()
        page.get_by_role("option", name="violet", exact=True).tap()
        page.get_by_label("Level on the label").fill("9")
        form.get_by_text("demi-permanent acidic", exact=True).click()
        page.get_by_role("button", name="Add this shade").click()
        page.wait_for_selector("text=Shelf: 1 shade, your own", timeout=30_000)
        visitor.settle()
        if not page.get_by_label("Name, in words of your own").is_visible():
            page.locator("summary").filter(has_text="Shelf:").click()
            visitor.settle()
        page.locator("summary").filter(has_text="from a photographed swatch").click()
        visitor.settle()
        page.set_input_files("[data-testid=stFileUploader] input[accept*=heic]", SAMPLES / "strands_before.jpg")
        canvas = page.locator(".stExpander canvas").first
        canvas.wait_for(timeout=30_000)
        visitor.settle()
        canvas.scroll_into_view_if_needed()
        box = canvas.bounding_box()
        page.mouse.click(box["x"] + 0.255 * box["width"], box["y"] + 0.35 * box["height"])  # the fringe, seen by eye
        page.wait_for_selector("text=Read there:", timeout=30_000)
        visitor.settle()
        picture(visitor, "shelf_swatch")
        assert browser.small_targets(page) == []
        assert browser.crowded_targets(page) == []
        assert browser.small_letters(page) == []
        assert not browser.scrolls_sideways(page)
        page.get_by_role("button", name="Use this colour for Evening violet").click()
        page.wait_for_selector("text=known by photo", timeout=30_000)
        visitor.settle()
        with page.expect_download(timeout=30_000) as download:
            page.get_by_role("button", name="Download the shelf (CSV)").click()
        download.value.save_as(tmp_path / "shelf.csv")
        chromium.close()
    assert "Evening violet,violet,9,demi-permanent acidic," in (tmp_path / "shelf.csv").read_text("utf-8")
    assert ",photo," in (tmp_path / "shelf.csv").read_text("utf-8")
    assert visitor.faults == []
    assert browser.outside_hosts(visitor.asked) == set()
