"""The consultation on paper: whose answers they are, and that invented ones say so on every page."""

import io
from datetime import date

import pytest
from pypdf import PdfReader

from estimator.care.facts import baseline_facts
from estimator.care.print_form import consultation_form
from estimator.care.zoned_facts import ZonedFacts
from estimator.reports.consultation_paper import WhoseAnswers, form_html, form_pdf

DAY = date(2026, 10, 5)
HOSTILE = "<img src=x> #pagebreak()"


@pytest.mark.slow
def test_filled_in_answers_name_their_client_and_demo_is_marked_on_every_page():
    form, whose = consultation_form(ZonedFacts(baseline_facts())), WhoseAnswers(HOSTILE, demo=True)
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(form_pdf(form, DAY, whose))).pages]
    assert all("DEMO" in page for page in pages)
    assert HOSTILE in " ".join(pages[0].split())
    html = form_html(form, DAY, whose)
    assert "DEMO" in html
    assert "&lt;img src=x&gt; #pagebreak()" in html
    assert "<img" not in html


def test_an_empty_form_leaves_a_line_for_the_client_and_is_no_demo():
    text = PdfReader(io.BytesIO(form_pdf(consultation_form(), DAY))).pages[0].extract_text()
    assert "Client:" in text
    assert "DEMO" not in text
