"""The reading of each zone of one photograph: what a d:8 instrument would read on a flat tress of that hair."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.photo import FloatArray
from estimator.errors import TooLittleHairError
from estimator.reading.basis import basis_of
from estimator.reading.flat_tress import SeenZone, TressColour, tress_colours
from estimator.reading.hair_colours import HairColours, hair_colours
from estimator.reading.hair_parts import SplitZone, hair_parts, split
from estimator.reading.hair_space import lab_by_hair_u
from estimator.reading.head_light import head_light
from estimator.reading.judging_zone import UNTESTED_ABOVE_L, findings_of
from estimator.reading.light_model import LightModel, light_models
from estimator.reading.profile import profile_of, spread_of
from estimator.reading.surroundings import light_field
from estimator.reading.two_colours import UsualScatter, two_colours, usual_scatters
from estimator.reading.zone_light import ZoneLight, light_of
from estimator.reading.zone_reading import HairPart, ZoneReading
from estimator.zones.outline import Setting, Zone

# Held-out error of the card's correction that the renders had on average: what exceeds it is added, the rest is
# already in the fitted scatter. [ΔE2000]
USUAL_HELD_OUT_DE2000 = 3.0
MEAN_HELD_OUT_DE2000 = 2.1
# Without a card the camera's own colours stand uncorrected, and err by each zone's colour and not alike for all: this
# share of a weak reference's error comes again for each zone. tests/studies/neutral_scenes.py shows the coverage.
OWN_SHARE_OF_WEAK_REFERENCE = 0.15


@dataclass(frozen=True, eq=False)
class ReadingModel:
    """All that was learned beforehand, by setting.

    lights : How hair looks in photographs. colours : The colours that it can have.
    usual : How far parts of one colour lie apart.
    """

    lights: Mapping[Setting, LightModel]
    colours: Mapping[Setting, HairColours]
    usual: Mapping[Setting, UsualScatter] = field(default_factory=usual_scatters)


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
            readings += _read_together(corrected, together, model, setting)
    order = {zone.name: position for position, zone in enumerate(zones)}
    return ZonesRead(tuple(sorted(readings, key=lambda reading: order[reading.zone])), unread)


def seen_zones(
    corrected: CorrectedPhoto, zones: tuple[Zone, ...]
) -> tuple[tuple[SeenZone, ...], tuple[TooLittleHairError, ...]]:
    """The light of every zone that holds enough hair, and why the others do not."""
    lit, unread = [], []
    for zone in zones:
        try:
            lit.append((zone, light_of(corrected, zone)))
        except TooLittleHairError as refusal:
            if zone.known_lab_d65 is None:
                unread.append(refusal)
    around = {setting: _as_seen(corrected, zones, lit, setting) for setting in Setting}
    return tuple(around[zone.setting][zone.name] for zone, _ in lit), tuple(unread)


def _as_seen(
    corrected: CorrectedPhoto, zones: tuple[Zone, ...], lit: list[tuple[Zone, ZoneLight]], setting: Setting
) -> dict[str, SeenZone]:
    """The zones of one setting with what is known of the light at each, by name."""
    mine = [(zone, light) for zone, light in lit if zone.setting is setting]
    if not mine:
        return {}
    if setting is Setting.BOARD:
        over = light_field(corrected, zones)
        at = {zone.name: None if over is None else np.array([over.at(zone)]) for zone, _ in mine}
        return {zone.name: SeenZone(zone, light, at[zone.name]) for zone, light in mine}
    card_px = corrected.sighting.corners_px if corrected.sighting is not None else None
    rows = head_light([zone for zone, _ in mine], [light for _, light in mine], card_px)
    known = [None] * len(mine) if rows is None else list(rows)
    return {zone.name: SeenZone(zone, light, row) for (zone, light), row in zip(mine, known, strict=True)}


def _read_together(
    corrected: CorrectedPhoto, seen: tuple[SeenZone, ...], model: ReadingModel, setting: Setting
) -> list[ZoneReading]:
    light_model = model.lights[setting]
    found = read_seen(corrected, seen, light_model, model.colours[setting])
    parts = _parts(corrected, seen, model, setting)
    swatches = tuple(one.zone.name for one in seen if one.zone.known_lab_d65 is not None)
    return [
        _reading(corrected, one, colour, light_model, (swatches, parts.get(one.zone.name, ())))
        for one, colour in zip(seen, found, strict=True)
        if one.zone.known_lab_d65 is None
    ]


def _parts(
    corrected: CorrectedPhoto, seen: tuple[SeenZone, ...], model: ReadingModel, setting: Setting
) -> dict[str, tuple[HairPart, ...]]:
    """The two colours of each zone that holds two, by its name. The photo's other zones help to read them."""
    usual = model.usual[setting]
    halves: dict[str, SplitZone] = {}
    for one in seen:
        found = two_colours(one.light, usual) if one.zone.known_lab_d65 is None else None
        half = split(corrected, one, found) if found is not None else None
        if half is not None:
            halves[one.zone.name] = half
    if not halves:
        return {}
    whole = tuple(one for one in seen if one.zone.name not in halves)
    parts = tuple(part for half in halves.values() for part in half.parts)
    read = read_seen(corrected, (*whole, *parts), model.lights[setting], model.colours[setting])[len(whole) :]
    return {
        name: hair_parts(half.found, (read[2 * place], read[2 * place + 1]), usual)
        for place, (name, half) in enumerate(halves.items())
    }


def read_seen(
    corrected: CorrectedPhoto, seen: tuple[SeenZone, ...], model: LightModel, colours: HairColours
) -> tuple[TressColour, ...]:
    """The flat-tress colour of each of these zones of one photo, which share their setting."""
    added = reference_covariance(corrected, seen)
    by_card = _by_card(corrected, len(model.zone_covariance))
    scatter = model.zone_covariance * np.outer(by_card, by_card)
    scatter[:3, :3] += OWN_SHARE_OF_WEAK_REFERENCE * (not corrected.verified) * added
    shift = model.photo_covariance * np.outer(by_card[:3], by_card[:3]) + added
    return tress_colours(seen, replace(model, zone_covariance=scatter), colours, shift)


def _by_card(corrected: CorrectedPhoto, seen: int) -> FloatArray:
    """How far the scatter of each number seen is scaled by how well the card corrects this photo. shape (seen,).

    Half of the variance of colour, red and blue against green, goes with the square of the card's held-out error.
    """
    by_card = np.ones(seen)
    if corrected.verified:
        by_card[1:3] = np.sqrt(0.5 + 0.5 * (corrected.correction.held_out_de2000 / MEAN_HELD_OUT_DE2000) ** 2)
    return by_card


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
    corrected: CorrectedPhoto,
    one: SeenZone,
    colour: TressColour,
    model: LightModel,
    beside: tuple[tuple[str, ...], tuple[HairPart, ...]],
) -> ZoneReading:
    """beside : Names of the known swatches in the shot, and the zone's two colours where it has two."""
    swatches, parts = beside
    # No hair in a zone of two colours has their mean: the larger part speaks for the zone, and a finding says so.
    lab = parts[0].lab_d65 if parts else colour.lab_d65
    covariance = _beyond_the_tested(lab, parts[0].covariance if parts else colour.covariance)
    findings = findings_of(corrected, one.zone, one.light, lab, parts)
    shared = np.sqrt(model.before_after)
    return ZoneReading(
        zone=one.zone.name,
        setting=one.zone.setting,
        strand_pattern=one.zone.strand_pattern,
        lab_d65=lab,
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
        parts=parts,
        evidence=() if parts else (colour.evidence,),
    )


def _beyond_the_tested(lab_d65: FloatArray, covariance: FloatArray) -> FloatArray:
    """The covariance, wider for hair lighter than any the model was tested on. shape (3, 3)."""
    beyond = max(0.0, float(lab_d65[0]) - UNTESTED_ABOVE_L) / 8.0
    wider: FloatArray = covariance * (1 + beyond**2)
    return wider
