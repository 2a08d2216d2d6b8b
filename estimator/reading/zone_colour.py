"""The reading of each zone of one photograph: what a d:8 instrument would read on a flat tress of that hair."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.photo import FloatArray
from estimator.errors import TooLittleHairError
from estimator.reading.basis import basis_of
from estimator.reading.flat_tress import SeenZone, TressColour, tress_colours
from estimator.reading.hair_colours import HairColours, hair_colours
from estimator.reading.hair_space import lab_by_hair_u
from estimator.reading.judging_zone import UNTESTED_ABOVE_L, findings_of
from estimator.reading.light_model import LightModel, light_models
from estimator.reading.profile import profile_of, spread_of
from estimator.reading.surroundings import light_field
from estimator.reading.zone_light import light_of
from estimator.reading.zone_reading import ZoneReading
from estimator.zones.outline import Setting, Zone

# Held-out error of the card's correction that the renders had on average: what exceeds it is added, the rest is
# already in the fitted scatter. [ΔE2000]
USUAL_HELD_OUT_DE2000 = 2.5
# Without a card the camera's own colours stand uncorrected, and err by each zone's colour and not alike for all: this
# share of a weak reference's error comes again for each zone. tests/studies/neutral_scenes.py shows the coverage.
OWN_SHARE_OF_WEAK_REFERENCE = 0.15


@dataclass(frozen=True, eq=False)
class ReadingModel:
    """All that was learned beforehand: how hair looks in photographs, and the colours it can have, by setting."""

    lights: Mapping[Setting, LightModel]
    colours: Mapping[Setting, HairColours]


@cache
def shipped_model() -> ReadingModel:
    """The model in the package's tables."""
    return ReadingModel(light_models(), hair_colours())


@dataclass(frozen=True, eq=False)
class ZonesRead:
    """The zones of one photograph: those that could be read, and why the others could not.

    readings : In the order of the zones; swatches of known colour are leaned on and not read.
    """

    readings: tuple[ZoneReading, ...]
    unread: tuple[TooLittleHairError, ...]


def read_zones(corrected: CorrectedPhoto, zones: tuple[Zone, ...], model: ReadingModel | None = None) -> ZonesRead:
    """Every zone of one photograph, read together: they share the lamp and the correction, so each helps the others.

    model : Another than the shipped one, as studies use that leave a scene out.
    """
    model = model or shipped_model()
    seen, unread = seen_zones(corrected, zones)
    readings: list[ZoneReading] = []
    for setting in Setting:
        together = tuple(one for one in seen if one.zone.setting is setting)
        if together:
            readings += _read_together(corrected, together, model.lights[setting], model.colours[setting])
    order = {zone.name: position for position, zone in enumerate(zones)}
    return ZonesRead(tuple(sorted(readings, key=lambda reading: order[reading.zone])), unread)


def seen_zones(
    corrected: CorrectedPhoto, zones: tuple[Zone, ...]
) -> tuple[tuple[SeenZone, ...], tuple[TooLittleHairError, ...]]:
    """The light of every zone that holds enough hair, and why the others do not."""
    field = light_field(corrected, zones) if any(zone.setting is Setting.BOARD for zone in zones) else None
    seen, unread = [], []
    for zone in zones:
        try:
            light = light_of(corrected, zone)
        except TooLittleHairError as refusal:
            if zone.known_lab_d65 is None:
                unread.append(refusal)
            continue
        on_board = field is not None and zone.setting is Setting.BOARD
        seen.append(SeenZone(zone, light, field.at(zone) if on_board and field is not None else None))
    return tuple(seen), tuple(unread)


def _read_together(
    corrected: CorrectedPhoto, seen: tuple[SeenZone, ...], model: LightModel, colours: HairColours
) -> list[ZoneReading]:
    found = read_seen(corrected, seen, model, colours)
    swatches = tuple(one.zone.name for one in seen if one.zone.known_lab_d65 is not None)
    return [
        _reading(corrected, one, colour, model, swatches)
        for one, colour in zip(seen, found, strict=True)
        if one.zone.known_lab_d65 is None
    ]


def read_seen(
    corrected: CorrectedPhoto, seen: tuple[SeenZone, ...], model: LightModel, colours: HairColours
) -> tuple[TressColour, ...]:
    """The flat-tress colour of each of these zones of one photo, which share their setting."""
    added = reference_covariance(corrected, seen)
    scatter = model.zone_covariance.copy()
    scatter[:3, :3] += OWN_SHARE_OF_WEAK_REFERENCE * (not corrected.verified) * added
    return tress_colours(seen, replace(model, zone_covariance=scatter), colours, model.photo_covariance + added)


def reference_covariance(corrected: CorrectedPhoto, seen: tuple[SeenZone, ...]) -> FloatArray:
    """Covariance in hair_u that this photo's reference adds to the fitted scatter. shape (3, 3).

    The fitted scatter holds for a card as well corrected as in the renders. A worse correction adds what exceeds that;
    a weak reference (no card) adds all of its own error.
    """
    held_out = corrected.correction.held_out_de2000
    excess = max(0.0, 1 - (USUAL_HELD_OUT_DE2000 / max(held_out, 1e-6)) ** 2) if corrected.verified else 1.0
    by_lab = np.linalg.inv(lab_by_hair_u(np.mean([one.light.hair_u for one in seen], axis=0)))
    added: FloatArray = excess * by_lab @ corrected.correction.lab_covariance() @ by_lab.T
    return added


def _reading(
    corrected: CorrectedPhoto, one: SeenZone, colour: TressColour, model: LightModel, swatches: tuple[str, ...]
) -> ZoneReading:
    covariance = _beyond_the_tested(colour)
    findings = findings_of(corrected, one.zone, one.light, colour.lab_d65)
    shared = np.sqrt(model.before_after)
    return ZoneReading(
        zone=one.zone.name,
        setting=one.zone.setting,
        strand_pattern=one.zone.strand_pattern,
        lab_d65=colour.lab_d65,
        covariance=covariance,
        shared_covariance=covariance * np.outer(shared, shared),
        spread_lab=spread_of(colour.lab_d65, one.light),
        profile=profile_of(colour.lab_d65, one.light),
        pixels=one.light.pixels,
        verified=corrected.verified,
        proposed=one.zone.proposed,
        verdict=corrected.verdict,
        findings=findings,
        basis=basis_of(corrected, one, swatches),
    )


def _beyond_the_tested(colour: TressColour) -> FloatArray:
    """The covariance, wider for hair lighter than any the model was tested on. shape (3, 3)."""
    beyond = max(0.0, float(colour.lab_d65[0]) - UNTESTED_ABOVE_L) / 8.0
    return colour.covariance * (1 + beyond**2)
