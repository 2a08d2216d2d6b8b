"""Capture checks on a photograph with the printed card: what is wrong, with its figure, and what to do."""

from dataclasses import dataclass

from calibration.cards.measured_card import MeasuredCard
from calibration.cards.printed_card import PrintedSearch, PrintedSighting, patch_pitch_px
from calibration.cards.printed_layout import printed_layout
from calibration.cards.printed_paper import PaperLight
from calibration.cards.sighting import CardSighting, PatchColours
from calibration.correcting.choosing import ChosenCorrection
from calibration.findings import Finding, Severity
from calibration.thresholds import thresholds

COLUMNS_140, WHITES_140 = 14, 17  # the card has about 17 whites on its rim: that many clipped count as one grey
HIDDEN = ("covered", "uneven", "cut_off")
SHORTEST_BETTER_PX = 20.0  # side of a marker in a photo where the discs are just large enough


@dataclass(frozen=True, eq=False)
class PrintReading:
    """All that is known of the printed card in one photograph. chosen, light : None where they can't be told."""

    seen: PrintedSighting
    patches: PatchColours
    light: PaperLight | None
    chosen: ChosenCorrection | None


def judge_print(reading: PrintReading) -> tuple[Finding, ...]:
    """Every finding about a photograph in which the printed card was found."""
    found = (
        _exposure(reading.patches),
        _darkness(reading.light),
        _size(reading.seen),
        _hidden(reading.patches),
        _glare(reading.patches),
        *_light(reading.light),
        _match(reading.chosen),
        _mirror(reading.seen.sighting),
    )
    return tuple(finding for finding in found if finding is not None)


def judge_no_print(search: PrintedSearch) -> tuple[Finding, ...]:
    """Why the printed card can't serve, where only some of its markers were seen."""
    if search.part is None:
        return ()
    if search.part_side_px < SHORTEST_BETTER_PX:
        message = (
            f"The printed card is too small in the photo: its corner markers are {search.part_side_px:.0f} pixels wide."
        )
        remedy = "Move closer, or send the photo in its full size."
        return (Finding("too_small", Severity.RETAKE, message, remedy, "card"),)
    message = f"Only {search.part[1]} of the printed card's 4 corner markers are seen; 3 are needed, on a flat card."
    remedy = "Lay the whole card flat in view, with nothing on it, and take the photo again."
    return (Finding("card_covered", Severity.RETAKE, message, remedy, "card"),)


def other_sheet(seen: PrintedSighting, card: MeasuredCard) -> Finding:
    """The finding where the print in the photograph is not the one that was measured."""
    message = (
        f"The printed card in the photo is the {seen.sheet.key} one; the measured values are of the {card.sheet.key}."
    )
    return Finding(
        "other_card", Severity.RETAKE, message, "Use the print that was measured, or measure this one.", "card"
    )


def not_measured(seen: PrintedSighting) -> Finding:
    """The finding for a printed card whose values are not known."""
    message = f"There is a printed card ({seen.sheet.key}) in the photo, but no measured values of it were given."
    remedy = "Measure the print once with `tressmeter card measure`, and name the file with --card."
    return Finding("other_card", Severity.RETAKE, message, remedy, "card")


def _weighed(code: str, value: float, message: str, remedy: str) -> Finding | None:
    threshold = thresholds()[code]
    severity = threshold.severity(value)
    return None if severity is None else Finding(code, severity, message, remedy, "card", threshold.source)


def _exposure(patches: PatchColours) -> Finding | None:
    over = 0
    for patch in printed_layout().greys:
        if patches.why_not[patch] != "clipped":
            break
        over += 1
    remedy = "Lower the exposure until the card's paper is light grey on the screen, and take the photo again."
    return _weighed(
        "overexposed", over, f"Too much light: the {over} lightest greys of the card are out of range.", remedy
    )


def _darkness(light: PaperLight | None) -> Finding | None:
    if light is None:
        return None
    share = float(light.linear_rgb.max())
    message = f"Too little light: the card's paper reaches {100 * share:.0f} % of the range."
    return _weighed("underexposed", share, message, "Add light or raise the exposure, and take the photo again.")


def _size(seen: PrintedSighting) -> Finding | None:
    pitch, least = patch_pitch_px(seen), thresholds()["too_small"].retake
    message = f"The card is small in the photo: {pitch:.0f} pixels for each patch; {least:.0f} are the least."
    return _weighed("too_small", pitch, message, "Move closer, or send the photo in its full size.")


def _hidden(patches: PatchColours) -> Finding | None:
    names = _names(patches, HIDDEN)
    message = f"{len(names)} of {len(patches.why_not)} patches of the card are covered or cut off: {', '.join(names)}."
    return _weighed("card_covered", len(names), message, "Lay the whole card in view, with nothing on it.")


def _glare(patches: PatchColours) -> Finding | None:
    names = _names(patches, ("glare",))
    message = f"The card shines on {len(names)} of its patches: {', '.join(names)}."
    return _weighed("glare", len(names), message, "Tilt the card or move the lamp until nothing is mirrored in it.")


def _names(patches: PatchColours, why: tuple[str, ...]) -> list[str]:
    return [name for name, code in zip(printed_layout().patch_names, patches.why_not, strict=True) if code in why]


def _light(light: PaperLight | None) -> tuple[Finding | None, ...]:
    if light is None:
        return ()
    uneven = _weighed(
        "gradient",
        light.edge_ratio,
        f"The light is uneven: one edge of the card gets {light.edge_ratio:.1f} times the light of the other.",
        "Turn to face the light, or use two lamps, so that card and hair are lit alike.",
    )
    mixed = _weighed(
        "mixed_light",
        light.chroma_drift,
        f"The light changes colour across the card, by {light.chroma_drift:.0f} units.",
        "Switch off one kind of lamp, or close the blind: use one kind of light only.",
    )
    return uneven, mixed


def _match(chosen: ChosenCorrection | None) -> Finding | None:
    if chosen is None:
        return None
    error = chosen.correction.held_out_de2000
    message = f"The card's colours do not come out well: {error:.1f} ΔE2000 on average."
    return _weighed(
        "poor_match",
        error,
        message,
        "Check that the card is clean, not faded, and the one measured.",
    )


def _mirror(sighting: CardSighting) -> Finding | None:
    if not sighting.mirrored:
        return None
    return Finding(
        "mirrored",
        Severity.CARE,
        "The photo is a mirror image: left and right are swapped.",
        "Use the rear camera, or swap left and right when you name the zones.",
        "card",
    )


def judge_140(sighting: CardSighting, patches: PatchColours, chosen: ChosenCorrection | None) -> tuple[Finding, ...]:
    """Every finding about a photograph with the 140-patch card. Its light is judged by the fit alone."""
    hidden = [number + 1 for number, why in enumerate(patches.why_not) if why in HIDDEN]
    over = sum(why == "clipped" for why in patches.why_not)
    pitch, least = sighting.width_px / COLUMNS_140, thresholds()["too_small"].retake
    found = (
        _weighed("overexposed", over / WHITES_140, f"Too much light: {over} of 140 patches are out of range.",
                 "Lower the exposure and take the photo again."),
        _weighed("card_covered", len(hidden), f"{len(hidden)} of 140 patches of the card are covered or cut off.",
                 "Lay the whole card in view, with nothing on it."),
        _weighed("too_small", pitch,
                 f"The card is small in the photo: {pitch:.0f} pixels for each patch; {least:.0f} are the least.",
                 "Move closer, or send the photo in its full size."),
        _match(chosen),
        _mirror(sighting),
    )  # fmt: skip
    return tuple(finding for finding in found if finding is not None)


def any_retake(findings: tuple[Finding, ...]) -> Finding | None:
    """The first finding that asks for a new photograph, or None."""
    return next((finding for finding in findings if finding.severity is Severity.RETAKE), None)
