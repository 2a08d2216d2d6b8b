"""Earlier visits of the client in hand: day, level and tone of each zone, and how they went on; nobody else's."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import kept_records
from estimator.pages.draft import Draft
from estimator.pages.escaping import in_html
from estimator.pages.showing import capital, drawing, put
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.earlier import VisitThen, ZoneThen


def show(visit: Draft) -> None:
    """The visits kept under the code that was entered; nothing where there are none."""
    found = kept_records.earlier(visit)
    if not found:
        return
    with st.expander(f"Earlier visits of this client: {len(found)}"):
        for each in reversed(found):
            put(visit_words(each))
        if len({each.day for each in found}) > 1:
            show_trend(visit.client, found)
        put("<div><p class='quiet'>Intervals hold nine times in ten.</p></div>")


def show_trend(code: str, found: "tuple[VisitThen, ...]") -> None:
    """Level and warmth of each zone by day, and what changed between visits."""
    from estimator.reports.trend import trend_of

    trend = trend_of(code, found)
    for zone in trend.zones:
        between = "".join(f"<p><b>{in_html(sentence)}</b></p>" for sentence in zone.between)
        plots = f"{drawing(zone.level)}{drawing(zone.warmth)}"
        put(
            f'<div class="reading"><h2>{in_html(capital(zone.zone))}</h2><div class="row wraps">{plots}</div>'
            f"{between}</div>"
        )
    put(f"<div>{''.join(f'<p class=quiet>{in_html(note)}</p>' for note in trend.notes)}</div>")


def visit_words(visit: "VisitThen") -> str:
    """One visit: its day and what each zone read."""
    demo = " <span class='unverified'>DEMO</span>" if visit.demo else ""
    return f'<div class="reading"><h2>{in_html(wording.date_text(visit.day))}{demo}</h2>{zones_words(visit)}</div>'


def zones_words(visit: "VisitThen") -> str:
    """What each zone read, as a list."""
    return f"<ul>{''.join(f'<li>{_zone(zone)}</li>' for zone in visit.zones)}</ul>"


def _zone(zone: "ZoneThen") -> str:
    read = f"{wording.zone_text(zone.zone)}, {zone.side}: level {wording.level_text(zone.level)}, "
    read += wording.stage_text(zone.warmth)
    wanted = f"; wanted {zone.tone}" if zone.tone and zone.side == "before" else ""
    rough = "; unverified" if not zone.verified else ""
    return in_html(capital(f"{read}{wanted}{rough}"))
