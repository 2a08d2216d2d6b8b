"""A client at home with a phone: the whole page in a real browser, with script switched off, and its looks measured."""

import os
from pathlib import Path

from estimator.intake.inbox import Inbox
from estimator.intake.limits import Limits
from estimator.records.place import SalonPlace
from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.remote_server import intake_server

pytestmark = IN_A_BROWSER
SAMPLES = Path(__file__).parents[2] / "sample_images"
PICTURES = os.environ.get("TRESSMETER_PICTURES")  # a folder for pictures of the screens, to be looked at
HOSTILE = "</textarea><img src=http://example.org/x.png onerror=alert(1)>"


class Phone:
    """A page on a phone, and what it asked for."""

    def __init__(self, page) -> None:
        self.page, self.asked = page, []
        page.on("request", lambda request: self.asked.append(request.url))

    def check_looks(self, name: str) -> None:
        page = self.page
        for theme in ("dark", "light"):
            page.emulate_media(color_scheme=theme)
            if PICTURES:
                page.screenshot(path=str(Path(PICTURES) / f"client_{name}_{theme}.png"), full_page=True)
            # WCAG 2.2 at level AA, as axe knows it.
            assert browser.serious_findings(page) == [], f"{name}, {theme}"
        assert browser.small_letters(page) == [], name
        assert self._small_targets() == [], name
        page.set_viewport_size({"width": 320, "height": 700})
        wide = page.evaluate("() => document.documentElement.scrollWidth > innerWidth")
        assert not wide, f"{name} scrolls sideways at 320 px"
        page.set_viewport_size({"width": 390, "height": 844})

    def _small_targets(self) -> list[str]:
        """A box and its words are one target: the label that holds both is measured."""
        found: list[str] = self.page.evaluate(
            "() => [...document.querySelectorAll("
            "'button, a, .box, input[type=text], input[type=file], select, textarea')]"
            ".map((each) => [each.textContent || each.name, each.getBoundingClientRect()])"
            ".filter(([, box]) => box.width < 47.4 || box.height < 47.4)"
            ".map(([says, box]) => `${says.trim().slice(0, 30)} ${box.width} x ${box.height}`)"
        )
        return found


def test_a_client_sends_three_photographs_from_a_phone_without_any_script(tmp_path):
    inbox = Inbox(SalonPlace(tmp_path / "salon"))
    made = inbox.invite(Limits(photos=4))
    with intake_server(inbox) as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        # Axe is a script: the page is measured in a window that lets it run, and walked in one that lets none run.
        looking = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, bypass_csp=True)
        measured = Phone(looking.new_page())
        window = chromium.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=False)
        page = window.new_page()
        phone = Phone(page)
        here = f"{address}/intake/{made.code}"

        def measure(name: str) -> None:
            measured.page.goto(page.url)
            measured.check_looks(name)

        page.goto(here)
        measure("start")
        page.get_by_role("button", name="Go on").click()  # without consent
        assert page.get_by_role("alert").inner_text().startswith("That did not work")
        for box in page.get_by_label("I agree").all():
            box.check()
        page.get_by_role("button", name="Go on").click()
        assert page.title() == "Photos of your hair"
        for view, name in (("Back", "head.jpg"), ("Left side", "head_turned.jpg"), ("Ends", "strands_before.jpg")):
            section = page.locator("section.view", has=page.get_by_role("heading", name=view))
            section.locator("input[type=file]").set_input_files(SAMPLES / name)
            section.get_by_role("button", name="Put this photo in").click()
        assert page.locator(".count").inner_text() == "3 of 6 photos here"
        measure("photos")
        section = page.locator("section.view", has=page.get_by_role("heading", name="Front"))
        section.locator("input[type=file]").set_input_files(SAMPLES / "visit.toml")
        section.get_by_role("button", name="Put this photo in").click()
        assert "not a photo" in page.get_by_role("alert").inner_text()
        page.get_by_role("button", name="Remove photo 1 of Ends").click()
        assert page.locator(".count").inner_text() == "2 of 6 photos here"
        page.get_by_role("link", name="Next: your hair").click()
        measure("hair")
        page.get_by_label("home box colour").check()
        page.locator("#age_years").fill("thirty")
        page.get_by_role("button", name="Next: skin and health").click()
        assert "thirty" in page.get_by_role("alert").inner_text()
        assert page.get_by_label("home box colour").is_checked()
        page.locator("#age_years").fill("34")
        page.get_by_role("button", name="Next: skin and health").click()
        measure("health")
        page.locator("fieldset", has_text="Do you have asthma?").get_by_label("no", exact=True).check()
        page.get_by_role("button", name="Next: what you would like").click()
        measure("wish")
        page.locator("#level").select_option("9")
        page.locator("#words").fill(HOSTILE)
        page.get_by_role("button", name="Next: look over and send").click()
        assert "2 photos, 2 of 6 sides" in page.locator("main").inner_text()
        measure("send")
        page.get_by_role("button", name="Send to the salon").click()
        assert page.url == f"{address}/intake/sent"
        measure("sent")
        page.goto(here)
        assert page.title() == "This link is not open"
        measure("closed")
        page.go_back()
        assert window.cookies() == []
        chromium.close()
        assert browser.outside_hosts(phone.asked + measured.asked) == set()
    told, bundle = inbox.read(made.invitation.id)
    assert [file.name for file in bundle.photos] == ["back-1.jpg", "left-1.jpg"]
    assert bundle.photos[0].photo_bytes == (SAMPLES / "head.jpg").read_bytes()
    assert told.entry.words == HOSTILE
    assert told.entry.answers == {"earlier_colour": ["box"], "age_years": 34.0, "asthma": False}


def test_a_file_that_is_too_large_is_told_to_a_real_browser(tmp_path):
    inbox = Inbox(SalonPlace(tmp_path / "salon"))
    made = inbox.invite(Limits(bytes_each=1_000_000))
    large = tmp_path / "large.jpg"
    large.write_bytes((SAMPLES / "head.jpg").read_bytes() + bytes(30_000_000))
    with intake_server(inbox) as address, sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        page = chromium.new_page(viewport={"width": 390, "height": 844})
        page.goto(f"{address}/intake/{made.code}")
        page.get_by_label("I agree").first.check()
        page.get_by_role("button", name="Go on").click()
        page.locator("input[type=file]").first.set_input_files(large)
        page.get_by_role("button", name="Put this photo in").first.click()
        assert "larger than 1 MB" in page.get_by_role("alert").inner_text()
        chromium.close()
    assert list(inbox.folder.rglob("*.jpg")) == []
