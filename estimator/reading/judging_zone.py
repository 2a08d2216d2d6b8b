"""What was seen about one zone that a person can mend."""

import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.findings import Finding, Severity
from calibration.photo import FloatArray
from estimator.reading.zone_light import ZoneLight
from estimator.reading.zone_reading import HairPart
from estimator.zones.outline import Zone

UNTESTED_ABOVE_L = 70.0  # no render was lighter
LITTLE_HAIR_PX = 800
# Of the renders' zones, two in a hundred lie beyond each of these.
SHINE_SPREAD, SHADOW_SPREAD = 1.6, 2.0
CLIPPED_SHARE = 0.05
NO_FIBRES_CONTRAST = 0.06


def findings_of(
    corrected: CorrectedPhoto, zone: Zone, light: ZoneLight, lab_d65: FloatArray, parts: tuple[HairPart, ...] = ()
) -> tuple[Finding, ...]:
    """Every finding about this zone."""
    looks = (
        _unverified(corrected, zone),
        _little_hair(zone, light),
        _clipped(zone, light),
        _no_fibres(zone, light),
        _shine(zone, light),
        _shadow(zone, light),
        _two_colours(zone, parts),
        _pattern_not_stated(zone),
        _untested(zone, lab_d65),
        _at_the_edge(corrected, zone),
        _proposed(zone),
    )
    return tuple(finding for finding in looks if finding is not None)


def _unverified(corrected: CorrectedPhoto, zone: Zone) -> Finding | None:
    if corrected.verified:
        return None
    return Finding("unverified", Severity.CARE, f"No card confirms the colours of {zone.name}.",
                   "Put a 24-patch card beside the hair and take the photo again.", zone.name)  # fmt: skip


def _little_hair(zone: Zone, light: ZoneLight) -> Finding | None:
    if light.pixels >= LITTLE_HAIR_PX:
        return None
    return Finding("little_hair", Severity.CARE, f"{zone.name} shows only {light.pixels} pixels of hair.",
                   "Take the photo from closer, or outline more of it.", zone.name)  # fmt: skip


def _clipped(zone: Zone, light: ZoneLight) -> Finding | None:
    if light.clipped_share <= CLIPPED_SHARE:
        return None
    share = f"{100 * light.clipped_share:.0f} %"
    return Finding("clipped_hair", Severity.CARE, f"{share} of {zone.name} is brighter than the photo can hold.",
                   "Take the photo again, darker or away from the lamp.", zone.name)  # fmt: skip


def _no_fibres(zone: Zone, light: ZoneLight) -> Finding | None:
    if light.fibre_contrast >= NO_FIBRES_CONTRAST:
        return None
    return Finding("no_fibres", Severity.CARE, f"No fibres are seen in {zone.name}: no hair, or not sharp.",
                   "Outline hair alone, and take a sharper photo.", zone.name)  # fmt: skip


def _shine(zone: Zone, light: ZoneLight) -> Finding | None:
    if light.features[0] <= SHINE_SPREAD:
        return None
    return Finding("shine", Severity.CARE, f"{zone.name} shines: {np.exp(light.features[0]):.0f} times its "
                   "middle in its brightest parts.", "Take the photo again in softer light.", zone.name)  # fmt: skip


def _shadow(zone: Zone, light: ZoneLight) -> Finding | None:
    if light.features[1] <= SHADOW_SPREAD:
        return None
    return Finding("shadow", Severity.CARE, f"Much of {zone.name} lies in shadow.",
                   "Light it from the front, or spread the hair.", zone.name)  # fmt: skip


def _two_colours(zone: Zone, parts: tuple[HairPart, ...]) -> Finding | None:
    if not parts:
        return None
    told = " and ".join(f"{part.place} ({100 * part.share:.0f} %)" for part in parts)
    message = f"{zone.name} holds two colours: {told}. Its figures are those of the {parts[0].place}."
    return Finding("two_colours", Severity.CARE, message, "Outline the two apart where a plan is for both.", zone.name)


def _pattern_not_stated(zone: Zone) -> Finding | None:
    if zone.strand_pattern is not None:
        return None
    return Finding("pattern_not_stated", Severity.NOTE, f"The strand pattern of {zone.name} is not stated.",
                   "State it (straight, wavy, curly or coily): the reading becomes tighter.", zone.name)  # fmt: skip


def _untested(zone: Zone, lab_d65: FloatArray) -> Finding | None:
    if lab_d65[0] <= UNTESTED_ABOVE_L:
        return None
    return Finding("untested_light", Severity.CARE, f"{zone.name} reads lighter than L* {UNTESTED_ABOVE_L:.0f}: "
                   "readings so light were never tested.", "Compare it with a known swatch.", zone.name)  # fmt: skip


def _at_the_edge(corrected: CorrectedPhoto, zone: Zone) -> Finding | None:
    box, photo = zone.box, corrected.photo
    inside = box.top > 0 and box.left > 0 and box.bottom < photo.height_px and box.right < photo.width_px
    if inside:
        return None
    return Finding("zone_at_edge", Severity.NOTE, f"{zone.name} runs out of the photo.",
                   "Take in the whole zone if its evenness matters.", zone.name)  # fmt: skip


def _proposed(zone: Zone) -> Finding | None:
    if not zone.proposed:
        return None
    return Finding("proposed_outline", Severity.CARE, f"The outline of {zone.name} was proposed and not confirmed.",
                   "Check the outline, or draw your own.", zone.name)  # fmt: skip
