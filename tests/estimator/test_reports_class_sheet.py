"""The class sheet: the task tells no figure, the answers tell every one, and nobody is named."""

import io

import pytest
from pypdf import PdfReader

from estimator.reports import wording
from estimator.reports.class_sheet import class_sheet, render_class_sheet
from tests.estimator.report_samples import visit


@pytest.fixture(scope="module")
def document():
    return visit()


@pytest.fixture(scope="module")
def pages(document):
    pdf = PdfReader(io.BytesIO(render_class_sheet(document)))
    return [" ".join(page.extract_text().split()) for page in pdf.pages]


def test_task_names_every_zone_and_tells_no_figure(pages, document):
    for read in document.before.zones:
        assert read.zone.name in pages[0]
        assert wording.number_text(read.level.level, 1) not in pages[0]
        assert read.warmth.stage not in pages[0]


def test_answers_hold_every_level_with_its_interval(pages, document):
    for read in document.before.zones:
        assert wording.level_text(read.level) in pages[1]
        assert wording.stage_text(read.warmth) in pages[1]


def test_nobody_is_named(pages, document):
    assert document.heading.client_code not in " ".join(pages)
    assert document.heading.salon not in " ".join(pages)


def test_zones_stand_in_the_order_of_their_numbers(document):
    numbers = [zone.number for zone in class_sheet(document).zones]
    assert numbers == sorted(numbers)
