"""Every column of every CSV that the program writes: text stays text in a spreadsheet, numbers stay numbers, and
reading the file brings the very text back."""

import csv
import io
import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from estimator import console
from estimator.records.earlier import VisitThen, ZoneThen
from estimator.reports.trend import COLUMNS, trend_csv
from estimator.scale.appearance import Level, Warmth
from estimator.scene_rows import DIFFERENCE_COLUMNS, READING_COLUMNS
from estimator.spreadsheet_cells import from_cell, in_cell
from estimator.toning.predictions import COLUMNS_OUT
from estimator.toning.shades import demo_shelf
from estimator.toning.shelf_file import load_shelf, shelf_text, table_rows

CELLS = tomllib.loads(Path(__file__).with_name("cells.toml").read_text("utf-8"))
DANGEROUS, HARMLESS = CELLS["marked"], CELLS["as_they_are"]
# The columns of `tressmeter correct`, as docs/commands.md lists them.
CORRECTION_COLUMNS = (
    *("photo", "verdict", "card", "found", "patch_centres", "method", "held_out_de2000", "seconds", "findings"),
)  # fmt: skip
OF_COMMANDS = {
    "read": READING_COLUMNS,
    "compare": DIFFERENCE_COLUMNS,
    "correct": CORRECTION_COLUMNS,
    "predict": COLUMNS_OUT,
}


def _begins_formula(cell: str) -> bool:
    """As OWASP tells it; a plain number with its sign is what a spreadsheet should take for a number."""
    try:
        float(cell.split(" ")[0])
    except ValueError:
        return cell[:1] in tuple("=+-@\t\r\n＝＋－＠")
    return False


def test_the_list_holds_thirty_dangerous_cells():
    assert len(set(DANGEROUS)) == 30
    # Three begin with the mark already and are marked once more only so that reading restores them.
    assert sum(map(_begins_formula, DANGEROUS)) == 26


@pytest.mark.parametrize("text", DANGEROUS)
def test_a_dangerous_text_is_marked_and_comes_back(text):
    assert in_cell(text) == f"'{text}"
    assert from_cell(in_cell(text)) == text


@pytest.mark.parametrize("text", HARMLESS)
def test_a_harmless_text_and_a_number_stay_as_they_are(text):
    assert in_cell(text) == text
    assert from_cell(text) == text


@pytest.mark.parametrize("verb", OF_COMMANDS)
def test_every_column_of_a_command_is_safe_and_comes_back(verb, tmp_path, capsys):
    columns = OF_COMMANDS[verb]
    texts = DANGEROUS + HARMLESS
    rows = [{column: texts[(shift + place) % len(texts)] for place, column in enumerate(columns)}
            for shift in range(len(texts))]  # fmt: skip
    console.write_rows(rows, tmp_path / "rows.csv")
    raw = list(csv.reader(io.StringIO((tmp_path / "rows.csv").read_bytes().decode("utf-8"), newline="")))
    assert raw[0] == list(columns)
    assert not [cell for line in raw[1:] for cell in line if _begins_formula(cell)]
    back = [dict(zip(columns, map(from_cell, line), strict=True)) for line in raw[1:]]
    assert back == rows
    assert {line[1] for line in raw[1:]} >= {"-5", "-3.25", "12 34 -5.5 6"}


def test_figures_in_any_column_stay_figures(tmp_path, capsys):
    row = dict.fromkeys(DIFFERENCE_COLUMNS, "-12.345") | {"zone": -3.5, "d_l": "0.000"}
    console.write_rows([row], tmp_path / "rows.csv")
    (line,) = csv.DictReader((tmp_path / "rows.csv").read_text().splitlines())
    assert {float(cell) for cell in line.values()} == {-12.345, -3.5, 0.0}


@pytest.mark.parametrize("text", DANGEROUS)
def test_what_is_read_from_a_table_is_what_was_meant(text):
    out = io.StringIO()
    csv.writer(out).writerow([in_cell(text), "1"])
    if not in_cell(text).strip("'\t\r\n "):
        return  # a table's cell of nothing but blanks is an empty cell
    ((_, row),) = table_rows("zone,level\r\n" + out.getvalue(), ("zone",), "targets")
    assert row["zone"] == text.rstrip()


def test_a_shelf_keeps_the_names_of_its_shades():
    shelf = demo_shelf()
    names = [text for text in DANGEROUS if text.strip() == text and text.isprintable()][: len(shelf.shades)]
    renamed = replace(shelf, shades=tuple(map(_named, shelf.shades, names)))
    assert len(renamed.shades) > 8
    written = shelf_text(renamed)
    assert not [line for line in csv.reader(io.StringIO(written)) if any(map(_begins_formula, line))]
    assert [shade.name for shade in load_shelf(written).shades] == names


def _named(shade, name):
    return replace(shade, name=name)


@pytest.mark.parametrize("text", DANGEROUS)
def test_every_column_of_a_trend_is_safe_and_comes_back(text):
    level, warmth = Level(7.0, 6.5, 7.5, "", text), Warmth(12.0, 10.0, 14.0, 70.0, 8.0, text, ())
    zone = ZoneThen(text, "before", level, warmth, True, text)
    written = trend_csv((VisitThen("v", date(2026, 10, 5), False, (zone,)),))
    head, line = csv.reader(io.StringIO(written, newline=""))
    assert tuple(head) == COLUMNS
    assert not [cell for cell in line if _begins_formula(cell)]
    told = dict(zip(head, line, strict=True))
    assert {from_cell(told[name]) for name in ("zone", "scale", "stage", "wanted_tone")} == {text}
