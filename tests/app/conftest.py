"""The page without a browser, and the sample photographs."""

from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"


@pytest.fixture
def screens(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    """The page as a person first sees it."""
    monkeypatch.chdir(ROOT)
    return AppTest.from_file(str(ROOT / "app.py"), default_timeout=30).run()


@pytest.fixture
def demo(screens: AppTest) -> AppTest:
    """The page with the demo visit open."""
    return screens.button(key="demo").click().run()


@pytest.fixture
def forward() -> Callable[[AppTest, int], AppTest]:
    """Takes the main action so many times."""

    def press(page: AppTest, times: int) -> AppTest:
        for _ in range(times):
            page = page.button(key="main_action").click().run()
        return page

    return press
