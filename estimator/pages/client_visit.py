"""One kept visit: what was read, planned, mixed and seen after, its reports, and what is added to it."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.access.roles import Right
from estimator.pages import (
    client_papers,
    client_visit_added,
    earlier,
    kept_clients,
    opened_client,
    person,
    small_pictures,
)
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.showing import one_sentence, put, tell, told
from estimator.records.errors import NotKeptError
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.remembering import ClientMemory
    from estimator.records.visit_record import ClockRecord, FindingRecord, MixedRecord, VisitRecord

_CARE = ("stop", "test first", "caution", "clear")


def show(memory: "ClientMemory", visit_id: str) -> None:
    """The visit's screen."""
    who = in_markdown(memory.details.code)
    st.button(f"All of {who}", key="visit_back", on_click=opened_client.open_visit, args=("",))
    try:
        whole, files = kept_clients.visit(visit_id)
    except NotKeptError:
        tell("note", "This visit is not in the records any more.", "Go back to the client.", said="not here")
        return
    st.title(f"{who}, {wording.date_text(whole.record.day)}")
    said = st.session_state.pop(opened_client.SAID, "")
    if said:
        tell("note", said, said="done")
    _read(memory, visit_id, whole.record)
    _findings(whole.record.findings)
    _done(whole.record)
    if person.may(Right.WORK):
        client_visit_added.show(visit_id, whole.record)
    with one_sentence():
        client_papers.show(whole, files)


def _read(memory: "ClientMemory", visit_id: str, record: "VisitRecord") -> None:
    """What each zone read, and the small pictures."""
    for visit in kept_clients.visits_of(memory.details.id):
        if visit.id == visit_id:
            demo = "<p><span class='unverified'>DEMO</span></p>" if visit.demo else ""
            put(f"<div>{demo}{earlier.zones_words(visit)}</div>")
    small_pictures.show(tuple((photo.side, photo.thumbnail) for photo in record.photos if photo.thumbnail))


def _findings(findings: "tuple[FindingRecord, ...]") -> None:
    """Findings of care, the worst first and in sight; those of the photographs on a key."""
    of_care = sorted((f for f in findings if f.weight in _CARE), key=lambda f: _CARE.index(f.weight))
    if of_care:
        put(f"<div>{''.join(told(f.weight, f.message, f.remedy) for f in of_care)}</div>")
    others = [f for f in findings if f.weight not in _CARE]
    if others:
        with st.expander(f"Findings of the photographs: {len(others)}"):
            rows = "".join(f"<li>{in_html(f.message)} {in_html(f.remedy)}</li>" for f in others)
            put(f"<div><ul>{rows}</ul></div>")


def _done(record: "VisitRecord") -> None:
    """What was planned and what was really done, part after part; a part without anything is left out."""
    parts = {
        "Planned": [
            f"Bowl {number}: {wording.parts_text([(str(name), int(count)) for name, count in bowl.get('parts', ())])}"
            for number, bowl in client_visit_added.bowls_of(record).items()
        ],
        "Really mixed": [_mixed(mixed) for mixed in record.mixed],
        "What came of it": [f"{wording.zone_text(each.zone)}: {each.told}" for each in record.outcomes],
        "The clock": [_event(event) for event in record.clock],
        "Notes": list(record.notes),
        "What the client was told": [_quote(record)] if record.quote else [],
    }
    shown = "".join(
        f"<h2>{heading}</h2><ul>{''.join(f'<li>{in_html(line)}</li>' for line in lines)}</ul>"
        for heading, lines in parts.items()
        if lines
    )
    if shown:
        put(f'<div class="reading">{shown}</div>')


def _mixed(mixed: "MixedRecord") -> str:
    grams = ", ".join(f"{name} {wording.grams_text(weight)}" for name, weight in mixed.shade_grams)
    developer = f"developer {wording.grams_text(mixed.developer_grams)}, "
    developer += f"{wording.plain_text(mixed.developer_volume)} volume"
    where = f" on {wording.list_text([wording.zone_text(zone) for zone in mixed.zones])}" if mixed.zones else ""
    minutes = f", {wording.plain_text(mixed.minutes)} minutes" if mixed.minutes is not None else ""
    note = f". {mixed.note}" if mixed.note else ""
    return f"Bowl {mixed.bowl_number}: {grams}; {developer}{where}{minutes}{note}"


def _event(event: "ClockRecord") -> str:
    return f"{event.at_utc.astimezone():%H:%M}, {wording.zone_text(event.zone)}: {event.kind}"


def _quote(record: "VisitRecord") -> str:
    from estimator.reports.quote_wording import quote_text

    assert record.quote is not None
    return f"{quote_text(record.quote)}{': ' + record.quote.text if record.quote.text else ''}"
