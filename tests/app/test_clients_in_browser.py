"""The salon's clients in a real browser: by finger on a phone, by keyboard, with a name that would act if it could."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.kept_clients import HOSTILE, keep, opened
from tests.app.visitor import Visitor

pytestmark = IN_A_BROWSER
PICTURES = os.environ.get("TRESSMETER_PICTURES")  # a folder for pictures of the screens, to be looked at
PARTS = ("Consents", "Answers", "Notes", "More")


@pytest.fixture
def visitor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Visitor]:
    """The list of a salon with two clients, one of them with a hostile name."""
    salon = tmp_path / "salon"
    monkeypatch.setenv("TRESSMETER_SALON", str(salon))
    keep(salon, "M. D.", 40, facts={"asthma": False, "age_years": 34.0})
    keep(salon, "M. D.", facts={"asthma": True, "age_years": 34.0, "scalp_state": "sound"})
    keep(salon, HOSTILE, client_name=HOSTILE, contact=HOSTILE, notes=(HOSTILE,))
    with sync_playwright() as playwright, browser.page_server() as address:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        window = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce")
        here = Visitor(window.new_page())
        here.page.on("request", lambda request: here.asked.append(request.url))
        here.page.on("pageerror", lambda fault: here.faults.append(str(fault)))
        here.page.goto(f"{address}clients")
        here.wait_for_title("Clients")
        yield here
        chromium.close()
    assert browser.outside_hosts(here.asked) == set()
    assert here.faults == []


def _picture(visitor: Visitor, name: str) -> None:
    if not PICTURES:
        return
    for scheme in ("light", "dark"):
        visitor.page.emulate_media(color_scheme=scheme)
        for width, height in ((390, 844), (1280, 800)):
            visitor.page.set_viewport_size({"width": width, "height": height})
            visitor.settle()
            path = Path(PICTURES) / f"{name}_{width}_{scheme}.png"
            visitor.page.locator("[data-testid=stMainBlockContainer]").screenshot(path=str(path))
    visitor.page.emulate_media(color_scheme="light")
    visitor.page.set_viewport_size({"width": 390, "height": 844})
    visitor.settle()


def _looks(visitor: Visitor, name: str) -> None:
    visitor.check_looks(name)
    visitor.settle()
    _picture(visitor, name.replace(" ", "_"))


def _press(page: Any, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.click()


def _part(visitor: Visitor, name: str) -> None:
    visitor.page.locator(".st-key-client_part").get_by_text(name, exact=True).click()
    visitor.settle()


def test_every_screen_of_a_client_keeps_the_rules_of_the_page_s_looks(visitor: Visitor) -> None:
    page = visitor.page
    _looks(visitor, "list")
    page.locator("[class*=st-key-line_] button").filter(has_text=HOSTILE[:6]).first.click()
    page.wait_for_selector("text=All clients")
    visitor.settle()
    assert page.locator("h1").inner_text().replace("\u2060", "") == HOSTILE
    assert page.locator(".smalls img").first.evaluate("(image) => image.naturalWidth") == 320
    _looks(visitor, "client visits")
    for part in PARTS:
        _part(visitor, part)
        _looks(visitor, f"client {part}")
    _part(visitor, "Visits")
    page.locator("[class*=st-key-open_] button").first.click()
    page.wait_for_selector("text=Write down what was really mixed")
    visitor.settle()
    _looks(visitor, "kept visit")


def test_a_client_is_found_and_changed_and_a_visit_begun_and_the_way_back_is_always_there(
    visitor: Visitor, tmp_path: Path
) -> None:
    page = visitor.page
    page.get_by_label("Name or code, or its beginning").fill("mari")
    _press(page, "Find")
    page.wait_for_selector("h3:has-text('1 client')")
    visitor.settle()  # the lines of before are drawn over one by one
    page.locator("[class*=st-key-line_] button").filter(has_text="M. D.").first.click()
    page.wait_for_selector("h1:has-text('M. D.')")
    visitor.settle()
    page.reload()  # the address knows whom it showed
    page.wait_for_selector("h1:has-text('M. D.')")
    assert "Marigold" not in page.url
    _part(visitor, "Notes")
    page.get_by_label("Note", exact=True).fill("Less gold.")
    _press(page, "Keep the note")
    page.wait_for_selector("text=The note is kept.")
    _part(visitor, "More")
    with page.expect_download() as download:
        _press(page, "Make the file")
        page.wait_for_selector("text=Download the file")
        _press(page, "Download the file")
    assert Path(download.value.path()).read_bytes().startswith(b"PK")
    _press(page, "Begin a visit")
    visitor.wait_for_title("Photograph")
    assert page.locator(".where .client").inner_text() == "M. D."
    page.locator(".st-key-steps a").nth(3).click()
    visitor.wait_for_title("Care")
    page.wait_for_selector("text=Still so: asthma: yes")
    visitor.check_looks("Care with answers told before")
    page.locator(".st-key-ways a").filter(has_text="Clients").click()
    visitor.wait_for_title("Clients")
    page.locator(".st-key-ways a").filter(has_text="Visit").click()
    visitor.wait_for_title("Care")  # the step last seen


def test_two_phones_change_the_same_client_and_the_second_sees_both(visitor: Visitor, tmp_path: Path) -> None:
    from estimator.records.clients import change_client, client

    page = visitor.page
    page.locator("[class*=st-key-line_] button").filter(has_text="M. D.").first.click()
    page.wait_for_selector("h1:has-text('M. D.')")
    visitor.settle()
    _part(visitor, "More")
    page.get_by_label("Name, if it is wanted").fill("Mine")
    with opened(tmp_path / "salon") as store:
        change_client(store, client(store, "M. D."), name=HOSTILE)
    _press(page, "Keep the changes")
    page.wait_for_selector("table.both")
    _looks(visitor, "conflict")
    assert page.locator("table.both").inner_text().count("Mine") == 1
    _press(page, "Keep what I typed")
    page.wait_for_selector("text=The changes are kept")


def test_a_client_is_erased_by_keyboard_alone(visitor: Visitor) -> None:
    page = visitor.page
    _tab_to(page, "M. D. Marigold Dunmore, today")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('M. D.')")
    visitor.settle()
    _tab_to(page, "Visits")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.wait_for_selector("h2:has-text('Erase')")
    visitor.settle()
    _tab_to(page, "Erase this client")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=It can't be undone")
    visitor.settle()
    _tab_to(page, "Type the code to erase: M. D.")
    page.keyboard.type("M. D.")
    page.keyboard.press("Enter")
    visitor.settle()
    _tab_to(page, "Erase for good")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=it names nobody", timeout=30_000)
    assert page.get_by_text("Marigold").count() == 0


def _tab_to(page: Any, name: str) -> None:
    """Move the focus on until it stands on the thing of this name, as a reader would say it."""
    for _ in range(80):
        says = page.evaluate(
            "() => { const here = document.activeElement; return here.getAttribute('aria-label') || here.innerText"
            " || (here.labels && here.labels[0] ? here.labels[0].innerText : ''); }"
        )
        if (says or "").strip() == name:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"the keyboard never came to {name}")
