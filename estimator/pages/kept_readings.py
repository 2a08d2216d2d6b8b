"""Photographs, zones and readings kept by the photograph's hash, so that no screen waits twice for the same work.

Calls the verbs of a visit that read. What is kept is shared between sessions and never changed.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from calibration.correcting.neutral_reference import NeutralPoint
from estimator.errors import BadInputError
from estimator.pages import kept_scales
from estimator.pages.draft import Draft, OutlinedZone, Shot, current
from estimator.pages.outlines import drawn_zones
from estimator.zones.outline import Setting, Zone

if TYPE_CHECKING:  # these bring numpy, OpenCV and the fits along; a first page should not wait for them
    from calibration.corrected import CorrectedPhoto
    from estimator.reading.comparing import ZoneDifference
    from estimator.reading.explaining import Explanation
    from estimator.visit import PhotoReading
    from estimator.zones.specification import ZoneSpec

PHOTOS_KEPT = 6  # a 12-megapixel photograph takes 36 MB
READINGS_KEPT = 24
SCREEN_COPY_PX = 1440  # a little larger, and the page would shrink it once more at every turn


@dataclass(frozen=True)
class Picture:
    """A copy of a photograph for the screen.

    jpeg : Its bytes.
    width_px, height_px : Size of the photograph itself, in whose pixels all points are counted.
    beyond_screen_share : Share of its pixels whose colour no sRGB screen can show. [0-1]
    """

    jpeg: bytes
    width_px: int
    height_px: int
    beyond_screen_share: float


def hash_of(photo_bytes: bytes) -> str:
    """Name of a photograph in records: SHA-256 of its bytes."""
    return hashlib.sha256(photo_bytes).hexdigest()


@st.cache_resource(max_entries=PHOTOS_KEPT, show_spinner="Finding the card, correcting the colours")
def _corrected(key: str, _shot: Shot, _print_toml: str, _station_toml: str) -> "CorrectedPhoto":
    from calibration.cards.measured_card import kept_card
    from calibration.correcting.station_file import kept_station
    from calibration.correcting.white_sheet import open_white_sheet
    from calibration.pipeline import correct_bytes
    from calibration.references import References

    given = References(
        prints=(kept_card(_print_toml),) if _print_toml else (),
        station=kept_station(_station_toml) if _station_toml else None,
        white_sheet=open_white_sheet(_shot.sheet.photo_bytes) if _shot.sheet else None,
        neutral=NeutralPoint(*_shot.neutral) if _shot.neutral else None,
    )
    return correct_bytes(_shot.photo_bytes, given)


def correction_key(shot: Shot) -> str:
    """Changes whenever the correction of this photograph would."""
    sheet = shot.sheet.sha256 if shot.sheet else ""
    return repr((shot.sha256, shot.neutral, sheet, current().print_toml, current().station_toml))


def corrected(shot: Shot) -> "CorrectedPhoto":
    """The photograph with its colours corrected; raises PhotoRefusedError, CorrectionError."""
    return _corrected(correction_key(shot), shot, current().print_toml, current().station_toml)


def corrected_alone(shot: Shot) -> "CorrectedPhoto":
    """The photograph corrected without a station and a white sheet: what they are measured against."""
    alone = replace(shot, sheet=None)
    key = repr((shot.sha256, shot.neutral, "", current().print_toml, ""))
    return _corrected(key, alone, current().print_toml, "")


@st.cache_resource(max_entries=PHOTOS_KEPT, show_spinner=False)
def _picture(key: str, _shot: Shot) -> Picture:
    from estimator.reports.pictures import corrected_picture

    photo = corrected(_shot)
    copy = corrected_picture(photo, SCREEN_COPY_PX)
    return Picture(copy.jpeg, photo.photo.width_px, photo.photo.height_px, copy.beyond_screen_share)


def picture(shot: Shot) -> Picture:
    """A small corrected copy of the photograph."""
    return _picture(correction_key(shot), shot)


def zones(shot: Shot) -> tuple[Zone, ...]:
    """The zones as drawn; one from a file or a proposal that nobody touched keeps its exact shape."""
    from estimator.zones.inputs import zones_of
    from estimator.zones.specification import PolygonZones, ZoneSpec

    drawn = drawn_zones(shot)
    by_hand = {zone.name: zone for zone in drawn if zone.exact is None}
    polygons = {name: (np.array(zone.points_px, dtype=np.float64),) for name, zone in by_hand.items()}
    strands = {name: zone.strand_pattern for name, zone in by_hand.items() if zone.strand_pattern}
    spec = ZoneSpec(shot.setting, PolygonZones(polygons), strands)
    made = {zone.name: zone for zone in zones_of(spec, corrected(shot))} if polygons else {}
    return tuple(_stated(zone, shot.setting) if zone.exact else made[zone.name] for zone in drawn)


def with_zones_from_file(shot: Shot, path: Path) -> Shot:
    """The photograph with the zones of a file on this machine: polygons, or a label picture; raises BadInputError."""
    from estimator.zones.inputs import load_zone_spec

    return with_spec(shot, load_zone_spec(path))


def with_spec(shot: Shot, spec: "ZoneSpec") -> Shot:
    """The photograph with the zones that a description names."""
    from estimator.pages.tracing import outlined
    from estimator.zones.inputs import zones_of

    found = tuple(outlined(zone) for zone in zones_of(spec, corrected(shot)))
    return replace(shot.with_zones(found, selected=0, revision=shot.revision + 1), setting=spec.setting)


def with_uploaded_zones(shot: Shot, files: Mapping[str, bytes]) -> Shot:
    """The photograph with the zones of uploaded files: one JSON, and its label picture where it numbers its zones."""
    from estimator.zones.inputs import zone_spec_from_json, zone_spec_from_label_picture

    documents = [content for name, content in files.items() if name.lower().endswith(".json")]
    pictures = [content for name, content in files.items() if name.lower().endswith(".png")]
    if len(documents) != 1 or len(pictures) > 1:
        raise BadInputError("Choose one JSON file, and one label picture (PNG) if the JSON numbers its zones.")
    if pictures:
        return with_spec(shot, zone_spec_from_label_picture(documents[0], pictures[0]))
    return with_spec(shot, zone_spec_from_json(documents[0]))


def with_whole_hair(shot: Shot) -> Shot:
    """The photograph with the whole hair proposed as one zone, in hand."""
    from estimator.zones.proposing import propose_hair

    return _with_zone(shot, propose_hair(corrected(shot)))


def with_fitted_outline(shot: Shot) -> Shot:
    """The photograph with the zone in hand drawn close to its hair."""
    from estimator.zones.proposing import refine_outline

    rough = shot.zones[shot.selected]
    fitted = refine_outline(corrected(shot), np.array(rough.points_px, dtype=np.float64), (), ())
    return _with_zone(shot, replace(fitted, name=rough.name, strand_pattern=rough.strand_pattern))


def _with_zone(shot: Shot, zone: Zone) -> Shot:
    from estimator.pages.outlines import choose
    from estimator.pages.tracing import outlined

    chosen = choose(shot, zone.name)
    number = chosen.selected
    return chosen.with_zones((*chosen.zones[:number], outlined(zone), *chosen.zones[number + 1 :]))


def _stated(zone: OutlinedZone, setting: Setting) -> Zone:
    assert zone.exact is not None
    return replace(zone.exact, name=zone.name, setting=setting, strand_pattern=zone.strand_pattern)


def with_outlines_of(shot: Shot, other: Shot) -> Shot:
    """The photograph with the outlines of another one, to be moved where the hair lies now."""
    here, there = corrected(shot).photo, corrected(other).photo
    same_size = (here.width_px, here.height_px) == (there.width_px, there.height_px)
    across, down = here.width_px / there.width_px, here.height_px / there.height_px
    copied = tuple(
        replace(
            zone,
            points_px=tuple((x * across, y * down) for x, y in zone.points_px),
            exact=zone.exact if same_size else None,
        )
        for zone in drawn_zones(other)
    )
    return replace(shot.with_zones(copied, selected=0, revision=shot.revision + 1), setting=other.setting)


@st.cache_resource(max_entries=READINGS_KEPT, show_spinner="Reading the zones")
def _reading(key: str, _shot: Shot) -> "PhotoReading":
    from estimator import visit
    from estimator.reading.wet_hair import refused_as_wet

    found = corrected(_shot)
    return visit.read_zones(refused_as_wet(found) if _shot.wet else found, zones(_shot), kept_scales.own_scale())


def reading_key(shot: Shot) -> str:
    """Changes whenever a reading of this photograph would."""
    drawn = [(zone.name, zone.points_px, zone.strand_pattern, zone.exact is None) for zone in drawn_zones(shot)]
    return repr((correction_key(shot), shot.setting, shot.wet, drawn, current().scale_toml))


def reading(shot: Shot) -> "PhotoReading":
    """Every outlined zone, read."""
    return _reading(reading_key(shot), shot)


def explained(read: "PhotoReading") -> "tuple[Explanation, ...]":
    """What each zone's reading rests on and what would make it tighter."""
    zones = [(zone.name, str(zone.zone.strand_pattern), tuple(map(float, zone.reading.lab_d65))) for zone in read.zones]
    return _explained(repr((read.corrected.photo.sha256, zones)), read)


@st.cache_resource(max_entries=READINGS_KEPT, show_spinner=False)
def _explained(key: str, _read: "PhotoReading") -> "tuple[Explanation, ...]":
    from estimator import visit

    return visit.explain(_read)


def reading_before(visit_draft: Draft) -> "PhotoReading":
    """What is read of the hair before, from its photograph and the one turned under the lamp, if there is one."""
    from estimator import visit

    assert visit_draft.before is not None
    first, turned = reading(visit_draft.before), visit_draft.turned
    if turned is None or not drawn_zones(turned):
        return first
    return visit.together((first, reading(turned)), kept_scales.own_scale())


def before_key(visit_draft: Draft) -> str:
    """Changes whenever the reading of the hair before would."""
    shots = (visit_draft.before, visit_draft.turned)
    return repr([reading_key(shot) if shot else "" for shot in shots])


def differences(visit_draft: Draft) -> "tuple[ZoneDifference, ...]":
    """What changed in each zone that both photographs hold."""
    from estimator import visit

    if visit_draft.before is None or visit_draft.after is None:
        return ()
    return visit.compare(reading_before(visit_draft), reading(visit_draft.after))
