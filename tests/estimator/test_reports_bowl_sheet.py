"""The bowl sheet: large enough for an arm's length, care first, and no bowl behind a stop."""

import io
from dataclasses import replace

import pytest
from pypdf import PdfReader

from estimator.care.cautions import standing_order, usual_cautions
from estimator.reports.before_after import compose
from estimator.reports.bowl_sheet import bowl_sheet, render_bowl_sheet
from estimator.reports.wording import grams_text
from tests.estimator.report_samples import CAUTION, STOP, care_of, renamed, visit

SMALLEST_POINT = 14


@pytest.fixture(scope="module")
def document():
    return visit(after=False, care=care_of(CAUTION))


@pytest.fixture(scope="module")
def printed(document):
    return PdfReader(io.BytesIO(render_bowl_sheet(document)))


def _words(pdf: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)


def test_nothing_is_set_smaller_than_fourteen_point_on_a5(printed):
    sizes = []
    for page in printed.pages:
        # ISO 216: A5 is 148 mm by 210 mm.
        assert [round(float(side) / 72 * 25.4) for side in page.mediabox[2:]] == [148, 210]
        page.extract_text(
            visitor_text=lambda text, _, matrix, __, size: sizes.append(size * abs(matrix[3])) if text.strip() else None
        )
    assert sizes
    assert min(sizes) >= SMALLEST_POINT - 0.01
    assert max(sizes) >= 2 * SMALLEST_POINT  # the grams


def test_care_and_cautions_stand_before_the_first_bowl(printed, document):
    words = _words(printed)
    bowl = words.index("Bowl 1")
    assert words.index(CAUTION.message) < bowl
    assert words.index(standing_order()[:40]) < bowl
    assert all(words.index(caution.title) < bowl for caution in usual_cautions())


def test_every_gram_of_every_bowl_is_there(printed, document):
    words = _words(printed).replace("\u00a0", " ").replace("\u202f", " ")
    for bowl in document.plan.bowls:
        for _, grams in bowl.shade_grams:
            assert grams_text(grams).replace("\u00a0", " ").replace("\u202f", " ") in words


def test_stop_hides_every_bowl_and_says_why():
    stopped = visit(after=False, care=care_of(STOP, CAUTION))
    words = _words(PdfReader(io.BytesIO(render_bowl_sheet(stopped))))
    assert bowl_sheet(stopped).pages == ()
    assert STOP.message in words
    assert "Bowl 1" not in words
    for bowl in stopped.plan.bowls:
        assert all(name not in words for name, _ in bowl.shade_grams if name != "clear")


def test_demo_is_marked_on_the_sheet_and_on_every_page(document):
    demo = visit(after=False, demo=True)
    pdf = PdfReader(io.BytesIO(render_bowl_sheet(demo)))
    assert all("DEMO" in page.extract_text() for page in pdf.pages)


def test_markup_in_a_name_stays_text(document):
    words = _words(PdfReader(io.BytesIO(render_bowl_sheet(renamed(document, "#pagebreak() *Lily*")))))
    assert "#pagebreak() *Lily*" in words


def test_why_a_mix_was_chosen_stands_in_the_report_and_not_on_the_sheet_for_the_bowl(document):
    reason = "It takes the gold down."
    bowls = tuple(replace(bowl, why=(reason,)) for bowl in document.plan.bowls)
    told = replace(document, plan=replace(document.plan, bowls=bowls))
    assert any(reason in note for note in compose(told).plan.notes)
    assert reason not in str(bowl_sheet(told))
