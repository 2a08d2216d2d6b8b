"""A person before a page in a real browser, and what the rules of its looks ask of every screen."""

from dataclasses import dataclass, field
from typing import Any

from tests.app import browser
from tests.app.browser import PageTimeout

OPEN_DRAWERS = """() => {
  const all = [...document.querySelectorAll("details:not([open]) > summary")];
  const closed = all.filter((each) => each.checkVisibility());
  closed.forEach((each) => each.click());
  return closed.length;
}"""

# The page library draws at what its program says over a socket; nothing else tells that an answer is still to come.
LISTENS = """() => {
  const send = WebSocket.prototype.send;
  WebSocket.prototype.send = function (...message) {
    if (!this.heard) this.addEventListener("message", () => { window.unanswered = false; });
    this.heard = true;
    window.unanswered = true;
    return send.apply(this, message);
  };
}"""
STANDS_STILL = """() => {
  const app = document.querySelector("[data-testid=stApp]");
  const done = ["notRunning", "compilationError"];
  const drawn = !app || (done.includes(app.dataset.testScriptState) && app.dataset.testConnectionState === "CONNECTED");
  if (window.unanswered || !drawn) {
    window.before = "";
    return false;
  }
  const boxes = [...document.querySelectorAll("summary, button")];  // drawers open over a fifth of a second
  const now = document.body.innerText.length + " " + boxes.map((box) => Math.round(box.getBoundingClientRect().top));
  const still = window.before === now;
  window.before = now;
  return still;
}"""


@dataclass
class Visitor:
    """A page in a window, and what it asked the network for."""

    page: Any
    asked: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.add_init_script(f"({LISTENS})()")

    def wait_for_title(self, title: str) -> None:
        self.page.wait_for_selector(f"h1:has-text('{title}')", timeout=30_000)
        self.settle()

    def wait_for_words(self, words: str) -> None:
        """Until these words are in view; where they do not come, the failure tells what the page says instead."""
        try:
            self.page.wait_for_selector(f"text={words}", timeout=30_000)
        except PageTimeout as problem:
            said = self.page.inner_text("body")
            raise AssertionError(f"{words!r} did not come. The page says:\n{said}") from problem

    def settle(self) -> None:
        """Until the program has drawn all it has to say, and nothing has changed or moved for a fifth of a second."""
        self.page.wait_for_function(STANDS_STILL, polling=200)

    def next(self, label: str, title: str) -> None:
        self.page.get_by_role("button", name=label).click()
        self.wait_for_title(title)

    def open_drawers(self) -> None:
        """Every closed drawer in view is opened; the page may be drawn anew meanwhile, so it is looked at again."""
        self.settle()
        for _ in range(5):
            if not self.page.evaluate(OPEN_DRAWERS):
                return
            self.settle()

    def check_looks(self, screen: str) -> None:
        """Every rule of the page's looks that a machine can measure."""
        self.open_drawers()
        assert browser.small_targets(self.page) == [], screen
        assert browser.crowded_targets(self.page) == [], screen
        assert browser.small_letters(self.page) == [], screen
        main = self.page.locator(".st-key-main_action button")
        if main.count():
            box = main.first.bounding_box()
            assert box["height"] >= browser.LEAST_MAIN_PX, screen
            assert box["width"] >= self.page.viewport_size["width"] - 110, screen
            assert box["y"] + box["height"] <= self.page.viewport_size["height"], (
                f"{screen}: the main action is out of view"
            )
        assert browser.serious_findings(self.page) == [], screen
        self.page.set_viewport_size({"width": 320, "height": 700})
        self.page.wait_for_timeout(150)
        assert not browser.scrolls_sideways(self.page), f"{screen} scrolls sideways at 320 px"
        self.page.set_viewport_size({"width": 390, "height": 844})
        self.page.wait_for_timeout(150)
