"""A phone on the salon's network in a real browser: paired by a code, unlocked, at work, locked from afar."""

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.app.test_walk_in_browser import HOSTILE
from tests.app.visitor import Visitor
from tests.free_ports import free_port

pytestmark = IN_A_BROWSER
PIN, OTHER_PIN = "482915", "730264"


@dataclass(frozen=True)
class Serving:
    """A running program with both its doors open."""

    local: str
    network: str

    def command(self, *words: str, typed: str = "") -> str:
        done = subprocess.run(
            [sys.executable, "-m", "estimator", "access", *words],
            cwd=browser.ROOT,
            env=os.environ,
            input=typed,
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout


@contextmanager
def serving(log: Path) -> Iterator[Serving]:
    local, network = free_port(), free_port()
    words = ["serve", "--network", "--address", "127.0.0.1", "--port", str(local), "--network-port", str(network)]
    with log.open("w") as told:
        server = subprocess.Popen(
            [sys.executable, "-m", "estimator", *words], cwd=browser.ROOT, env=os.environ, stdout=told, stderr=told
        )
        try:
            until = time.monotonic() + 60
            while "For paired phones" not in log.read_text():
                assert server.poll() is None, log.read_text()
                assert time.monotonic() < until, log.read_text()
                time.sleep(0.1)
            yield Serving(f"http://127.0.0.1:{local}", f"https://127.0.0.1:{network}")
        finally:
            server.terminate()
            server.wait(timeout=20)


def _unlock(page, name: str, pin: str) -> None:
    page.get_by_text(name, exact=True).click()
    page.fill("#pin", pin)
    page.get_by_role("button", name="Unlock").click()


def test_a_phone_is_paired_unlocked_and_locked_from_the_laptop(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    log = tmp_path / "log.txt"
    with serving(log) as here, sync_playwright() as playwright:
        here.command("add", "Ilse", "--role", "owner", typed=PIN)
        here.command("add", HOSTILE[:60], "--role", "viewer", typed=OTHER_PIN)
        link = re.search(r"https://\S+", here.command("pair", "--link", here.network)).group(0)
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        window = chromium.new_context(
            viewport={"width": 390, "height": 844}, has_touch=True, ignore_https_errors=True, reduced_motion="reduce"
        )
        page = window.new_page()
        visitor = Visitor(page)
        page.on("request", lambda request: visitor.asked.append(request.url))
        page.on("dialog", lambda dialog: visitor.faults.append(dialog.message))
        page.on("console", lambda said: "Security Policy" in said.text and visitor.faults.append(said.text))

        page.goto(here.network)
        assert page.locator("body").inner_text() == "This phone is not paired. Pair it at the salon's own machine."
        page.goto(link)
        _check_plain(page, "pair")
        page.fill("#label", "chair one")
        page.get_by_role("button", name="Pair this phone").click()
        page.wait_for_url("**/unlock")
        _check_plain(page, "unlock")
        _unlock(page, "Ilse", "905172")
        page.wait_for_selector("text=That PIN does not fit")
        _unlock(page, "Ilse", PIN)
        visitor.wait_for_title("Photograph")
        page.get_by_role("button", name="Open the demo visit").click()
        page.wait_for_selector(".where .client:has-text('Marigold')")
        visitor.settle()
        page.locator(".st-key-steps a").nth(1).click()
        page.wait_for_selector("canvas")  # the drawing board stands the policy
        page.get_by_role("link", name="Phones").click()
        visitor.wait_for_title("Phones")
        assert page.get_by_role("button", name="Pair a phone").count() == 0  # the PIN comes first, once more
        visitor.check_looks("Phones, before the PIN")
        page.get_by_label("Your PIN once more").fill("905172")
        page.get_by_role("button", name="Confirm").click()
        page.wait_for_selector("text=That PIN does not fit")
        page.get_by_label("Your PIN once more").fill(PIN)
        page.get_by_role("button", name="Confirm").click()
        page.get_by_role("button", name="Pair a phone").click()
        page.wait_for_selector("text=Point the phone")
        visitor.check_looks("Phones")

        here.command("end", "all")
        page.wait_for_url("**/unlock?next=*", timeout=40_000)
        assert "Marigold" not in page.content()
        _unlock(page, HOSTILE[:60], OTHER_PIN)
        page.wait_for_selector("text=A viewer may not", timeout=30_000)  # the address was the owner's screen
        page.goto(here.network)
        visitor.wait_for_title("Clients")
        assert page.locator(".st-key-steps").count() == 0  # a viewer sees no step of a visit, and no phones
        assert page.get_by_role("link", name="Phones").count() == 0
        page.goto(f"{here.network}/lock")
        _check_plain(page, "lock")
        page.get_by_role("button", name="Lock this phone").click()
        page.wait_for_url("**/unlock")
        page.go_back()
        assert "Marigold" not in page.content()
        assert browser.outside_hosts(visitor.asked) == set()
        assert visitor.faults == []
        chromium.close()
    told = log.read_text()
    for private in (link.rsplit("/", 1)[1], "Ilse", "Marigold", "chair one"):
        assert private not in told


def _check_plain(page, screen: str) -> None:
    """The plain pages before the page itself keep the same rules of looks."""
    assert browser.small_targets(page) == [], screen
    assert browser.crowded_targets(page) == [], screen
    assert browser.small_letters(page) == [], screen
    assert browser.serious_findings(page) == [], screen
    page.set_viewport_size({"width": 320, "height": 700})
    assert not page.evaluate("() => document.documentElement.scrollWidth > innerWidth"), screen
    page.set_viewport_size({"width": 390, "height": 844})
