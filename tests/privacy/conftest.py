"""For the tests of privacy: a salon of its own, the command on it, and no salon of whoever runs them."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from estimator.records.place import DATABASE_VARIABLE, SALON_VARIABLE, SalonPlace
from estimator.records.store import Store, open_store

Command = Callable[..., tuple[int, str]]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SalonPlace:
    """An empty salon in a folder, which every command finds."""
    monkeypatch.delenv(DATABASE_VARIABLE, raising=False)
    monkeypatch.setenv(SALON_VARIABLE, str(tmp_path / "salon"))
    return SalonPlace(tmp_path / "salon")


@pytest.fixture
def store(place: SalonPlace) -> Iterator[Store]:
    with open_store(place) as opened:
        yield opened


@pytest.fixture
def command(place: SalonPlace, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Runs the command in this process; returns its exit code and all that it said, with its line ends."""

    from estimator import cli  # only where a command runs: it brings every command along

    def run(*words: object) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["tressmeter", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return int(ended.value.code or 0), said.out + said.err

    return run
