"""A real browser before a real server of the page, and what the rules of its looks measure."""

import os
import shutil
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

import pytest

from tests.free_ports import free_port

try:
    from playwright.sync_api import TimeoutError as PageTimeout
    from playwright.sync_api import expect, sync_playwright
except ImportError:
    expect = sync_playwright = PageTimeout = None

ROOT = Path(__file__).parents[2]
TOUCH_TARGETS = (Path(__file__).with_name("touch_targets.js")).read_text(encoding="utf-8").strip().rstrip(";")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MISSING = (
    "playwright is not installed (pip install -r requirements.lock)"
    if sync_playwright is None
    else ("" if CHROMIUM else "chromium is not installed (apt-get install chromium)")
)
IN_A_BROWSER = [
    pytest.mark.page,
    pytest.mark.slow,
    pytest.mark.skipif(bool(MISSING), reason=f"BROWSER TESTS SKIPPED: {MISSING}"),
]
LEAST_PX, LEAST_MAIN_PX, LEAST_GAP_PX = 48, 56, 8  # 48 and 8: Material Design's touch targets; 56: our own rule
ROUNDING_PX = 0.6
LOCAL = {"127.0.0.1", "localhost"}


@contextmanager
def page_server() -> Iterator[str]:
    """A server of the page on a free port of this machine; its address."""
    port = free_port()
    command = [
        sys.executable,
        "-m",
        "streamlit",
        "run",
        "app.py",
        "--server.port",
        str(port),
        "--server.headless",
        "true",
    ]
    server = subprocess.Popen(command, cwd=ROOT, env=os.environ, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _wait_for(f"http://127.0.0.1:{port}/", server)
        yield f"http://127.0.0.1:{port}/"
    finally:
        server.terminate()
        server.wait(timeout=20)


def _wait_for(address: str, server: "subprocess.Popen[bytes]") -> None:
    for _ in range(300):
        if server.poll() is not None:
            raise RuntimeError(f"The page's server ended with code {server.returncode}.")
        try:
            urllib.request.urlopen(address, timeout=1).close()
            return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise RuntimeError("The page's server did not answer within 30 seconds.")


def outside_hosts(addresses: list[str]) -> set[str]:
    """Hosts among these addresses that are not this machine."""
    return {host for host in (urlparse(address).hostname for address in addresses) if host and host not in LOCAL}


def small_targets(page: Any) -> list[str]:
    """Touch targets smaller than 48 x 48 px, in words."""
    return [
        f"{box['says'][:30]}: {box['right'] - box['left']:.0f} x {box['bottom'] - box['top']:.0f}"
        for box in page.evaluate(TOUCH_TARGETS)
        if min(box["right"] - box["left"], box["bottom"] - box["top"]) < LEAST_PX - ROUNDING_PX
    ]


def crowded_targets(page: Any) -> list[str]:
    """Pairs of touch targets closer together than 8 px, in words."""
    boxes = page.evaluate(TOUCH_TARGETS)
    pairs = ((one, other) for i, one in enumerate(boxes) for other in boxes[i + 1 :] if one["stuck"] == other["stuck"])
    return [
        f"{one['says'][:20]} | {other['says'][:20]}"
        for one, other in pairs
        if _gap_px(one, other) < LEAST_GAP_PX - ROUNDING_PX
    ]


def _gap_px(one: dict[str, float], other: dict[str, float]) -> float:
    across = max(one["left"] - other["right"], other["left"] - one["right"])
    down = max(one["top"] - other["bottom"], other["top"] - one["bottom"])
    return max(across, down)


SMALL_LETTERS = """() => {
  const found = [];
  const walk = (root) => root.querySelectorAll("*").forEach((element) => {
    if (element.shadowRoot) walk(element.shadowRoot);
    const box = element.getBoundingClientRect();
    const own = [...element.childNodes].filter((node) => node.nodeType === 3 && node.textContent.trim());
    if (!own.length || box.width <= 1 || box.height <= 1 || !element.checkVisibility()) return;
    const size = parseFloat(getComputedStyle(element).fontSize);
    const svg = element.ownerSVGElement;
    const times = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
    const shown = size * times;
    // Of size 0 is the name of a step on a phone, there to be read out.
    if (shown > 0 && shown < 15.95) found.push(`${shown.toFixed(1)} ${own[0].textContent.trim().slice(0, 30)}`);
  });
  walk(document.body);
  return found;
}"""


def small_letters(page: Any) -> list[str]:
    """Words set smaller than 16 px."""
    found: list[str] = page.evaluate(SMALL_LETTERS)
    return found


def scrolls_sideways(page: Any) -> bool:
    """Whether anything is wider than the window."""
    wide: bool = page.evaluate(
        "() => { const main = document.querySelector('[data-testid=stMain]');"
        " return main.scrollWidth > main.clientWidth || document.documentElement.scrollWidth > innerWidth; }"
    )
    return wide


def serious_findings(page: Any) -> list[str]:
    """What axe calls serious or critical on the page as it stands."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    return [each["id"] for each in found if each["impact"] in ("serious", "critical")]
