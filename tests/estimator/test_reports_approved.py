"""Renderings that a person has looked at and approved: none may change unseen.

After a wanted change: `APPROVE_PICTURES=1 pytest tests/estimator/test_reports_approved.py`, then look at tests/pictures
before they are committed.
"""

import io
import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from estimator.records.visit_record import FindingRecord
from estimator.reports import before_after
from estimator.reports.bowl_sheet import bowl_form
from estimator.reports.client_letter import client_letter, letter_form
from estimator.reports.composing_record import compose_record
from estimator.reports.drawings import Patch, StripRow, level_strip, swatches
from estimator.reports.typesetting import shipped_fonts
from estimator.reports.visit_record import record_form
from tests.estimator.report_samples import CAUTION, SCALE, STOP, care_of, level_of_lightness, visit
from tests.estimator.test_reports_visit_record import DAY, kept, record

PICTURES = Path(__file__).resolve().parent.parent / "pictures"
# Letters may be set a hair's breadth apart by another release of the typesetter: few pixels may differ, by much.
MOST_PIXELS_MOVED = 0.004


def set_drawing(svg):
    """A drawing as the printed form sets it, at 72 dots per inch."""
    import typst

    source = b'#set page(width: auto, height: auto, margin: 4pt)\n#image(bytes(sys.inputs.svg), format: "svg")'
    compiler = typst.Compiler(source, font_paths=shipped_fonts(), sys_inputs={"svg": svg})
    return compiler.compile(format="png", ppi=72)


def zone_drawing(kind):
    (crown, _) = before_after.compose(visit()).zones
    return getattr(crown, kind)


DRAWINGS = {
    "swatches": lambda: zone_drawing("swatches"),
    "level-strip": lambda: zone_drawing("strip"),
    "ab-plane": lambda: zone_drawing("plane"),
    "roots-to-ends": lambda: zone_drawing("roots_to_ends"),
    "swatches-unverified": lambda: swatches([Patch((58.0, 6.0, 30.0), ("before", "unverified"), verified=False)]),
    "level-strip-unverified": lambda: level_strip([StripRow("before", level_of_lightness(40.0, 5.0), False)], SCALE),
    "care-stop": lambda: before_after.compose(visit(care=care_of(STOP, CAUTION))).care.shape,
}


def approved(name, png):
    """The approved picture of this name; the new one takes its place where the person running the tests says so."""
    path = PICTURES / f"{name}.png"
    if os.environ.get("APPROVE_PICTURES") == "1":
        PICTURES.mkdir(exist_ok=True)
        Image.open(io.BytesIO(png)).convert("RGB").save(path, optimize=True)
    assert path.exists(), f"{path.name} was never approved"
    return np.asarray(Image.open(path).convert("RGB")).astype(int)


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_looks_as_approved(name):
    png = set_drawing(DRAWINGS[name]())
    before, now = approved(name, png), np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)
    assert now.shape == before.shape
    assert np.mean(np.abs(now - before).max(axis=-1) > 24) <= MOST_PIXELS_MOVED


def record_sample(**changes):
    return record_form(compose_record(kept(record(**changes))))


def stopped_record():
    stop = FindingRecord("care", "scalp-broken", "stop", "", "The scalp is broken.", "Wait.", "common practice")
    return record_sample(care_verdict="stop", findings=(stop,))


# The first two pages of each paper.
PAPERS = {
    "report": lambda: before_after.report_form(visit()),
    "plan-stopped": lambda: before_after.report_form(visit(after=False, care=care_of(STOP, CAUTION))),
    "visit-record": record_sample,
    "visit-record-stopped": stopped_record,
    "bowl-sheet": lambda: bowl_form(visit()),
    "letter": lambda: letter_form(client_letter(visit()), DAY),
}


RARE = ("visit-record-stopped", "bowl-sheet", "letter")


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in RARE else name for name in PAPERS]
)
def test_a_printed_page_looks_as_approved(name):
    for number, png in enumerate(PAPERS[name]().png_pages(50)[:2], 1):
        before = approved(f"{name}-{number}", png)
        now = np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)
        assert now.shape == before.shape
        assert np.mean(np.abs(now - before).max(axis=-1) > 24) <= MOST_PIXELS_MOVED
