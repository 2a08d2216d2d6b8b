"""How a client's hair went on over visits: level and warmth of each zone by day, and what faded in between.

A change between two visits is told only where it is beyond both readings' intervals taken together.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from itertools import pairwise
from math import ceil, hypot
from typing import TYPE_CHECKING, Any

from estimator.reports import wording
from estimator.reports.composing import DEMO
from estimator.reports.lettering import each_text, printable
from estimator.reports.page_form import page
from estimator.reports.trend_drawing import TrendPoint, trend_plot
from estimator.reports.typesetting import PrintedForm
from estimator.spreadsheet_cells import csv_text

if TYPE_CHECKING:
    from estimator.records.earlier import VisitThen, ZoneThen

PRINTED_FORM = "trend.typ"
LEVEL_WORDS, COLOUR_WORDS = ("lighter", "deeper"), ("colour stronger", "colour weaker")
_LEVEL_ENDS = (1.0, 10.0)
_WARMTH_STEP = 20.0  # the axis ends at a round figure, and so does its half
_STRONG_CHROMA = 40.0  # the plot reaches at least so far, so that small changes do not look large


@dataclass(frozen=True)
class ZoneTrend:
    """One zone over all visits. level, warmth : Drawings. between : What changed from one visit to the next."""

    zone: str
    level: str
    warmth: str
    rows: tuple[tuple[str, str, str], ...]
    between: tuple[str, ...]


@dataclass(frozen=True)
class Trend:
    """The whole sheet in words and drawings."""

    title: str
    demo: str
    who: tuple[tuple[str, str], ...]
    zones: tuple[ZoneTrend, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Dated:
    """A zone's reading with its day."""

    day: date
    read: "ZoneThen"


def trend_of(code: str, visits: "Sequence[VisitThen]") -> Trend:
    """The trend over these visits, the oldest first."""
    by_zone: dict[str, list[_Dated]] = {}
    for visit in visits:
        for read in sorted(visit.zones, key=lambda zone: zone.side == "after"):
            by_zone.setdefault(read.zone, []).append(_Dated(visit.day, read))
    last = visits[-1].day if visits else date.today()
    who = (("Client", code), ("Visits", str(len(visits))), ("Until", wording.date_text(last)))
    demo = DEMO if any(visit.demo for visit in visits) else ""
    return Trend("Over the visits", demo, who, tuple(_zone(name, dated) for name, dated in by_zone.items()), NOTES)


NOTES = (
    "A ring is hair before, a dot hair after. Bars hold nine times in ten; a cross is a photograph without a card.",
    "Warmth is how far the colour stands out from neutral hair of the same lightness (CIE C*).",
    "Between two visits a change is told only where it is beyond both intervals taken together.",
)


def _zone(name: str, dated: list[_Dated]) -> ZoneTrend:
    levels = [_point(one, one.read.level.level, one.read.level.level_low, one.read.level.level_high) for one in dated]
    warmth = [_warmth_point(one) for one in dated]
    highest = max(_STRONG_CHROMA, *(point.high for point in warmth))
    top = ceil(highest / _WARMTH_STEP) * _WARMTH_STEP
    shown = wording.zone_text(name)
    return ZoneTrend(
        zone=shown,
        level=trend_plot(f"Level of the {shown}", levels, _LEVEL_ENDS),
        warmth=trend_plot(f"Warmth of the {shown}", warmth, (0.0, top)),
        rows=tuple(_row(one) for one in dated),
        between=tuple(_between(dated)),
    )


def _point(one: _Dated, value: float, low: float, high: float) -> TrendPoint:
    return TrendPoint(one.day, one.read.side, value, (low, high), one.read.verified)


def _warmth_point(one: _Dated) -> TrendPoint:
    warmth = one.read.warmth
    return _point(one, warmth.warmth_chroma, warmth.warmth_chroma_low, warmth.warmth_chroma_high)


def _row(one: _Dated) -> tuple[str, str, str]:
    rough = "" if one.read.verified else ", unverified"
    when = f"{wording.date_text(one.day)}, {one.read.side}{rough}"
    return when, f"level {wording.level_text(one.read.level)}", wording.warmth_text(one.read.warmth)


def _between(dated: list[_Dated]) -> list[str]:
    """What is beyond the intervals from the hair after one visit to the hair before the next."""
    told = []
    for one, other in pairwise(dated):
        if one.day == other.day or one.read.side != "after" or other.read.side != "before":
            continue
        changes = _changes(one.read, other.read)
        if changes:
            days = wording.count_text((other.day - one.day).days, "day")
            told.append(f"From {wording.date_text(one.day)}, in {days}: {'; '.join(changes)}.")
    return told


def _changes(one: "ZoneThen", other: "ZoneThen") -> list[str]:
    """Level and warmth, each where it changed beyond the intervals; none without a card, or across level scales."""
    if not (one.verified and other.verified):
        return []
    told = []
    a, b = one.level, other.level
    if a.scale == b.scale:
        told.append(_beyond((a.level, a.level_low, a.level_high), (b.level, b.level_low, b.level_high), LEVEL_WORDS))
    was, now = one.warmth, other.warmth
    first = (was.warmth_chroma, was.warmth_chroma_low, was.warmth_chroma_high)
    then = (now.warmth_chroma, now.warmth_chroma_low, now.warmth_chroma_high)
    told.append(_beyond(first, then, COLOUR_WORDS))
    return [each for each in told if each]


def _beyond(was: tuple[float, float, float], now: tuple[float, float, float], words: tuple[str, str]) -> str:
    """The change in words; "" where nought lies inside its interval. Two readings' errors add as squares."""
    change = now[0] - was[0]
    low = change - hypot(now[0] - now[1], was[2] - was[0])
    high = change + hypot(now[2] - now[0], was[0] - was[1])
    return "" if low <= 0 <= high else wording.shift_text(change, low, high, words)


# --- the forms -------------------------------------------------------------------------------------------------


def trend_html(trend: Trend) -> str:
    """The trend as one HTML file that needs nothing else."""
    return page("trend", asdict(trend), {})


def trend_form(trend: Trend, day: date) -> PrintedForm:
    """The trend on A4, for PDF or PNG."""
    words: dict[str, Any] = each_text(asdict(trend), printable)
    return PrintedForm(PRINTED_FORM, {**words, "day": [day.year, day.month, day.day]}, {}, day)


def trend_pdf(trend: Trend, day: date) -> bytes:
    """The trend as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return trend_form(trend, day).pdf()


COLUMNS = (
    *("day", "side", "zone", "level", "level_low", "level_high", "scale"),
    *("warmth_chroma", "warmth_chroma_low", "warmth_chroma_high", "warmth_hue_deg"),
    *("stage", "wanted_tone", "verified", "demo"),
)


def trend_csv(visits: "Sequence[VisitThen]") -> str:
    """Every reading as one row of CSV, with `COLUMNS`; figures as they were kept."""
    rows = (_csv_row(visit, zone) for visit in visits for zone in visit.zones)
    return csv_text(COLUMNS, (dict(zip(COLUMNS, row, strict=True)) for row in rows))


def _csv_row(visit: "VisitThen", zone: "ZoneThen") -> list[Any]:
    level, warmth = zone.level, zone.warmth
    figures = [warmth.warmth_chroma, warmth.warmth_chroma_low, warmth.warmth_chroma_high, warmth.warmth_hue_deg]
    told = [visit.day.isoformat(), zone.side, zone.zone, level.level, level.level_low, level.level_high]
    named = [warmth.stage, zone.tone]
    return [*told, level.scale, *figures, *named, zone.verified, visit.demo]
