"""Results of sent photographs kept by their hash, and the inbox: the only file of this screen that calls the verbs."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from calibration.correcting.neutral_reference import NeutralPoint
from calibration.errors import CalibrationError
from calibration.references import References
from estimator.access.roles import Right
from estimator.intake.inbox import Inbox
from estimator.pages import person, remote_case
from estimator.pages.remote_case import Case, Spot
from estimator.records.place import salon_place, usual_folder
from estimator.records.search_keys import folded

if TYPE_CHECKING:
    from estimator.remote.bundle import Bundle
    from estimator.remote.consultation import RemoteConsultation, SeenInPhoto, SentPhoto
    from estimator.reports.client_letter import ClientLetter

SEEN_KEPT = 80  # readings without pixels, and pictures of 100 kB
SMALL_PX = 640


def inbox() -> Inbox:
    """The inbox of this salon."""
    person.must(Right.WORK)
    return _inbox(str(usual_folder()))


@st.cache_resource(max_entries=4, show_spinner=False)
def _inbox(folder: str) -> Inbox:
    """One for all sessions, since it counts the time by itself."""
    from pathlib import Path

    return Inbox(salon_place(Path(folder)))


@dataclass(frozen=True, eq=False)
class Seen:
    """What one photograph gave, and a small picture of it; None where it can't be shown."""

    found: "SeenInPhoto"
    jpeg: bytes | None


@st.cache_resource(max_entries=SEEN_KEPT, show_spinner=False)
def _seen(sha256: str, neutral: Spot | None, _photo_bytes: bytes) -> Seen:
    from calibration.pipeline import correct_bytes
    from estimator.remote.consultation import read_sent
    from estimator.reports.pictures import corrected_picture

    references = References(neutral=NeutralPoint(*neutral) if neutral else None)
    found = read_sent(_photo_bytes, references)
    try:
        jpeg = corrected_picture(correct_bytes(_photo_bytes, references), SMALL_PX).jpeg
    except CalibrationError:
        jpeg = None
    return Seen(found, jpeg)


@st.cache_resource(max_entries=8, show_spinner="Looking for copies")
def _copies(hashes: tuple[str, ...], _bundle: "Bundle") -> dict[str, str]:
    from estimator.remote.consultation import copies_in

    return copies_in(_bundle)


def photos_of(case: Case) -> "tuple[tuple[SentPhoto, Seen], ...]":
    """Every photograph with its view and what speaks against it; how far it has come is shown meanwhile."""
    from estimator.remote.consultation import AboutPhotos, copy_of, sorted_photo

    copies, about = _copies(case.hashes, case.bundle), AboutPhotos(case.views)
    shown, found = st.empty(), []
    done: set[tuple[str, Spot | None]] = st.session_state.setdefault("remote_read", set())
    for number, (file, sha256) in enumerate(zip(case.bundle.photos, case.hashes, strict=True), 1):
        which = (sha256, case.neutrals.get(file.name))
        if which not in done:
            shown.progress((number - 1) / len(case.hashes), f"Reading photo {number} of {len(case.hashes)}")
        seen = _seen(*which, file.photo_bytes)
        done.add(which)
        told = copy_of(copies[file.name]) if file.name in copies else seen.found
        found.append((sorted_photo(file.name, about, told), seen))
    shown.empty()
    return tuple(found)


def consultation_of(case: Case, photos: "tuple[SentPhoto, ...]") -> "RemoteConsultation":
    """What the photographs and answers say together."""
    from estimator.remote.consultation import concluded
    from estimator.toning.targets import Target
    from estimator.visit import Consultation

    wish = Target("hair", case.level, case.tone or "neutral") if case.level else None
    return concluded(photos, case.bundle.left_out, Consultation(case.entry.facts, date.today()), wish)


def reply_of(case: Case, found: "RemoteConsultation", salon: str) -> "ClientLetter":
    """The draft of the reply."""
    from estimator.remote.reply import reply_to
    from estimator.reports.document import Heading

    return reply_to(Heading(case.client or "you", salon or "Your salon", date.today()), found)


def forget() -> None:
    """No picture or reading of a sent photograph stays in memory."""
    _seen.clear()
    _copies.clear()


def forget_client(*names: str) -> None:
    """The same, and no consultation of this client is in hand any more. names : Code and name, in any case."""
    forget()
    case = remote_case.current()
    if case is not None and folded(case.client) in {folded(name) for name in names} - {""}:
        remote_case.put_away()
