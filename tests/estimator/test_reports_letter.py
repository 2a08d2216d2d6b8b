"""The client's letter: plain words, no formula, and the same in every form."""

import io
import re
from datetime import date

import pytest
from pypdf import PdfReader

from estimator.records.visit_record import QuoteRecord
from estimator.reports.client_letter import client_letter, letter_html, letter_pdf, letter_text
from tests.estimator.report_samples import CAUTION, STOP, care_of, renamed, visit


@pytest.fixture(scope="module")
def document():
    return visit(care=care_of(CAUTION))


def _plain(text: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", text).split())


def test_three_forms_say_the_same(document):
    html = _plain(letter_html(client_letter(document)).split("<body>")[1])
    pdf = PdfReader(io.BytesIO(letter_pdf(client_letter(document), document.heading.day)))
    printed = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    text = letter_text(client_letter(document))
    for passage in client_letter(document).passages:
        for sentence in passage.sentences:
            assert sentence in text
            assert " ".join(sentence.split()) in html
            assert " ".join(sentence.split()) in printed


def test_letter_holds_no_formula(document):
    text = letter_text(client_letter(document))
    for bowl in document.plan.bowls:
        assert all(name not in text for name, _ in bowl.shade_grams if name != "clear")
        assert bowl.ratio_text not in text
    assert "volume" not in text


def test_every_zone_is_told_with_its_level(document):
    seen = " ".join(client_letter(document).passages[0].sentences)
    for read in document.before.zones:
        assert f"{read.zone.name.capitalize()}: about level {read.level.level:.0f}" in seen


def test_stop_is_told_first_and_nothing_is_hoped_for():
    stopped = visit(after=False, care=care_of(STOP))
    letter = client_letter(stopped)
    assert any(STOP.message in sentence for sentence in letter.passages[1].sentences)
    assert "What may be had" not in {passage.heading for passage in letter.passages}


QUOTE = QuoteRecord(date(2026, 10, 5), (2, 2), (5.0, 5.0), (180.0, 240.0), "EUR", "With the cut.")


def test_a_quote_is_told_only_where_one_was_given_and_never_behind_a_stop(document):
    told = "2 visits, 5 hours in all, 180 to 240 EUR, as told on 5 October 2026."
    assert f"What it takes\n\n{told}\nWith the cut." in letter_text(client_letter(document, QUOTE))
    assert "What it takes" not in letter_text(client_letter(document))
    assert "180" not in letter_text(client_letter(visit(after=False, care=care_of(STOP)), QUOTE))


def test_markup_in_a_name_stays_text(document):
    hostile = renamed(document, "<b>Lily</b> #emph[x]")
    assert "<b>Lily</b>" not in letter_html(client_letter(hostile))
    assert "&lt;b&gt;Lily" in letter_html(client_letter(hostile))
    pdf = PdfReader(io.BytesIO(letter_pdf(client_letter(hostile), hostile.heading.day)))
    assert "#emph[x]" in pdf.pages[0].extract_text()
