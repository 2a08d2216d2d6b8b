"""The area "From a client" in a real browser at the width of a phone: looks measured, nothing asked of other hosts."""

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from estimator.intake.inbox import Inbox
from estimator.intake.routes import intake_app
from estimator.records.place import SalonPlace
from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.visitor import Visitor
from tests.estimator.intake.browserless import Browserless

pytestmark = IN_A_BROWSER
SAMPLES = Path(__file__).parents[2] / "sample_images"
PICTURES = os.environ.get("TRESSMETER_PICTURES")  # a folder for pictures of the screens, to be looked at
HOSTILE = "![A](http://example.org/a.png)<img src=http://example.org/b.png onerror=alert(1)>"


def _picture(visitor: Visitor, name: str) -> None:
    if PICTURES:
        visitor.page.screenshot(path=str(Path(PICTURES) / f"{name}.png"))


def _sends(inbox: Inbox, code: str) -> None:
    """What a client does with the link."""
    client = Browserless(intake_app(inbox))
    client.agree(code)
    client.photo(code, (SAMPLES / "head.jpg").read_bytes(), "back")
    client.photo(code, (SAMPLES / "strands_blurred.jpg").read_bytes(), "ends")
    client.post(f"/intake/{code}/wish", {"level": "9", "tone": "beige", "words": HOSTILE})
    client.post(f"/intake/{code}/send", {})


def test_the_colourist_goes_from_an_invitation_to_a_visit(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    inbox = Inbox(SalonPlace(tmp_path / "salon"))
    with browser.page_server() as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        page = chromium.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce"
        ).new_page()
        here = Visitor(page)
        page.on("request", lambda request: here.asked.append(request.url))
        page.on("pageerror", lambda fault: here.faults.append(str(fault)))
        page.goto(f"{address}from_client")
        here.wait_for_title("From a client")
        here.check_looks("From a client")
        page.get_by_role("button", name="Make the link").click()
        page.wait_for_selector(".qr svg")
        link = page.get_by_label("The link").input_value()
        here.settle()
        # Read back from the screen by OpenCV, which had no part in drawing it. Its older reader misses 7 codes of 200.
        drawn = np.frombuffer(page.locator(".qr svg").screenshot(), np.uint8)
        assert cv2.QRCodeDetectorAruco().detectAndDecode(cv2.imdecode(drawn, cv2.IMREAD_COLOR))[0] == link
        here.check_looks("The link")
        _picture(here, "remote_link")
        code = link.rpartition("/")[2]
        with ThreadPoolExecutor(1) as aside:  # the browser's own loop runs in this thread
            aside.submit(_sends, inbox, code).result()
        page.reload()
        here.wait_for_title("From a client")
        page.get_by_role("button", name="Read", exact=True).click()
        page.wait_for_selector("text=Next: what they say", timeout=60_000)
        here.check_looks("Photos")
        _picture(here, "remote_photos")
        page.get_by_label("Client, by initials or a code").fill(HOSTILE[:60])
        page.keyboard.press("Enter")
        page.get_by_role("button", name="Next: what they say").click()
        page.wait_for_selector("text=Starting level")
        here.check_looks("What they say")
        _picture(here, "remote_says")
        page.get_by_role("button", name="Next: the reply").click()
        page.wait_for_selector("text=A draft for you to change")
        here.check_looks("Reply")
        _picture(here, "remote_reply")
        with page.expect_download() as download:
            page.get_by_role("button", name="Download the reply as text").click()
        download.value.save_as(tmp_path / "reply.txt")
        assert "no promise" in (tmp_path / "reply.txt").read_text(encoding="utf-8")
        page.get_by_role("button", name="Start a visit from this").click()
        here.wait_for_title("Photograph")
        assert HOSTILE[:10] in page.locator(".where").inner_text()
        chromium.close()
    assert here.faults == []
    assert browser.outside_hosts(here.asked) == set()
