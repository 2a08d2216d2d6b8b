"""Capture checks: what is wrong with a photograph, in a sentence with its figure, and what to do."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.finding import CardSearch
from calibration.cards.layouts import GREY_ROW
from calibration.cards.patches import measure_patches
from calibration.cards.sharpness import card_edge_width_px, photo_blurred
from calibration.cards.sighting import CardSighting, PatchColours
from calibration.correcting.choosing import ChosenCorrection
from calibration.correcting.shading import CardShading
from calibration.findings import Finding, Severity
from calibration.photo import FloatArray, Photo
from calibration.thresholds import thresholds
from calibration.transfer import CLIPPED_SHARE_OF_RANGE

HIDDEN = ("covered", "uneven", "cut_off")
SMALLEST_BLUR_PX = 6.0
# Without a card the whole frame speaks: this share of it out of range, or its brightest hundredth this dark.
FRAME_CLIPPED_SHARE = 0.35
FRAME_DARK = 0.10
MANY_CLIPPED = 10
# A card over a third of the frame would have 12 pixels a patch in a photo of this size.
SMALLEST_PHOTO_PX = 240


@dataclass(frozen=True, eq=False)
class CardReading:
    """All that is known of the card in one photograph, for judging.

    cards : How many cards were seen. chosen, shading : None where the patches allow no correction.
    """

    sighting: CardSighting
    patches: PatchColours
    cards: int
    chosen: ChosenCorrection | None
    shading: CardShading | None


def judge_card(photo: Photo, card: CardReading) -> tuple[Finding, ...]:
    """Every finding about a photograph in which a card was found."""
    found = [
        _exposure(photo, card),
        _darkness(card.patches),
        _sharpness(photo, card.sighting),
        _size(card.sighting),
        _hidden(card.patches),
        _glare(card.patches),
        *_light(card.shading),
        _match(card.chosen),
        _mirrored(card.sighting),
        _two_cards(card.cards),
    ]
    return tuple(finding for finding in found if finding is not None)


def judge_no_card(photo: Photo, search: CardSearch) -> tuple[Finding, ...]:
    """Why no correction can be made: findings about a photograph without a whole card."""
    frame = _frame_faults(photo)
    if search.other is not None:
        return (*frame, _other_card())
    if search.part is not None:
        return (*frame, *_part(photo, search.part))
    return (*frame, no_card())


def no_card() -> Finding:
    """The finding for a photograph in which no card was seen."""
    return Finding(
        "no_card",
        Severity.RETAKE,
        "No 24-patch card was found in this photo.",
        "Lay the card flat beside the hair, whole and facing the camera, and take the photo again.",
    )


def neutral_only() -> Finding:
    """The finding for a photograph whose colours lean on one neutral thing."""
    return Finding(
        "neutral_only",
        Severity.CARE,
        "No card was found; the colours lean on one neutral thing, so they are far less sure.",
        "Put a 24-patch card beside the hair for a reading that can be relied on.",
    )


def _weighed(code: str, value: float, message: str, remedy: str, where: str = "card") -> Finding | None:
    threshold = thresholds()[code]
    severity = threshold.severity(value)
    return None if severity is None else Finding(code, severity, message, remedy, where, threshold.source)


def _exposure(photo: Photo, card: CardReading) -> Finding | None:
    """Greys that have run out of range, counted from the white one down."""
    over = 0
    for patch in GREY_ROW:
        if card.patches.why_not[patch] != "clipped":
            break
        over += 1
    clipped = sum(why == "clipped" for why in card.patches.why_not)
    return _weighed(
        "overexposed",
        over,
        f"Too much light: {clipped} of 24 patches of the card are out of range, the {over} lightest greys among them.",
        "Lower the exposure until the white patch is light grey on the screen, and take the photo again.",
    )


def _darkness(patches: PatchColours) -> Finding | None:
    white = _white_light(patches)
    if white is None:
        return None
    return _weighed(
        "underexposed",
        white,
        f"Too little light: the card's white patch reaches {100 * white:.0f} % of the range.",
        "Add light or raise the exposure, and take the photo again.",
    )


def _white_light(patches: PatchColours) -> float | None:
    """Light of the card's white patch, brightest channel; None where it can't be told."""
    light = float(patches.linear_rgb[GREY_ROW[0]].max())
    return light if np.isfinite(light) and patches.why_not[GREY_ROW[0]] in ("", "clipped") else None


def _sharpness(photo: Photo, sighting: CardSighting) -> Finding | None:
    width_px = card_edge_width_px(photo, sighting)
    if width_px < SMALLEST_BLUR_PX:
        return None
    return _weighed(
        "motion_blur",
        1000 * width_px / max(photo.width_px, photo.height_px),
        f"The photo is blurred: the card's edges are {width_px:.0f} pixels wide.",
        "Rest the phone on something, wait for it to focus, and take the photo again.",
        "photo",
    )


def _size(sighting: CardSighting) -> Finding | None:
    pitch = patch_pitch_px(sighting)
    return _weighed(
        "too_small",
        pitch,
        f"The card is small in the photo: {pitch:.0f} pixels for each patch; {thresholds()['too_small'].retake:.0f} "
        "are the least.",
        "Move closer, or send the photo in its full size.",
    )


def patch_pitch_px(sighting: CardSighting) -> float:
    """Distance between neighbouring patches, the shorter of across and along."""
    centres = sighting.patch_centres_px.reshape(4, 6, 2)
    return min(float(np.median(np.linalg.norm(np.diff(centres, axis=axis), axis=-1))) for axis in (0, 1))


def _hidden(patches: PatchColours) -> Finding | None:
    numbers = [str(place + 1) for place, why in enumerate(patches.why_not) if why in HIDDEN]
    return _weighed(
        "card_covered",
        len(numbers),
        f"{len(numbers)} of 24 patches of the card are covered or cut off: {', '.join(numbers)}.",
        "Lay the whole card in view, with nothing on it, and take the photo again.",
    )


def _glare(patches: PatchColours) -> Finding | None:
    numbers = [str(place + 1) for place, why in enumerate(patches.why_not) if why == "glare"]
    return _weighed(
        "glare",
        len(numbers),
        f"The card shines on {len(numbers)} of its patches: {', '.join(numbers)}.",
        "Tilt the card or move the lamp until nothing is mirrored in it.",
    )


def _light(shading: CardShading | None) -> tuple[Finding | None, ...]:
    if shading is None:
        return ()
    uneven = _weighed(
        "gradient",
        shading.largest_ratio,
        f"The light is uneven: one edge of the card gets {shading.largest_ratio:.1f} times the light of the other.",
        "Turn to face the light, or use two lamps, so that card and hair are lit alike.",
    )
    mixed = _weighed(
        "mixed_light",
        shading.chroma_drift,
        f"The light changes colour across the card, by {shading.chroma_drift:.0f} units.",
        "Switch off one kind of lamp, or close the blind: use one kind of light only.",
    )
    return uneven, mixed


def _match(chosen: ChosenCorrection | None) -> Finding | None:
    if chosen is None:
        return None
    error = chosen.correction.held_out_de2000
    return _weighed(
        "poor_match",
        error,
        f"The card's colours do not come out well: {error:.1f} ΔE2000 on average.",
        "Check that the card is a clean original, not a print, and that one even light falls on it.",
    )


def _mirrored(sighting: CardSighting) -> Finding | None:
    if not sighting.mirrored:
        return None
    return Finding(
        "mirrored",
        Severity.CARE,
        "The photo is a mirror image: left and right are swapped.",
        "Use the rear camera, or swap left and right when you name the zones.",
        "card",
    )


def _two_cards(cards: int) -> Finding | None:
    if cards < 2:
        return None
    return Finding(
        "two_cards",
        Severity.NOTE,
        f"{cards} cards are in the photo; the larger one is used.",
        "One card is enough: keep the one beside the hair.",
        "card",
    )


def _other_card() -> Finding:
    return Finding(
        "other_card",
        Severity.RETAKE,
        "There is a colour card in the photo, but its patches are not those of the 24-patch card this program knows.",
        "Use the classic 24-patch card, whose lowest row runs from white to black.",
        "card",
    )


def _part(photo: Photo, part: CardSighting) -> tuple[Finding, ...]:
    """Findings about a card of which too little can be used."""
    patches = measure_patches(photo, part)
    clipped = sum(why == "clipped" for why in patches.why_not)
    hidden = sum(why in HIDDEN for why in patches.why_not)
    if clipped >= MANY_CLIPPED and clipped > hidden:
        message = f"Too much light: {clipped} of 24 patches of the card are out of range."
        remedy = "Lower the exposure until the white patch is light grey on the screen, and take the photo again."
        return (Finding("overexposed", Severity.RETAKE, message, remedy, "card"),)
    message = f"Only part of a 24-patch card is seen: {hidden} of its patches are covered or cut off."
    remedy = "Lay the whole card in view, with nothing on it, and take the photo again."
    covered = Finding("card_covered", Severity.RETAKE, message, remedy, "card")
    size = _size(part)
    return (covered,) if size is None else (covered, size)


def _frame_faults(photo: Photo) -> tuple[Finding, ...]:
    """What the whole frame says where no card does."""
    codes = photo.encoded_rgb[:: max(1, photo.height_px // 400)]
    top = np.iinfo(codes.dtype).max
    brightest: FloatArray = codes.max(axis=-1).astype(np.float64)
    found = []
    if (brightest >= CLIPPED_SHARE_OF_RANGE * top).mean() > FRAME_CLIPPED_SHARE:
        message = "Too much light: more than a third of the photo is out of range."
        found.append(Finding("overexposed", Severity.RETAKE, message, "Lower the exposure and take the photo again."))
    dark_code = np.searchsorted(photo.encoding.tables.max(axis=0), FRAME_DARK)
    if float(np.percentile(brightest, 99)) < dark_code:
        message = f"Too little light: nothing in the photo reaches {100 * FRAME_DARK:.0f} % of the range."
        found.append(Finding("underexposed", Severity.RETAKE, message, "Add light and take the photo again."))
    if max(photo.width_px, photo.height_px) < SMALLEST_PHOTO_PX:
        message = f"The photo is only {photo.width_px} by {photo.height_px} pixels: no card can be read in it."
        found.append(Finding("too_small", Severity.RETAKE, message, "Send the photo in its full size."))
    elif photo_blurred(photo):
        message = "The photo is blurred: even its strongest edges are smeared."
        remedy = "Rest the phone on something, wait for it to focus, and take the photo again."
        found.append(Finding("motion_blur", Severity.RETAKE, message, remedy))
    return tuple(found)
