"""The commands of invitations and the inbox, as a person at a terminal uses them."""

import re
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from estimator.cli import app
from estimator.errors import BadInputError, EstimatorError
from estimator.intake import links
from estimator.intake.inbox import Inbox
from estimator.intake.routes import intake_app
from estimator.records.place import SalonPlace
from tests.estimator.intake.browserless import SAMPLES, Browserless


@pytest.fixture
def salon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    return tmp_path / "salon"


def _run(*words: str) -> str:
    done = CliRunner().invoke(app, ["remote", *words])
    if isinstance(done.exception, EstimatorError):
        raise done.exception
    return done.output


def _link(*options: str) -> str:
    found = re.search(
        r"https://salon\.example:8443/intake/\S+", _run("invite", "--address", "https://salon.example:8443", *options)
    )
    assert found
    return found.group(0)


@pytest.mark.slow
def test_from_the_invitation_to_the_reply(salon, tmp_path):
    code = _link("--client", "Q. R.", "--photos", "3").rpartition("/")[2]
    assert "open" in _run("invitations")
    assert code not in _run("invitations")
    client = Browserless(intake_app(Inbox(SalonPlace(salon))))
    client.agree(code)
    client.photo(code, (SAMPLES / "strands_blurred.jpg").read_bytes(), "back")
    client.post(f"/intake/{code}/hair", {"age_years": "15"})
    client.post(f"/intake/{code}/send", {})
    listed = _run("inbox")
    assert "1 photograph, of Q. R.; agreed to: health answers and remote consultation" in listed
    name = listed.split()[0]
    told = _run("read", name, "--out", str(tmp_path / "reply.txt"))
    assert "back-1.jpg" in told
    assert "16" in (tmp_path / "reply.txt").read_text(encoding="utf-8")  # the age that the law asks for stops first
    with pytest.raises(BadInputError, match="--yes"):
        _run("discard", name)
    assert name in _run("inbox")
    assert "Linked" in _run("link", name, "S. T.")
    assert "of S. T." in _run("inbox")
    _run("discard", name, "--yes")
    assert "empty" in _run("inbox")


@pytest.mark.slow
def test_a_revoked_link_opens_nothing(salon):
    code = _link().rpartition("/")[2]
    name = _run("invitations").split()[0]
    assert "Closed" in _run("revoke", name)
    assert "not open any more" in _run("revoke", name)
    assert Browserless(intake_app(Inbox(SalonPlace(salon)))).get(f"/intake/{code}").status == 404


def test_the_code_in_letters_holds_the_link(salon, tmp_path):
    """Read back by OpenCV's own reader of QR codes, which had no part in drawing it."""
    link = _link("--qr", str(tmp_path / "link.svg"))
    lines = [line for line in links.qr_in_letters(link).splitlines() if line]
    # Each letter is two fields, one above the other; the block stands for a light field.
    light = {"\u2588": (1, 1), "\u2580": (1, 0), "\u2584": (0, 1), " ": (0, 0)}
    fields = np.array([[light[letter][half] for letter in line] for line in lines for half in (0, 1)], dtype=np.uint8)
    assert cv2.QRCodeDetectorAruco().detectAndDecode(np.kron(255 * fields, np.ones((8, 8), np.uint8)))[0] == link
    assert (tmp_path / "link.svg").read_bytes().startswith(b"<?xml")


def test_a_link_for_this_machine_only_or_without_https_says_so(salon):
    assert "this machine only" in _run("invite")
    assert "https" in _run("invite", "--address", "http://192.168.1.20:8501")


@pytest.mark.slow
@pytest.mark.parametrize(
    "address", ["salon", "ftp://salon.example", "https://", "https://salon.example/?a=1", "javascript:x"]
)
def test_an_address_that_is_none_makes_no_invitation(salon, address):
    with pytest.raises(BadInputError, match="no address"):
        _run("invite", "--address", address)
    assert "no invitations" in _run("invitations")


def test_a_name_that_is_not_in_the_inbox_is_told(salon):
    for words in (
        ("read", "0123456789ab"),
        ("link", "0123456789ab", "M"),
        ("discard", "0123456789ab", "--yes"),
        ("revoke", "x"),
    ):
        with pytest.raises(BadInputError, match="tressmeter remote"):
            _run(*words)


@pytest.mark.parametrize("name", ["nothing", "0" * 12, "f" * 32])
def test_an_unknown_invitation_is_looked_for_among_the_invitations(salon, name):
    with pytest.raises(EstimatorError, match=r"There is no invitation .*`tressmeter remote invitations` lists them"):
        _run("revoke", name)
