"""What stands beside the card and makes its correction surer: a white sheet, a second reference, a station."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from calibration.cards.patches import measure_patches
from calibration.cards.sighting import CardSighting, PatchColours
from calibration.colourspaces import WHITE_D65_XYZ
from calibration.corrected import Correction
from calibration.correcting.choosing import ChosenCorrection, choose_correction
from calibration.correcting.illumination import Illumination, LocalCorrection, lit_edition
from calibration.correcting.known_card import KnownCard
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.correcting.station_use import station_correction
from calibration.correcting.two_lamps import (
    ONE_LAMP_LOG,
    LightSeen,
    change_between,
    colour_change,
    illumination_between,
    left_open,
    light_seen,
)
from calibration.correcting.white_sheet import WhiteSheet, sheet_does_not_fit, sheet_illumination
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.photo import Box, FloatArray, Photo, Step
from calibration.references import References

# The sheet's light is read through the card's correction, which is then fitted again under that light.
SHEET_ROUNDS = 2
FEWEST_PATCHES_OF_SECOND = 12


@dataclass(frozen=True, eq=False)
class CardInShot:
    """A card whose correction was chosen.

    known : Its colours under one even light. others : Further cards of the same kind in the shot.
    evened : The patches' light was evened already, so a white sheet must not even it again.
    """

    sighting: CardSighting
    patches: PatchColours
    known: KnownCard
    chosen: ChosenCorrection
    others: tuple[CardSighting, ...] = ()
    evened: bool = False


@dataclass(frozen=True, eq=False)
class Refined:
    """The correction with all that stands beside the card.

    chosen : By the card's own patches, under the light that was found.
    even : The light over the frame is known, so its change across the card is no fault.
    """

    correction: Correction
    chosen: ChosenCorrection
    even: bool
    findings: tuple[Finding, ...]
    steps: tuple[Step, ...]


def refined(photo: Photo, card: CardInShot, references: References) -> Refined:
    """The card's correction, made surer by what is given along with the photograph."""
    known, chosen, light = card.known, card.chosen, None
    findings: tuple[Finding, ...] = ()
    if references.white_sheet is not None:
        known, chosen, light, findings = _under_sheet(photo, card, references.white_sheet)
    even = light is not None
    correction: Correction = chosen.correction
    steps: tuple[Step, ...] = ()
    if references.station is not None:
        use = station_correction(references.station, (card.patches, known, chosen), photo.encoding)
        correction, findings, steps = use.correction, (*findings, *use.findings), (*steps, use.step)
    if light is not None:
        correction = LocalCorrection(correction, light, np.zeros((3, 3)), 0.0, "light evened by a white sheet")
        steps = (*steps, Step("even_by_white_sheet", 1, {}, {"largest_ratio": light.largest_ratio(photo.height_px)}))
        return Refined(correction, chosen, even, findings, steps)
    second = _second_reference(photo, card, correction, references)
    if second is not None:
        return _between(photo, (correction, chosen), second, (findings, steps))
    return Refined(correction, chosen, even, findings, steps)


def _under_sheet(
    photo: Photo, card: CardInShot, sheet: WhiteSheet
) -> tuple[KnownCard, ChosenCorrection, Illumination | None, tuple[Finding, ...]]:
    """The card's colours and correction under the light that the sheet shows, that light, and what is to be said."""
    misfit = sheet_does_not_fit(sheet, photo)
    if misfit is not None:
        return card.known, card.chosen, None, (misfit,)
    centres = card.sighting.patch_centres_px
    known, chosen = card.known, card.chosen
    light = sheet_illumination(sheet, chosen.correction, centres.mean(axis=0))
    for _ in range(0 if card.evened else SHEET_ROUNDS):
        known = replace(card.known, edition=lit_edition(card.known.edition, light, centres))
        try:
            chosen = choose_correction(card.patches, photo.encoding, (known,))
        except CorrectionError as refusal:
            return card.known, card.chosen, None, (refusal.finding,)
        light = sheet_illumination(sheet, chosen.correction, centres.mean(axis=0))
    return known, chosen, light, (_sheet_used(light, photo),)


def _second_reference(
    photo: Photo, card: CardInShot, correction: Correction, references: References
) -> tuple[LightSeen, LightSeen] | None:
    """The light at the card, and at a second card or a pointed-at grey; None without one."""
    other = _other_card(photo, card, correction) or _pointed_at(photo, correction, references)
    if other is None:
        return None
    return _on_card(photo, card.sighting, card.patches, (card.known, correction)), other


def _other_card(photo: Photo, card: CardInShot, correction: Correction) -> LightSeen | None:
    for sighting in card.others:
        patches = measure_patches(photo, sighting)
        if patches.usable.sum() >= FEWEST_PATCHES_OF_SECOND:
            return _on_card(photo, sighting, patches, (card.known, correction))
    return None


def _on_card(
    photo: Photo, sighting: CardSighting, patches: PatchColours, read_by: tuple[KnownCard, Correction]
) -> LightSeen:
    known, correction = read_by
    serving = np.flatnonzero(patches.usable & (patches.trust == 1))
    seen = np.array([_mean_xyz(photo, correction, sighting.patch_quads_px[patch]) for patch in serving])
    return light_seen(sighting.patch_centres_px[serving], seen.reshape(-1, 3), known.edition.xyz_d65[serving])


def _pointed_at(photo: Photo, correction: Correction, references: References) -> LightSeen | None:
    """The light at a grey card that was pointed at; of a neutral thing only the colour of the light is known."""
    grey, neutral = references.grey_card, references.neutral
    point = grey.at if grey is not None else neutral
    if point is None:
        return None
    seen = _mean_xyz(photo, correction, _square(point))
    reflectance = grey.reflectance if grey is not None else float(seen[1])
    place = np.array([[point.x_px, point.y_px]])
    return light_seen(place, seen[None], (WHITE_D65_XYZ * reflectance)[None])


def _square(point: NeutralPoint) -> FloatArray:
    corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]) * point.radius_px * 0.7
    return np.asarray(corners + np.array([point.x_px, point.y_px]), dtype=np.float64)


def _mean_xyz(photo: Photo, correction: Correction, quad_px: FloatArray) -> FloatArray:
    """Mean corrected colour inside a quadrilateral. shape (3,)."""
    left, top = np.floor(quad_px.min(axis=0)).astype(int)
    right, bottom = np.ceil(quad_px.max(axis=0)).astype(int) + 1
    box = Box(max(int(top), 0), max(int(left), 0), min(int(bottom), photo.height_px), min(int(right), photo.width_px))
    inside = np.zeros((box.height_px, box.width_px), dtype=np.uint8)
    cv2.fillConvexPoly(inside, np.rint((quad_px - [box.left, box.top]) * 16).astype(np.int32), 1, shift=4)
    mean: FloatArray = correction.xyz_d65(photo, box, 1)[inside > 0].astype(np.float64).mean(axis=0)
    return mean


def _between(
    photo: Photo,
    read_by: tuple[Correction, ChosenCorrection],
    second: tuple[LightSeen, LightSeen],
    said: tuple[tuple[Finding, ...], tuple[Step, ...]],
) -> Refined:
    """The correction with the light taken out between two references, where it differs in colour."""
    here, there = second
    correction, chosen = read_by
    change = change_between(here, there)
    if colour_change(change) < ONE_LAMP_LOG:
        return Refined(correction, chosen, False, *said)
    light = illumination_between(here, there, photo)
    covariance, de2000 = left_open(change)
    local = LocalCorrection(correction, light, covariance, de2000, "light followed between two references")
    step = Step("follow_light", 1, {}, {"colour_change": colour_change(change)})
    return Refined(local, chosen, True, (*said[0], _two_lamps_followed(change)), (*said[1], step))


def _sheet_used(light: Illumination, photo: Photo) -> Finding:
    ratio = light.largest_ratio(photo.height_px)
    message = f"The light was evened by the white sheet: it changes by {ratio:.1f} times over the frame."
    return Finding(
        "light_evened", Severity.NOTE, message, "Nothing to do: keep the camera and the lamp where they are."
    )


def _two_lamps_followed(change: FloatArray) -> Finding:
    message = (
        f"Two lamps of different colour light this photo (their colours are {100 * colour_change(change):.0f} % apart "
        "between the two references); the colours were followed from one reference to the other."
    )
    return Finding(
        "mixed_light", Severity.CARE, message, "Switch off one kind of lamp, or close the blind, for a tighter reading."
    )
