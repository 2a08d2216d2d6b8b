"""Single sheets from the command: written whole, never over another, and only with the consent that they need."""

import datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from estimator.cli import app
from estimator.errors import BadInputError, OutputError
from estimator.records.consent_entry import ConsentInFile
from estimator.records.consent_scopes import Scope
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from estimator.visit.sheets import need_consent_in
from tests.estimator.records import invented

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"
DAY = datetime.date(2026, 11, 20)


def _run(*arguments: object):
    return CliRunner().invoke(app, ["sheet", *map(str, arguments)])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sheet", "name", "begins"),
    [
        ("bowls", "bowls.pdf", b"%PDF"),
        ("letter", "letter.txt", b"DEMO"),
        pytest.param("letter", "letter.html", b"<!DOCTYPE", marks=pytest.mark.slow),
        pytest.param("letter", "letter.pdf", b"%PDF", marks=pytest.mark.slow),
        pytest.param("portfolio", "hair.png", b"\x89PNG", marks=pytest.mark.slow),
        pytest.param("class", "class.pdf", b"%PDF", marks=pytest.mark.slow),
    ],
)
def test_sheet_of_the_demo_visit_is_written_and_never_overwritten(sheet, name, begins, tmp_path):
    ran = _run(sheet, SAMPLES / "visit.toml", "--out", tmp_path / name)
    assert ran.exit_code == 0, ran.output
    assert (tmp_path / name).read_bytes().startswith(begins)
    again = _run(sheet, SAMPLES / "visit.toml", "--out", tmp_path / name)
    assert isinstance(again.exception, OutputError)


@pytest.mark.slow
@pytest.mark.parametrize(("sheet", "name"), [("portfolio", "hair.png"), ("class", "class.pdf")])
def test_what_shows_a_client_s_hair_to_others_is_refused_without_consent(sheet, name, tmp_path):
    text = (SAMPLES / "visit.toml").read_text(encoding="utf-8").replace("demo = true", "demo = false")
    for photo in ("before", "after"):
        text = text.replace(f'"strands_{photo}.jpg"', f'"{SAMPLES / f"strands_{photo}.jpg"}"')
    text = text.replace('"strands_zones.png"', f'"{SAMPLES / "strands_zones.png"}"')
    visit = tmp_path / "visit.toml"
    visit.write_text(text, encoding="utf-8")
    refused = _run(sheet, visit, "--out", tmp_path / name)
    assert isinstance(refused.exception, BadInputError)
    assert "consent" in str(refused.exception)
    assert not (tmp_path / name).exists()
    scope = "portfolio" if sheet == "portfolio" else "teaching"
    visit.write_text(f'{text}\n[[consent]]\nscope = "{scope}"\ngiven_on = 2026-10-01\nhow = "signed"\n', "utf-8")
    assert _run(sheet, visit, "--out", tmp_path / name).exit_code == 0


def test_consent_counts_for_its_own_use_and_from_its_day_on():
    given = ConsentInFile(scope=Scope.PORTFOLIO, given_on=DAY, how="signed")
    need_consent_in([given], Scope.PORTFOLIO, DAY)
    for scope, day in ((Scope.TEACHING, DAY), (Scope.PORTFOLIO, DAY - datetime.timedelta(days=1))):
        with pytest.raises(BadInputError, match="consent"):
            need_consent_in([given], scope, day)


@pytest.mark.slow
def test_letter_of_another_kind_is_refused_with_the_kinds_there_are(tmp_path):
    ran = _run("letter", SAMPLES / "visit.toml", "--out", tmp_path / "letter.docx")
    assert ".html, .pdf, .png or .txt" in str(ran.exception)


@pytest.fixture
def salon(tmp_path):
    """A salon that keeps one invented visit."""
    with open_store(SalonPlace(tmp_path / "salon")) as store:
        keep_visit(store, invented.visit())
    return tmp_path / "salon"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sheet", "name", "begins"),
    [
        ("visit-record", "record.pdf", b"%PDF"),
        ("visit-record", "record.html", b"<!DOCTYPE"),
        ("kept-letter", "letter.txt", b"Your hair"),
        pytest.param("kept-letter", "letter.png", b"\x89PNG", marks=pytest.mark.slow),
    ],
)
def test_papers_of_a_kept_visit_are_written_and_never_overwritten(sheet, name, begins, salon, tmp_path):
    ran = _run(sheet, "M. D.", "--day", "2026-10-05", "--out", tmp_path / name, "--salon", salon)
    assert ran.exit_code == 0, ran.output
    assert (tmp_path / name).read_bytes().startswith(begins)
    again = _run(sheet, "M. D.", "--out", tmp_path / name, "--salon", salon)
    assert isinstance(again.exception, OutputError)


@pytest.mark.slow
def test_pages_of_a_record_are_numbered_and_the_name_stands_only_where_it_is_asked_for(salon, tmp_path):
    _run("visit-record", "M. D.", "--out", tmp_path / "record.png", "--salon", salon)
    assert (tmp_path / "record-1.png").exists()
    assert (tmp_path / "record-2.png").exists()
    for more, named in (((), False), (("--name",), True)):
        out = tmp_path / f"{named}.html"
        _run("visit-record", "M. D.", "--out", out, "--salon", salon, *more)
        assert ("Marigold Dunmore" in out.read_text(encoding="utf-8")) is named


@pytest.mark.slow
def test_a_day_that_is_none_and_a_day_without_a_visit_are_told(salon, tmp_path):
    for day, told in (("yesterday", "Write it as"), ("2026-10-06", "No visit of 2026-10-06")):
        ran = _run("visit-record", "M. D.", "--day", day, "--out", tmp_path / "record.pdf", "--salon", salon)
        assert told in str(ran.exception)
        assert not (tmp_path / "record.pdf").exists()
