"""The trend of a client's hair: what is drawn, what is told between visits, and what is not."""

import csv
import io
from datetime import date
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from estimator.records.earlier import VisitThen, ZoneThen
from estimator.reports.trend import COLUMNS, trend_csv, trend_html, trend_of, trend_pdf
from estimator.reports.trend_drawing import TrendPoint, trend_plot
from estimator.scale.appearance import Level, Warmth

FIRST, SECOND = date(2026, 10, 5), date(2026, 11, 2)


def read(
    side: str, level: float, chroma: float, *, zone: str = "crown", verified: bool = True, scale: str = "default scale"
) -> ZoneThen:
    """A reading whose level is known to 0.3 and whose warmth to 3."""
    warmth = Warmth(chroma, chroma - 3, chroma + 3, 70.0, 8.0, "gold", ("yellow",))
    return ZoneThen(zone, side, Level(level, level - 0.3, level + 0.3, "", scale), warmth, verified, "beige")


def two_visits(now: ZoneThen, was: ZoneThen | None = None) -> tuple[VisitThen, ...]:
    first = VisitThen("a", FIRST, False, (read("before", 7.0, 30.0), was or read("after", 8.0, 12.0)))
    return first, VisitThen("b", SECOND, False, (now,))


def between(now: ZoneThen, was: ZoneThen | None = None) -> tuple[str, ...]:
    return trend_of("M. D.", two_visits(now, was)).zones[0].between


def test_a_toner_that_faded_is_told_with_its_days_and_interval() -> None:
    # Hand calculation: the half interval of a difference of two readings of 3 each is 3 times the root of 2, 4.2.
    (told,) = between(read("before", 8.1, 22.0))
    assert told == "From 5 October 2026, in 28 days: colour stronger by 10.0 (5.8 to 14.2)."


@pytest.mark.parametrize(("change", "is_told"), [(4.1, False), (4.4, True), (-4.1, False), (-4.4, True)])
def test_a_change_inside_the_intervals_is_not_told(change: float, is_told: bool) -> None:
    assert bool(between(read("before", 8.0, 12.0 + change))) is is_told


def test_levels_are_compared_only_on_one_scale_and_only_with_a_card() -> None:
    assert "deeper by 2.0 (1.6 to 2.4)" in between(read("before", 6.0, 12.0))[0]
    assert between(read("before", 6.0, 12.0, scale="salon scale")) == ()
    assert between(read("before", 6.0, 30.0, verified=False)) == ()


def test_without_a_photograph_after_nothing_is_said_of_fading() -> None:
    # What was done at the visit stands between the two readings.
    assert between(read("before", 9.5, 30.0), read("before", 7.0, 12.0)) == ()


def test_every_reading_stands_in_the_drawing_s_words_and_bars_are_as_long_as_intervals() -> None:
    points = [TrendPoint(FIRST, "before", 4.0, (3.0, 5.0)), TrendPoint(SECOND, "after", 8.0, (7.9, 9.9), False)]
    svg = ElementTree.fromstring(trend_plot("Level of the crown", points, (1.0, 10.0)))
    said = svg.attrib["aria-label"]
    assert "5 October 2026 before 4.0 (3.0 to 5.0)" in said
    assert "2 November 2026 after 8.0 (7.9 to 9.9), unverified" in said
    bars = [each for each in svg if each.attrib.get("class") == "stroke-text" and "x1" in each.attrib]
    lengths = [abs(float(bar.attrib["y1"]) - float(bar.attrib["y2"])) for bar in bars]
    assert lengths[0] == pytest.approx(130 * 2 / 9, abs=0.2)
    assert lengths[1] == pytest.approx(lengths[0], abs=0.2)


@pytest.mark.parametrize(("chroma", "ticks"), [(20.0, ["0", "20", "40"]), (39.4, ["0", "30", "60"])])
def test_the_axis_of_warmth_has_round_figures(chroma: float, ticks: list[str]) -> None:
    # The reading's interval goes 3 beyond it: 42.4 lies above 40, so the axis ends at 60.
    svg = trend_of("M. D.", two_visits(read("before", 8.0, chroma))).zones[0].warmth
    shown = [each.text for each in ElementTree.fromstring(svg).iter() if each.attrib.get("text-anchor") == "end"]
    assert shown[:3] == ticks


def test_names_stay_text_on_the_page_and_in_a_spreadsheet() -> None:
    visits = two_visits(read("before", 8.0, 12.0, zone='=HYPERLINK("x")<b>'))
    html = trend_html(trend_of("<script>M</script>", visits))
    assert "<script" not in html
    assert "<b>" not in html
    rows = list(csv.DictReader(io.StringIO(trend_csv(visits))))
    assert list(rows[0]) == list(COLUMNS)
    assert rows[-1]["zone"].startswith("'=")
    assert [float(row["level"]) for row in rows] == [7.0, 8.0, 8.0]


@pytest.mark.slow
def test_the_printed_form_says_the_same() -> None:
    trend = trend_of("M. D.", two_visits(read("before", 8.1, 22.0)))
    text = " ".join(each.extract_text() for each in PdfReader(io.BytesIO(trend_pdf(trend, SECOND))).pages)
    flat = " ".join(text.split())
    assert "colour stronger by 10.0 (5.8 to 14.2)" in flat
    assert "5 October 2026, after: level 8.0 (7.7 to 8.3)" in flat
