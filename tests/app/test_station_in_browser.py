"""The drawer for a station and a white sheet by finger in a real browser."""

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.test_station_and_sheet import FALLING, photograph_lit, photograph_sheet, station
from tests.app.test_strand_trial_in_browser import picture
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER


def test_a_sheet_and_a_station_are_added_by_finger_and_there_after_a_reload(tmp_path, monkeypatch):
    salon = tmp_path / "salon"
    (salon / "stations").mkdir(parents=True)
    (salon / "stations" / "chair.toml").write_bytes(station())
    monkeypatch.setenv("TRESSMETER_SALON", str(salon))
    files = tmp_path / "photo.png", tmp_path / "sheet.png"
    for file, made in zip(files, (photograph_lit(FALLING), photograph_sheet(FALLING)), strict=True):
        file.write_bytes(made.png())
    with browser.page_server() as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        window = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce")
        page = window.new_page()
        visitor = Visitor(page)
        page.goto(address)
        visitor.wait_for_title("Photograph")
        page.set_input_files("[data-testid=stFileUploader] input", files[0])
        page.wait_for_selector("canvas", timeout=30_000)
        visitor.settle()
        drawer = page.locator(".stExpander").filter(has_text="More: station, white sheet")
        drawer.locator("summary").click()
        visitor.settle()
        drawer.locator("input[type=file][accept*=heic]").set_input_files(files[1])
        page.get_by_role("button", name="Use this white sheet").click()
        page.wait_for_selector("summary:has-text('More, in use: white sheet')", timeout=30_000)
        visitor.settle()
        if not page.get_by_role("button", name="Leave the white sheet out").is_visible():
            page.locator("summary:has-text('More, in use: white sheet')").click()
            visitor.settle()
        page.wait_for_selector("text=as without them", timeout=30_000)
        picture(visitor, "station_sheet")
        assert browser.small_targets(page) == []
        assert browser.crowded_targets(page) == []
        assert browser.small_letters(page) == []
        assert not browser.scrolls_sideways(page)
        page.reload()
        visitor.wait_for_title("Photograph")
        page.wait_for_selector("summary:has-text('More, in use: white sheet')", timeout=30_000)
        chromium.close()
    assert visitor.faults == []
    assert browser.outside_hosts(visitor.asked) == set()
