"""Capture checks: what is wrong with a photograph, in a sentence with its figure, and what to do."""

from calibration.cards.sighting import CardSighting, PatchColours
from calibration.findings import Finding, Severity

MIN_USABLE_PATCHES = 14
MIN_PATCH_PX = 5.0


def judge_card(sighting: CardSighting, patches: PatchColours) -> tuple[Finding, ...]:
    """Findings about the card and its patches."""
    findings = []
    if sighting.mirrored:
        findings.append(
            Finding(
                "mirrored",
                Severity.CARE,
                "The photo is a mirror image: left and right are swapped.",
                "Use the rear camera, or swap left and right when you name the zones.",
                "card",
            )
        )
    if patches.usable.sum() < MIN_USABLE_PATCHES:
        findings.append(
            Finding(
                "card_covered",
                Severity.RETAKE,
                f"Only {int(patches.usable.sum())} of 24 card patches can be used.",
                "Lay the whole card in view and take the photo again.",
                "card",
            )
        )
    return tuple(findings)


def no_card() -> Finding:
    """The finding for a photograph in which no card was seen."""
    return Finding(
        "no_card",
        Severity.RETAKE,
        "No 24-patch card was found in this photo.",
        "Lay the card flat beside the hair, facing the camera, and take the photo again.",
    )
