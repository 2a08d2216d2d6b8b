"""Reports on disk: whole, never over another, and in one sentence where it can't be done."""

import os
import subprocess
import sys
from contextlib import contextmanager

import pytest

from estimator.errors import BadInputError, OutputError
from estimator.reports import writing
from estimator.reports.writing import safe_stem, write_form, write_new, write_report

HTML, PDF = "<!DOCTYPE html><p>ä</p>", b"%PDF-1.7 \x00\xff"


def test_both_forms_are_written_as_they_are(tmp_path):
    paths = write_report(tmp_path / "new" / "folder", "Marigold-2026-11-25", HTML, PDF)
    assert paths.html.read_bytes() == HTML.encode("utf-8")
    assert paths.pdf.read_bytes() == PDF
    assert sorted(found.name for found in paths.html.parent.iterdir()) == [
        "Marigold-2026-11-25.html",
        "Marigold-2026-11-25.pdf",
    ]


def test_an_earlier_report_is_never_written_over(tmp_path):
    first = write_report(tmp_path, "visit", HTML, PDF)
    second = write_report(tmp_path, "visit", "other", b"other")
    assert (second.html.name, second.pdf.name) == ("visit-2.html", "visit-2.pdf")
    assert first.html.read_text("utf-8") == HTML


@pytest.mark.parametrize("taken", ["visit.html", "visit.pdf"])
def test_one_taken_name_moves_both_files(tmp_path, taken):
    (tmp_path / taken).write_text("mine")
    paths = write_report(tmp_path, "visit", HTML, PDF)
    assert (paths.html.name, paths.pdf.name) == ("visit-2.html", "visit-2.pdf")
    assert (tmp_path / taken).read_text() == "mine"


@pytest.mark.parametrize(
    "stem", ["../../escape", "", ".", "..hidden", "a/b\\c:d*e?", "x" * 300, "nul\x00", "\u202efdp", "C:\\report", "-rf"]
)
def test_no_name_leads_out_of_the_folder_or_hides_the_file(tmp_path, stem):
    folder = tmp_path / "inside"
    paths = write_report(folder, stem, HTML, PDF)
    assert paths.html.parent == folder
    assert paths.html.exists()
    assert sorted(found.parent for found in tmp_path.rglob("*.html")) == [folder]
    assert not paths.html.name.startswith((".", "-"))
    assert len(safe_stem(stem)) <= writing.LONGEST_STEM


def test_a_full_disk_is_seen_before_anything_is_written(tmp_path, monkeypatch):
    usage = writing.shutil.disk_usage(tmp_path)._replace(free=1000)
    monkeypatch.setattr(writing.shutil, "disk_usage", lambda _: usage)
    with pytest.raises(OutputError, match=r"no room left.*Free some space"):
        write_report(tmp_path, "visit", HTML, PDF)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_while_writing_leaves_nothing_half_written(tmp_path):
    resource = pytest.importorskip("resource", reason="file-size limits are a thing of Unix")
    assert resource
    script = (
        "import resource, signal, sys; from pathlib import Path\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN); resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "from estimator.reports.writing import write_report; from estimator.errors import OutputError\n"
        "try: write_report(Path(sys.argv[1]), 'visit', 'x' * 100, b'y' * 100_000)\n"
        "except OutputError as fault: print(fault)\n"
    )
    command = [sys.executable, "-B", "-c", script, str(tmp_path)]
    told = subprocess.run(command, capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": "."})
    assert "no room left" in told.stdout
    assert list(tmp_path.iterdir()) == []


@contextmanager
def as_nobody():
    """Without the rights of the administrator, who may write anywhere."""
    mine = os.geteuid()
    if mine == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(mine)


@pytest.mark.skipif(not hasattr(os, "seteuid"), reason="rights to folders work another way here")
def test_a_read_only_folder_is_told_in_one_sentence(tmp_path):
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o555)
    with as_nobody(), pytest.raises(OutputError, match=r"read-only\. Choose a folder"):
        write_report(folder, "visit", HTML, PDF)
    assert list(folder.iterdir()) == []


def test_a_file_in_the_way_of_the_folder_is_told(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="a file is in the way"):
        write_report(tmp_path / "taken", "visit", HTML, PDF)


def test_a_disk_without_links_still_gets_whole_files(tmp_path, monkeypatch):
    def no_links(*_):
        raise PermissionError(1, "links are not known here")

    monkeypatch.setattr(writing.os, "link", no_links)
    write_report(tmp_path, "visit", HTML, PDF)
    paths = write_report(tmp_path, "visit", HTML, PDF)
    names = sorted(found.name for found in tmp_path.iterdir())
    assert names == ["visit-2.html", "visit-2.pdf", "visit.html", "visit.pdf"]
    assert paths.pdf.read_bytes() == PDF


# --- one sheet in the form that its name asks for


class FakeForm:
    """Stands for a printed form of two pages."""

    def pdf(self):
        return PDF

    def png_pages(self):
        return (b"first", b"second")


def test_a_sheet_takes_the_form_of_its_ending(tmp_path):
    assert write_form(tmp_path / "new" / "bowls.pdf", FakeForm()) == (tmp_path / "new" / "bowls.pdf",)
    pages = write_form(tmp_path / "bowls.PNG", FakeForm())
    assert [path.name for path in pages] == ["bowls-1.PNG", "bowls-2.PNG"]
    assert [path.read_bytes() for path in pages] == [b"first", b"second"]
    assert write_form(tmp_path / "a.txt", FakeForm(), {".txt": lambda: b"words"})[0].read_bytes() == b"words"
    assert write_new(tmp_path / "one.png", (b"only",)) == (tmp_path / "one.png",)


@pytest.mark.parametrize("name", ["bowls", "bowls.docx", "bowls.txt"])
def test_another_ending_is_refused_with_those_there_are(name, tmp_path):
    with pytest.raises(BadInputError, match=r"\.html, \.pdf or \.png"):
        write_form(tmp_path / name, FakeForm(), {".html": lambda: b""})
    assert list(tmp_path.iterdir()) == []


def test_where_one_page_is_there_already_none_is_written(tmp_path):
    (tmp_path / "bowls-2.png").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"bowls-2\.png is there already"):
        write_form(tmp_path / "bowls.png", FakeForm())
    assert [path.name for path in tmp_path.iterdir()] == ["bowls-2.png"]
    assert (tmp_path / "bowls-2.png").read_bytes() == b"mine"
