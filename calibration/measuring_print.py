"""A print of the printed card, measured in one photograph of it beside the 24-patch card."""

from dataclasses import replace

import cv2
import numpy as np

from calibration.cards.layouts import CLASSIC24
from calibration.cards.measured_card import CardFileError, MeasuredCard, check_words
from calibration.cards.patches import measure_patches
from calibration.cards.printed_card import PrintedSighting, search_printed_card
from calibration.cards.printed_layout import printed_layout
from calibration.cards.printed_paper import PaperLight, gap_light, paper_light
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import lab_jacobian, xyz_to_lab
from calibration.corrected import CorrectedPhoto
from calibration.findings import Finding, Severity
from calibration.judging_print import PrintReading, any_retake, judge_no_print, judge_print
from calibration.opening import open_photo
from calibration.photo import Box, FloatArray
from calibration.pipeline import correct_photo

# Light may differ between the two cards by this share although the paper shows nothing. [our assumption]
UNSEEN_LIGHT_SD = 0.02
# Of a change of light between the cards that the paper foretells, this share is left in doubt. [our assumption]
FORETOLD_IN_DOUBT = 0.5
# Neighbouring pixels share noise: about this many count as one.
TIED_PIXELS = 8.0


def measure_print(photo_bytes: bytes, day: str, printer: str) -> MeasuredCard:
    """A print's colours, learned from one photograph of it beside the 24-patch card.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph.
    CardFileError : One of the cards is missing or not whole, or the photograph must be taken again.
    """
    check_words(day, printer)
    corrected = correct_photo(open_photo(photo_bytes))
    _reference_must_serve(corrected)
    photo = corrected.photo
    search = search_printed_card(photo)
    if search.found is None:
        raise _refused(
            judge_no_print(search)[0] if search.part else _no_print(), "A print can't be measured from this photo. "
        )
    seen = search.found
    light = paper_light(gap_light(photo, seen.to_photo))
    patches = measure_patches(photo, seen.sighting)
    wrong = any_retake(judge_print(PrintReading(seen, patches, light, None)))
    if wrong is not None:
        raise _refused(wrong, "A print can't be measured from this photo. ")
    bad = [name for name, why in zip(printed_layout().patch_names, patches.why_not, strict=True) if why]
    if bad or light is None:
        raise _refused(_patches_missing(bad), "")
    return _measured(corrected, seen, (patches, light), (day, printer))


def _measured(
    corrected: CorrectedPhoto, seen: PrintedSighting, read: tuple[PatchColours, PaperLight], said: tuple[str, str]
) -> MeasuredCard:
    patches, light = read
    xyz = np.array([_mean_xyz(corrected, quad) for quad in seen.sighting.patch_quads_px])
    # Where the print's light differs from that on the reference card, its plane tells by how much, if not surely.
    away = _reference_away(corrected, seen, light)
    xyz = xyz / light.ratio(printed_layout().places_mm).mean(axis=1, keepdims=True)
    brightness_sd = float(np.hypot(UNSEEN_LIGHT_SD, FORETOLD_IN_DOUBT * away))
    lab = xyz_to_lab(xyz)
    jacobians = np.array([lab_jacobian(one) for one in xyz])
    middle = xyz[list(printed_layout().near_hair)].mean(axis=0)
    brighter = lab_jacobian(middle) @ middle * brightness_sd
    own = corrected.correction.lab_covariance()
    shared = own + np.outer(brighter, brighter)
    grain = (patches.spread_sd / np.maximum(patches.linear_rgb, 1e-3)).mean(axis=1) / np.sqrt(
        np.maximum(patches.pixels / TIED_PIXELS, 1)
    )
    noise = np.abs(np.einsum("nij,nj->ni", jacobians, xyz)) * grain[:, None]
    lab_sd = np.sqrt(np.square(noise) + np.diag(shared))
    return MeasuredCard(seen.sheet, lab, lab_sd, shared, said[0], said[1], "photograph", corrected.photo.sha256)


def _mean_xyz(corrected: CorrectedPhoto, quad_px: FloatArray) -> FloatArray:
    """Mean corrected colour inside a quadrilateral. shape (3,)."""
    left, top = np.floor(quad_px.min(axis=0)).astype(int)
    right, bottom = np.ceil(quad_px.max(axis=0)).astype(int) + 1
    box = Box(int(top), int(left), int(bottom), int(right))
    inside = np.zeros((box.height_px, box.width_px), dtype=np.uint8)
    cv2.fillConvexPoly(inside, np.rint((quad_px - [left, top]) * 16).astype(np.int32), 1, shift=4)
    mean: FloatArray = corrected.xyz_d65(box)[inside > 0].astype(np.float64).mean(axis=0)
    return mean


def _reference_away(corrected: CorrectedPhoto, seen: PrintedSighting, light: PaperLight) -> float:
    """Change of light's logarithm from the print's middle to the reference card, as the paper foretells it."""
    assert corrected.sighting is not None  # _reference_must_serve
    middle = corrected.sighting.corners_px.mean(axis=0)
    homogeneous = np.linalg.inv(seen.to_photo) @ np.array([middle[0], middle[1], 1.0])
    offset = homogeneous[:2] / homogeneous[2] - light.middle_mm
    return float(np.abs(offset @ light.log_slope.mean(axis=1)))


def _reference_must_serve(corrected: CorrectedPhoto) -> None:
    if corrected.sighting is None or corrected.sighting.layout != CLASSIC24 or not corrected.verified:
        finding = any_retake(corrected.verdict.findings)
        raise _refused(finding or _no_print(), "A print is measured beside a 24-patch card. ")
    finding = any_retake(corrected.verdict.findings)
    if finding is not None:
        raise _refused(finding, "A print can't be measured from this photo. ")


def _refused(finding: Finding, why: str) -> CardFileError:
    return CardFileError(replace(finding, message=why + finding.message))


def _no_print() -> Finding:
    return Finding(
        "no_card",
        Severity.RETAKE,
        "No printed card was found in this photo.",
        "Lay the print flat beside the 24-patch card, both whole and facing the camera, and take the photo again.",
        "card",
    )


def _patches_missing(names: list[str]) -> Finding:
    shown = ", ".join(names[:6]) or "the paper between the discs"
    return Finding(
        "card_covered",
        Severity.RETAKE,
        f"Not every patch of the print can be read: {shown}.",
        "Take the photo again in soft daylight, the whole print in view, a little darker if the paper is too bright.",
        "card",
    )
