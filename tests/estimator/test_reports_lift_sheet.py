"""The lift sheet: care first, a stop hides what it is about, cautions and the order stand beside every formula."""

import io
import re
from datetime import UTC, date, datetime
from html import unescape

import pytest

from estimator.care.cautions import first_aid, standing_order, usual_cautions
from estimator.care.dates import VisitDates, reminders_for
from estimator.care.facts import baseline_facts
from estimator.lifting.curve import fit_curve
from estimator.lifting.demarcation import find_lines
from estimator.lifting.lift_plan import Client, LiftPlan, LiftRequest, LiftSettings
from estimator.lifting.planning import plan_lift
from estimator.lifting.stopping import Signs
from estimator.lifting.strand import Strand, StrandPoint, point_by_eye
from estimator.lifting.strand_test import judge_strand
from estimator.reading.zone_reading import ProfilePoint
from estimator.reports.document import Heading
from estimator.reports.lift_document import JudgedStrand, LiftDocument
from estimator.reports.lift_drawings import Marked, lift_curve, lines_over
from estimator.reports.lift_sheet import lift_sheet, render_lift_html, render_lift_pdf
from estimator.scale.appearance import Level, Warmth
from estimator.toning.targets import Target
from tests.estimator import report_samples

TODAY = date(2026, 3, 2)
STEP = tuple(ProfilePoint((n + 0.5) / 10, (30.0 if n < 3 else 58.0, 8.0, 22.0), 0.4) for n in range(10))


def request(zone: str, **more) -> LiftRequest:
    level, warmth = Level(5.0, 4.6, 5.4, "", "default"), Warmth(30, 26, 34, 58, 5, "orange", ())
    return LiftRequest(zone, level, warmth, Target(zone, 7.0, "beige"), **more)


def planned(own: dict[str, dict[str, object]] | None = None, **facts) -> LiftPlan:
    client = Client(baseline_facts(**facts), TODAY, own=own or {})
    crown = request("crown", lines=find_lines(STEP))
    return plan_lift((crown, request("nape")), client, LiftSettings(additive_percent=5))


def document(plan: LiftPlan | None, signs: Signs | None = None) -> LiftDocument:
    looks = (StrandPoint(0, 32, 0.8), StrandPoint(5, 34, 0.8), point_by_eye(10, 5.5))
    tested = JudgedStrand("nape", judge_strand(Strand(start_level=5.0), looks, 7.5, signs))
    dates = VisitDates(datetime(2026, 3, 2, 10, tzinfo=UTC), datetime(2026, 2, 27, 9, tzinfo=UTC))
    due = reminders_for(dates, lightener=True, oxidative_dye=True)
    heading = Heading("M-7 <b>", "Salon & Co", TODAY, demo=True)
    return LiftDocument(heading, report_samples.visit().before, plan, (tested,), due)


def words_of(html: str) -> str:
    text = re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", "", html, flags=re.DOTALL))
    return unescape(text)


def paper_words(pdf: bytes) -> str:
    pypdf = pytest.importorskip("pypdf")
    return " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.slow
def test_mix_and_minutes_stand_with_the_order_and_every_caution():
    plan = planned()
    shown = words_of(render_lift_html(document(plan)))
    assert standing_order() in shown
    for caution in (*usual_cautions(), *first_aid()):
        assert caution.title in shown
    whole = plan.bowls[0].whole
    assert f"{whole.powder_grams:g} g" in shown
    assert "Bond-protecting additive, weighed in" in shown
    assert "minutes at most" in shown


def test_a_stop_of_one_zone_takes_its_mix_from_the_sheet_and_leaves_the_other():
    plan = planned(own={"crown": {"breakage": "widespread"}})
    sheet = lift_sheet(document(plan))
    crown, nape = ({zone.zone: zone for zone in sheet.zones}[name] for name in ("crown", "nape"))
    assert (crown.mix, crown.curve, crown.order) == ((), "", "")
    assert [label for label, _ in crown.facts] == ["Now", "Goal"]
    assert crown.hidden
    assert nape.mix
    assert sheet.care.stop
    assert sheet.care.remarks[0].place == "crown"
    assert all("crown" not in bowl.zones for bowl in sheet.bowls)


@pytest.mark.parametrize("facts", [{"age_years": 15}, {"scalp_state": "broken"}, {"metal_test": "reaction"}], ids=str)
def test_a_stop_of_the_person_leaves_no_gram_no_volume_and_no_minute_on_the_sheet(facts):
    plan = planned(**facts)
    sheet = lift_sheet(document(plan))
    assert sheet.bowls == ()
    assert not any(zone.mix or zone.curve for zone in sheet.zones)
    told = repr((sheet.zones, sheet.notes, sheet.no_plan))
    assert not re.search(r"\d+ volume|\d g\b|minutes at most", told)
    assert "First aid" in words_of(render_lift_html(document(plan)))  # never behind a stop


def test_no_path_of_this_program_s_own_files_stands_before_a_person():
    assert not re.search(r"\w/\w*_\w*|\.md\b", words_of(render_lift_html(document(planned()))))


def test_lines_stand_on_the_zone_and_in_words_with_what_to_do():
    sheet = lift_sheet(document(planned()))
    crown = next(zone for zone in sheet.zones if zone.zone == "crown")
    ((words, handling),) = crown.lines
    assert words.startswith("regrowth at 30 % of the length")  # no card's scale here: a share, no millimetres
    assert handling
    assert "regrowth" in sheet.alt
    assert sheet.outlines[1].count("<path") == 2  # one line: dark below, pale above


def test_a_sign_of_harm_on_a_strand_stands_first_in_its_part():
    sheet = lift_sheet(document(planned(), Signs(stretch="gummy")))
    assert [remark.word for remark in sheet.strands[0].remarks] == ["Stop"]


@pytest.mark.slow
def test_the_sheet_on_paper_says_the_same_and_marks_the_demo():
    pdf = render_lift_pdf(document(planned()))
    assert pdf.startswith(b"%PDF")
    shown = " ".join(paper_words(pdf).split())
    assert "DEMO" in shown
    assert "Lightener powder" in shown
    assert "licensed practice" in shown


def test_what_a_person_wrote_stays_text():
    html = render_lift_html(document(planned()))
    assert "M-7 &lt;b&gt;" in html
    assert "<script" not in html
    assert not re.search(r'(src|href)="http', html)


def test_a_photograph_to_be_taken_again_gives_a_sheet_without_a_plan():
    sheet = lift_sheet(document(None))
    assert "taken again" in sheet.no_plan
    assert (sheet.bowls, sheet.zones) == ((), ())


# --- drawings


def test_the_curve_says_in_words_what_it_shows():
    curve = fit_curve(Strand(start_level=4.0), (point_by_eye(0, 4.0), point_by_eye(10, 5.0)))
    drawn = lift_curve(curve, Marked(8.0, 45, 33, 12))
    label = re.search(r'aria-label="([^"]*)"', drawn)
    assert label is not None
    low, middle, high = (float(n) for n in re.search(r"at 20 minutes level (\S+), between (\S+) and ([\d.]+)", label[1])
                         .groups())  # fmt: skip
    assert low < high
    assert curve.level_at(20).level == pytest.approx(low, abs=0.06)
    assert middle < low < high
    for words in ("aim 8.0", "max 45", "rinse 33"):
        assert words in drawn


def test_the_band_of_a_curve_is_wider_the_less_was_seen():
    def height(points) -> float:
        band = re.search(r'<polygon points="([^"]*)"', lift_curve(fit_curve(Strand(start_level=4.0), points)))[1]
        ys = [float(place.split(",")[1]) for place in band.split()]
        return abs(ys[40] - ys[-41])

    seen = tuple(StrandPoint(float(minute), 30.0 + minute, 0.7) for minute in (0, 5, 10, 15))
    assert height(seen) < height(())


def test_a_line_lies_across_its_zone_at_its_share_of_the_length():
    zone = report_samples.visit().before.outlined[0]
    drawn = lines_over([(zone, find_lines(STEP))], 240, 200)
    x1, y1, x2, y2 = (float(n) for n in re.search(r"M(\S+) (\S+)L(\S+) ([\d.-]+)", drawn).groups())
    box = zone.box
    assert box.top <= (y1 + y2) / 2 <= box.bottom
    assert box.left - 20 <= (x1 + x2) / 2 <= box.right + 20
