"""The visit record: stops first, what was agreed, done and changed, from what is kept and nothing else."""

import io
import re
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from PIL import Image, ImageCms
from pypdf import PdfReader

from estimator.records.consent_scopes import Scope
from estimator.records.visit_record import ClockRecord, FindingRecord, OutcomeRecord, VisitRecord
from estimator.records.whole_visit import ConsentThen, WholeVisit
from estimator.reports.client_letter import letter_text
from estimator.reports.composing_record import NO_HEALTH, compose_record
from estimator.reports.kept_letter import kept_letter
from estimator.reports.visit_record import record_form, record_html
from tests.estimator.records import invented

DAY, BEFORE = date(2026, 10, 5), date(2026, 8, 3)
START = datetime(2026, 10, 5, 9, 30, tzinfo=UTC)


def picture(grey: int) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(np.full((48, 64, 3), grey, dtype=np.uint8)).save(stream, "JPEG")
    return stream.getvalue()


def sure(reading, lab_d65):
    """A reading whose own error is 1 on each axis, and shares nothing with another."""
    spread = [[1.0, 0, 0], [0, 1.0, 0], [0, 0, 1.0]]
    return replace(reading, lab_d65=lab_d65, covariance=spread, shared_covariance=[[0.0] * 3] * 3)


def record(**changes) -> VisitRecord:
    whole = invented.visit(demo=True)
    before, nape, after = whole.readings
    readings = (sure(before, (52.0, 6.0, 24.0)), sure(nape, (40.0, 9.0, 22.0)), sure(after, (62.0, 4.0, 12.0)))
    photos = tuple(replace(photo, thumbnail=picture(90 + 60 * n)) for n, photo in enumerate(whole.photos))
    clock = (
        ClockRecord("start", "crown", START, {"most_minutes": 20.0, "target_level": 8.0, "minutes": 0.0}),
        ClockRecord("check", "crown", START, {"level": 7.5, "skin": "calm", "minutes": 12.4}),
        ClockRecord("rinse", "crown", START, {"minutes": 17.0}),
    )
    return replace(whole, readings=readings, photos=photos, clock=clock, outcomes=(), **changes)


def kept(visit: VisitRecord | None = None, *, health: bool = True, facts_before=None) -> WholeVisit:
    consents = (
        ConsentThen(Scope.RECORD, DAY, "signed", None),
        ConsentThen(Scope.PORTFOLIO, DAY, "spoken", date(2026, 11, 1)),
    )
    return WholeVisit("0123456789abcdef" * 2, visit or record(), consents, health, facts_before, 4, 9)


def plain(html: str) -> str:
    text = re.sub(r"<style>.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL)
    return " ".join(text.replace("&#39;", "'").split())


def told(visit: WholeVisit, **how) -> str:
    return plain(record_html(compose_record(visit, **how)))


def test_it_tells_who_what_when_and_by_which_changes():
    text = told(kept())
    for words in (
        *("M. D.", "Saltmarsh Lane", "5 October 2026", "DEMO"),
        "the record of visits, readings and photographs, signed",
        "taken back on 1 November 2026",
        "fine while calm (the client's doctor, 5 October 2026)",
        "violet 20.5 g, clear 10 g, developer 6 volume (1.8 %) 61 g; 91.5 g in all; 12 minutes on the hair",
        "7.2 (6.8 to 7.6)",
        "Likes it cool.",
        "1 to 2 visits, 2 to 3.5 hours in all, 90 to 140 EUR",
        "kept with change 4, last touched by change 9",
        "version 0.1.0",
    ):
        assert words in text, words
    assert "Marigold" not in text
    assert "Marigold Dunmore" in told(kept(), with_name=True)
    original = record().photos[0].original_sha256
    assert original in text.replace(" ", "")


def test_the_clock_is_told_in_its_order_with_minutes():
    facts = next(part for part in compose_record(kept()).parts if part.heading == "The clock").facts
    assert [words for _, words in facts] == [
        "lightener on: at most 20 minutes, to level 8",
        "looked at after 12 minutes: level 7.5, skin: calm",
        "rinsed after 17 minutes",
    ]
    assert facts[0][0] == "09:30 UTC, crown"


def test_care_stands_before_everything_and_a_stop_hides_the_formula():
    stop = FindingRecord("care", "scalp-broken", "stop", "", "The scalp is broken.", "Wait.", "common practice")
    text = told(kept(record(care_verdict="stop", findings=(stop,))))
    assert text.index("The scalp is broken.") < text.index("Agreed to") < text.index("Photographs")
    assert "No answer is written down." in text
    assert "2 parts violet" not in text
    assert "2 parts violet" in told(kept())
    other = replace(stop, where="nape")
    whole = record(care_verdict="stop", findings=(other,))
    planned = {"bowls": whole.plan.content["bowls"], "zones": [{"zone": "nape", "bowl_number": 1}]}
    assert "2 parts violet" not in told(kept(replace(whole, plan=replace(whole.plan, content=planned))))


@pytest.mark.parametrize("broken", [b"", b"no picture", picture(90)[:200], b"\x89PNG\r\n"])
def test_a_small_picture_that_is_none_is_left_out_and_said(broken):
    whole = record()
    photos = (replace(whole.photos[0], thumbnail=broken), whole.photos[1])
    sheet = compose_record(kept(replace(whole, photos=photos)))
    assert list(sheet.pictures) == ["photo-1.jpg"]
    assert "No small picture was kept." in plain(record_html(sheet))
    assert record_form(sheet).pdf().startswith(b"%PDF")


def test_an_answer_whose_finding_is_gone_is_told_all_the_same():
    whole = record()
    only = replace(whole, findings=tuple(each for each in whole.findings if each.about != "care"))
    assert "Answered, ask a doctor fine while calm (the client's doctor, 5 October 2026)" in told(kept(only))


def test_without_consent_to_health_answers_none_of_it_is_told():
    sheet = compose_record(kept(health=False))
    text = plain(record_html(sheet))
    assert sheet.care is None
    assert NO_HEALTH in text
    assert "34 years" not in text
    assert "Consultation" not in [part.heading for part in sheet.parts]


def test_what_changed_since_the_last_consultation_is_named():
    facts = record().facts
    same = told(kept(facts_before=(BEFORE, dict(facts))))
    assert "Nothing changed since 3 August 2026." in same
    other = told(kept(facts_before=(BEFORE, facts | {"age_years": 33.0, "scalp_state": "not known"})))
    assert (
        "Changed since 3 August 2026: age: 34 years, before that 33 years and state of the scalp: sound, before"
        in other
    )


def test_a_change_is_told_with_its_interval_and_none_where_it_is_within_it():
    # Hand calculation: two errors of 1 add to the root of 2; nine in ten hold 1.645 times that, 2.3.
    facts = next(part for part in compose_record(kept()).parts if part.heading == "What came of it").facts
    ((zone, words),) = facts
    assert zone == "Crown"
    assert "lighter by 10.0 (7.7 to 12.3)" in words
    whole = record()
    still = tuple(replace(each, lab_d65=(52.4, 6.1, 24.2)) if each.side == "after" else each for each in whole.readings)
    assert "no change shown" in told(kept(replace(whole, readings=still)))


def test_the_difference_that_was_kept_is_the_one_that_is_told():
    difference = {
        "zone": "crown", "d_lab": [3.0, 0.0, 0.0], "covariance": [[1.0] * 3] * 3, "d_low": [2.0, -1.0, -1.0],
        "d_high": [4.0, 1.0, 1.0], "delta_e_2000": 2.9, "words": "slightly lighter",
    }  # fmt: skip
    outcome = OutcomeRecord("crown", "slightly lighter", {"difference": difference})
    text = told(kept(replace(record(), outcomes=(outcome,))))
    assert "slightly lighter, ΔE\N{NO-BREAK SPACE}2.9".replace("\N{NO-BREAK SPACE}", " ") in text
    assert "lighter by 3.0 (2.0 to 4.0)" in text
    assert "10.0 (7.7 to 12.3)" not in text


def test_names_and_notes_stay_text():
    hostile = record(client_code="<script>#M</script>", notes=('#image("x") <img src=x>',), salon="$x$ *bold*")
    html = record_html(compose_record(kept(hostile)))
    assert "<script" not in html
    assert "<img src=x" not in html
    pdf = PdfReader(io.BytesIO(record_form(compose_record(kept(hostile))).pdf()))
    flat = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    assert '#image("x") <img src=x>' in flat
    assert "$x$ *bold*" in flat


def test_the_printed_form_is_archival_tagged_and_says_the_same():
    reader = PdfReader(io.BytesIO(record_form(compose_record(kept())).pdf()))
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in reader.trailer["/Root"]
    metadata = reader.trailer["/Root"]["/Metadata"].get_object().get_data().decode()
    assert re.search(r"pdfaid:part>2<|pdfaid:part=.2", metadata)
    flat = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    for words in (
        "91.5 g in all",
        "rinsed after 17 minutes",
        "lighter by 10.0 (7.7 to 12.3)",
        "last touched by change 9",
    ):
        assert words in flat, words


def test_the_letter_about_a_kept_visit_holds_no_formula_and_the_quote():
    letter = letter_text(kept_letter(kept()))
    assert "Crown: about level 7; warmth: gold." in letter
    assert "Before anything is mixed: Ask a doctor." in letter
    assert "1 to 2 visits, 2 to 3.5 hours in all" in letter
    assert "violet" not in letter
    assert "20.5" not in letter
    assert "Ask a doctor" not in letter_text(kept_letter(kept(health=False)))
    stop = FindingRecord("care", "scalp-broken", "stop", "", "The scalp is broken.", "Wait.", "common practice")
    assert "EUR" not in letter_text(kept_letter(kept(record(findings=(stop,)))))


@pytest.mark.parametrize("dots_per_inch", [50, 100])
def test_pages_as_pictures_are_opaque_srgb_of_their_size_and_name_nobody(dots_per_inch):
    pages = record_form(compose_record(kept())).png_pages(dots_per_inch)
    assert len(pages) >= 2
    for page in pages:
        shown = Image.open(io.BytesIO(page))
        # A4 is 210 by 297 mm (ISO 216), an inch 25.4 mm.
        assert shown.size == (
            pytest.approx(210 / 25.4 * dots_per_inch, abs=1),
            pytest.approx(297 / 25.4 * dots_per_inch, abs=1),
        )
        assert shown.mode == "RGB"
        profile = ImageCms.ImageCmsProfile(io.BytesIO(shown.info["icc_profile"]))
        assert "sRGB" in ImageCms.getProfileDescription(profile)
        assert set(shown.info) <= {"icc_profile", "dpi"}
        assert re.findall(rb"(?:tEXt|iTXt|zTXt|eXIf|tIME)", page[:400]) == []
