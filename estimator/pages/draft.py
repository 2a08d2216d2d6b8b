"""The visit in hand: what the person has put in so far. It lives with the page's session and survives every step."""

from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

import streamlit as st

from estimator.zones.outline import Setting, StrandPattern, Zone

if TYPE_CHECKING:
    from estimator.care.answers import Answer

Side = Literal["before", "turned", "after", "trial", "swatch"]
UNDO_STEPS = 50


@dataclass(frozen=True)
class OutlinedZone:
    """One zone as it was drawn.

    points_px : Corners in pixels of the upright photograph, in order.
    exact : The zone as a file or a proposal gave it, of which `points_px` is only the rim; None once it was redrawn.
    """

    name: str
    points_px: tuple[tuple[float, float], ...] = ()
    strand_pattern: StrandPattern | None = None
    exact: Zone | None = None

    @property
    def drawn(self) -> bool:
        return len(self.points_px) >= 3


@dataclass(frozen=True)
class SheetPicture:
    """A photograph of a white sheet that lay where another photograph was taken."""

    sha256: str
    photo_bytes: bytes = field(repr=False)


@dataclass(frozen=True, eq=False)
class Shot:
    """One photograph of the visit and what was drawn on it.

    sheet : A white sheet in the same place and light, to even the light by; it belongs to this very photograph.
    neutral : x, y and radius of a neutral thing that was pointed at. [px]
    serial : Number of the last change that the drawing board told, so that it can tell an older answer from a newer.
    revision : Counts changes made outside the board; the board then takes our outlines over its own.
    """

    photo_bytes: bytes
    sha256: str
    neutral: tuple[float, float, float] | None = None
    zones: tuple[OutlinedZone, ...] = ()
    setting: Setting = Setting.HEAD
    wet: bool = False
    selected: int = 0
    serial: int = 0
    revision: int = 0
    earlier: tuple[tuple[OutlinedZone, ...], ...] = ()
    sheet: SheetPicture | None = None

    def with_zones(self, zones: tuple[OutlinedZone, ...], **others: Any) -> "Shot":
        """The same photograph with other zones; the ones before can be had back."""
        return replace(self, zones=zones, earlier=(*self.earlier, self.zones)[-UNDO_STEPS:], **others)

    def undone(self) -> "Shot":
        """The photograph with its zones as they stood one change earlier."""
        if not self.earlier:
            return self
        zones = self.earlier[-1]
        selected = min(self.selected, max(len(zones) - 1, 0))
        return replace(self, zones=zones, earlier=self.earlier[:-1], selected=selected, revision=self.revision + 1)


@dataclass(frozen=True)
class Wish:
    """What one zone should become, and what its hair is like; the fields of toning, as entered.

    way : words (level and tone), like (a zone), picked (spot on a picture) or lightest (no warmer than the tone).
    spot : x, y and radius on the photograph whose hash is `spot_on`. [px]
    """

    level: float
    tone: str
    length_cm: float = 30.0
    strand_diameter: str = "medium"
    density: str = "medium"
    porosity: str = "normal"
    way: str = "words"
    like: str = ""
    spot: tuple[float, float, float] | None = None
    spot_on: str = ""


@dataclass(frozen=True)
class StrandPicture:
    """One photograph of a test strand, and the minute at which it was taken."""

    minutes: float
    sha256: str
    photo_bytes: bytes = field(repr=False)


@dataclass(frozen=True)
class StrandEntry:
    """One test strand as entered. looks : minute and level seen by eye."""

    photos: tuple[StrandPicture, ...] = ()
    looks: tuple[tuple[float, float], ...] = ()
    volume: float = 20.0
    start_level: float | None = None
    stretch: str = ""


@dataclass(frozen=True)
class StrandTried:
    """A test strand of one zone that was toned before the head.

    came_out : A word of `kept_plans.CAME_OUT`; "" before anybody said.
    parts : What it was toned with: the bowl of its zone as it was planned when the minutes were written down.
    measured_lab_d65 : Its colour by an instrument; None where the photograph of strands tells it.
    """

    came_out: str = ""
    minutes: float | None = None
    parts: tuple[tuple[str, float], ...] = ()
    measured_lab_d65: tuple[float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class Draft:
    """One visit as entered so far.

    client : Initials or a code, never a full name: it stands on reports.
    day : Of the visit; None for today.
    turned : A second photograph of the hair before, turned under the lamp.
    tests : Answers to findings that ask for a test or a doctor, by the finding's code.
    picture : A picture that the client brought, to point at.
    scale_toml : The salon's own level scale as it was handed over; "" for the default scale.
    station_toml : What was learned at the salon's station, as it was handed over; "" for none.
    print_toml : The printed card of the salon as it was measured; "" for none.
    shelf_csv : The salon's own shelf as it was handed over; "" for the demo shelf.
    shelf_before : The shelf as it was before its last change, to be had back; None where it was not changed.
    own : What zones answer otherwise than the head, by zone and fact.
    dates : ISO texts with their time zone, by the names of `VisitDates`.
    lightens : Whether this visit lightens before it tones.
    laid : Where along its length a zone's lightener goes, in the words of `laying.LAID_WORDS`.
    strands : Test strands, by zone.
    told_before : Answers of the client's last visit that count only once they are confirmed, by their fact.
    asked_anew : Answers of that visit that are asked as if nobody had answered.
    told_on : The day of that visit.
    wished_level, wished_tone : What the client hoped for before coming; no target until it is confirmed for a zone.
    swatch : A photograph of swatches of shades; swatch_spot : x, y and radius on it. [px]
    trial : The photograph of strands that were toned before the head; tried : those strands, by zone.
    trial_used : Whether the plan rests on them.
    planned : Mark of what the plan was asked for, as `kept_plans.mark` makes it; "" while no plan is shown.
    """

    salon: str = ""
    client: str = ""
    day: date | None = None
    demo: bool = False
    before: Shot | None = None
    turned: Shot | None = None
    after: Shot | None = None
    answers: dict[str, Any] = field(default_factory=dict)
    wishes: dict[str, Wish] = field(default_factory=dict)
    max_bowls: int = 2
    shelf_csv: str = ""
    shelf_before: str | None = None
    picture: Shot | None = None
    scale_toml: str = ""
    print_toml: str = ""
    station_toml: str = ""
    tests: dict[str, "Answer"] = field(default_factory=dict)
    own: dict[str, dict[str, Any]] = field(default_factory=dict)
    dates: dict[str, str] = field(default_factory=dict)
    lightens: bool = False
    laid: dict[str, str] = field(default_factory=dict)
    additive_percent: float = 0.0
    card_pitch_mm: float | None = None
    strands: dict[str, StrandEntry] = field(default_factory=dict)
    told_before: dict[str, Any] = field(default_factory=dict)
    asked_anew: dict[str, Any] = field(default_factory=dict)
    told_on: date | None = None
    wished_level: float | None = None
    wished_tone: str = ""
    swatch: Shot | None = None
    swatch_spot: tuple[float, float, float] | None = None
    trial: Shot | None = None
    tried: dict[str, StrandTried] = field(default_factory=dict)
    trial_used: bool = False
    planned: str = ""


def current() -> Draft:
    """The visit of this session; an empty one to begin with."""
    found: Draft = st.session_state.setdefault("draft", Draft())
    return found


def change(**fields: Any) -> Draft:
    """The visit with these fields replaced, kept as the current one."""
    changed = replace(current(), **fields)
    st.session_state["draft"] = changed
    return changed


def keep_wish(zone: str, usual: Wish, **fields: Any) -> None:
    """Replace these fields of a zone's target, or of `usual` where the zone has none.

    The rest is as it stands now, not as it was drawn: two taps may come before the screen is drawn anew.
    """
    wishes = current().wishes
    change(wishes={**wishes, zone: replace(wishes.get(zone, usual), **fields)})


def shot(side: Side) -> Shot | None:
    """The photograph of one side of the visit, if there is one."""
    visit = current()
    shots: dict[Side, Shot | None] = {
        "before": visit.before,
        "turned": visit.turned,
        "after": visit.after,
        "trial": visit.trial,
        "swatch": visit.swatch,
    }
    return shots[side]


def keep_shot(side: Side, changed: Shot) -> None:
    """Keep a changed photograph or its zones."""
    change(**{side: changed})
