"""Hostile names in a real browser: no script runs, nothing outside this machine is asked for, no log tells of them."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from estimator.records.place import SALON_VARIABLE, SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import _kept
from tests.app import browser
from tests.app.browser import IN_A_BROWSER, sync_playwright
from tests.free_ports import free_port
from tests.privacy import papers
from tests.privacy import salted_photos as salted
from tests.privacy.hostile_texts import all_chunks, hostile_texts, squeezed
from tests.privacy.salted_photos import found_seeds
from tests.privacy.visits import visit_saying

pytestmark = IN_A_BROWSER
# What might do something on a page: marks of Markdown, HTML and templates, addresses, and what steers direction.
ACTIVE = [text for text in hostile_texts() if "\0" not in text and set(text) & set("<[`*#$:{>|&\u202e")]


class Watched:
    """A page, and all that it asked for, said and opened."""

    def __init__(self, page) -> None:
        self.page, self.asked, self.said, self.bodies = page, [], [], []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("console", lambda told: self.said.append(told.text) if told.type == "error" else None)
        page.on("pageerror", lambda fault: self.said.append(str(fault)))
        page.on("dialog", self._dialog)
        page.on("response", lambda answer: self.bodies.append(answer))

    def _dialog(self, dialog) -> None:
        self.said.append(f"dialog: {dialog.message}")
        dialog.dismiss()


def test_no_paper_asks_runs_or_opens_anything(tmp_path):
    with sync_playwright() as started:
        chromium = started.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        watched = Watched(chromium.new_page())
        opened = 0
        for number, texts in enumerate(all_chunks()):
            for name, make in papers.PAGES.items():
                path = tmp_path / f"{name} {number}.html"
                path.write_bytes(make(texts))
                watched.page.goto(path.as_uri())
                opened += 1
        scripts = watched.page.evaluate("document.scripts.length")
        chromium.close()
    assert opened == 9 * 14
    assert scripts == 0
    assert [url for url in watched.asked if not url.startswith(("file:", "data:"))] == []
    assert watched.said == []


@contextmanager
def logged_server(log: Path) -> Iterator[str]:
    """A server of the page that writes everything it has to say into a file; its address."""
    port = free_port()
    words = ["run", "app.py", "--server.port", str(port), "--server.headless", "true", "--logger.level", "debug"]
    with log.open("wb") as file:
        command = [sys.executable, "-m", "streamlit", *words]
        server = subprocess.Popen(command, cwd=browser.ROOT, env=os.environ, stdout=file, stderr=file)
        try:
            browser._wait_for(f"http://127.0.0.1:{port}/", server)
            yield f"http://127.0.0.1:{port}/"
        finally:
            server.terminate()
            server.wait(timeout=20)


@pytest.fixture
def page_of_a_hostile_salon(tmp_path, monkeypatch):
    """The page on a salon of hostile clients, watched; and where the server writes its log."""
    monkeypatch.setenv(SALON_VARIABLE, str(tmp_path / "salon"))
    with open_store(SalonPlace(tmp_path / "salon")) as store, store.writing("visit kept") as session:
        for number, text in enumerate(ACTIVE):
            _kept(session, visit_saying(text, f"n{number} {text}"[:180], photos=(), documents=()))
    log = tmp_path / "log.txt"
    with sync_playwright() as playwright, logged_server(log) as address:
        chromium = playwright.chromium.launch(executable_path=browser.CHROMIUM, args=["--no-sandbox"])
        watched = Watched(chromium.new_context(viewport={"width": 1280, "height": 800}).new_page())
        yield watched, address, log
        chromium.close()


def _check(watched: Watched, log: Path) -> None:
    assert browser.outside_hosts(watched.asked) == set()
    assert not [told for told in watched.said if "dialog" in told]
    assert watched.page.evaluate("document.querySelectorAll('img[src^=http]:not([src*=\"127.0.0.1\"])').length") == 0


def test_no_client_s_name_does_anything_on_the_page(page_of_a_hostile_salon):
    watched, address, log = page_of_a_hostile_salon
    page = watched.page
    page.goto(f"{address}clients")
    page.wait_for_selector("h1:has-text('Clients')", timeout=60_000)
    wrong = []
    for number, text in enumerate(ACTIVE):
        box = page.get_by_label("Name or code, or its beginning")
        box.fill(f"n{number} ")
        box.press("Enter")
        line = page.locator(".st-key-client_lines button")
        try:
            page.wait_for_function(
                "n => { const l = document.querySelectorAll('.st-key-client_lines button');"
                " return l.length && l[0].innerText.startsWith(n); }", arg=f"n{number}", timeout=15_000)  # fmt: skip
        except Exception:
            wrong.append((number, text, "not listed"))
            continue
        if squeezed(text[:150]) not in squeezed(line.first.inner_text()):
            wrong.append((text, line.first.inner_text()))
    assert wrong == []
    _check(watched, log)
    told = log.read_text("utf-8", "replace")
    assert [text for text in ACTIVE if len(text) > 8 and text in told] == []


def test_a_photograph_s_name_and_tags_stay_where_they_were(page_of_a_hostile_salon, tmp_path):
    watched, address, log = page_of_a_hostile_salon
    photo = salted.salted_jpeg(salted.sample_pixels("strands_before.jpg"))
    path = tmp_path / "![Zq7photo](http:__outside.example_a.png)<img src=x onerror=alert(1)>.jpg"
    path.write_bytes(photo.content)
    page = watched.page
    page.goto(address)
    page.wait_for_selector("h1:has-text('Photograph')", timeout=60_000)
    page.set_input_files("[data-testid=stFileUploader] input", path)
    page.wait_for_selector("canvas", timeout=60_000)
    page.get_by_label("Client, by initials or a code").fill("Zq7code <img src=http://outside.example/b.png>")
    page.keyboard.press("Enter")
    page.wait_for_selector(".where:has-text('Zq7code')")
    page.wait_for_timeout(1000)
    _check(watched, log)
    pictures = [each for each in watched.bodies if "/media/" in each.url]
    assert pictures
    assert [found_seeds(each.body(), photo.seeds) for each in pictures if found_seeds(each.body(), photo.seeds)] == []
    drafts = [each for each in (tmp_path / "salon").rglob("*") if each.is_file()]
    assert any(each.name == "draft.json" for each in drafts)
    assert [each.name for each in drafts if found_seeds(each.read_bytes(), photo.seeds)] == []
    told = log.read_text("utf-8", "replace")
    assert "Zq7code" not in told
    assert "Zq7photo" not in told
