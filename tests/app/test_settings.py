"""What the page's settings promise: nobody else on the network, no statistics, no code shown, bounded uploads."""

import tomllib
from pathlib import Path

SETTINGS = tomllib.loads((Path(__file__).parents[2] / ".streamlit/config.toml").read_text(encoding="utf-8"))


def test_the_page_answers_this_machine_only_and_tells_nobody() -> None:
    assert SETTINGS["server"]["address"] == "127.0.0.1"
    assert SETTINGS["browser"]["gatherUsageStats"] is False


def test_a_fault_never_shows_code_and_uploads_are_bounded() -> None:
    assert SETTINGS["client"]["showErrorDetails"] == "none"
    assert SETTINGS["client"]["toolbarMode"] == "minimal"
    assert SETTINGS["server"]["maxUploadSize"] == 60  # megabytes


def test_app_py_lists_the_screens_and_nothing_else() -> None:
    lines = (Path(__file__).parents[2] / "app.py").read_text(encoding="utf-8").splitlines()
    assert len(lines) < 40
