"""The consultation in hand on the screen "From a client": what was sent, and what the colourist says of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

import streamlit as st

from estimator.intake.entry import Entry, SentConsultation
from estimator.pages.kept_readings import hash_of
from estimator.remote.bundle import Bundle

_CASE = "remote_case"
Spot = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Case:
    """One consultation.

    key : Tells it from every other one of this session. hashes : SHA-256 of each photograph, in its order.
    sent_id : Its name in the inbox; "" where it was dropped here.
    views : As the colourist says, by photograph. neutrals : Where a white sheet lies. [px] serials : Of the board.
    client : As on the reply. level, tone : What the client hopes for; None and "" where nobody said so.
    """

    key: str
    bundle: Bundle
    hashes: tuple[str, ...]
    entry: Entry
    sent_id: str = ""
    client: str = ""
    sent_utc: datetime | None = None
    views: Mapping[str, str] = field(default_factory=dict)
    neutrals: Mapping[str, Spot] = field(default_factory=dict)
    serials: Mapping[str, int] = field(default_factory=dict)
    level: float | None = None
    tone: str = ""


def current() -> Case | None:
    """The consultation in hand, if there is one."""
    found: Case | None = st.session_state.get(_CASE)
    return found


def _hashes(bundle: Bundle) -> tuple[str, ...]:
    return tuple(hash_of(file.photo_bytes) for file in bundle.photos)


def open_dropped(bundle: Bundle) -> None:
    """Take what was dropped in hand."""
    st.session_state[_CASE] = Case(uuid4().hex, bundle, _hashes(bundle), Entry(), sent_utc=datetime.now(UTC))


def open_sent(sent: SentConsultation, bundle: Bundle) -> None:
    """Take a consultation of the inbox in hand."""
    entry = sent.entry
    st.session_state[_CASE] = Case(
        uuid4().hex,
        bundle,
        _hashes(bundle),
        entry,
        sent.id,
        sent.client,
        sent.sent_utc,
        level=entry.wish_level or None,
        tone=entry.wish_tone,
    )


def change(**fields: Any) -> None:
    """The consultation in hand with these fields replaced."""
    case = current()
    if case is not None:
        st.session_state[_CASE] = replace(case, **fields)


def change_of(photo: str, **fields: Any) -> None:
    """What these fields say of one photograph replaced, or taken out by None; what they say of the others stays."""
    case = current()
    if case is not None:
        change(**{field: _with(getattr(case, field), photo, value) for field, value in fields.items()})


def _with(said: Mapping[str, Any], photo: str, value: Any) -> dict[str, Any]:
    others = {name: each for name, each in said.items() if name != photo}
    return others if value is None else {**others, photo: value}


def put_away() -> None:
    """Nothing is in hand any more; what lies in the inbox stays there."""
    st.session_state.pop(_CASE, None)
