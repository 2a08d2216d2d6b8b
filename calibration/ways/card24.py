"""The way by the 24-patch card."""

import numpy as np

from calibration.cards.patches import measure_patches
from calibration.cards.sighting import CardSighting, PatchColours
from calibration.corrected import CorrectedPhoto, Correction
from calibration.correcting.choosing import ChosenCorrection, choose_correction
from calibration.correcting.illumination import card_de2000
from calibration.correcting.known_card import KnownCard
from calibration.correcting.linear_file import linear_light
from calibration.correcting.shading import CardShading, measure_shading
from calibration.correcting.two_lamps import drift_seen, widened_by_drift
from calibration.findings import Finding, verdict_from
from calibration.judging import CardReading, judge_card
from calibration.photo import Photo, Step
from calibration.references import References
from calibration.ways.outcome import settled, uncorrected
from calibration.ways.refining import CardInShot, Refined, refined


def corrected_by_card24(photo: Photo, sightings: tuple[CardSighting, ...], references: References) -> CorrectedPhoto:
    """The photograph corrected by the first of these cards; the others tell whether the light changes."""
    sighting = sightings[0]
    patches, chosen, refusals = settled(
        measure_patches(photo, sighting), lambda patches: choose_correction(patches, photo.encoding)
    )
    if chosen is None:
        findings = (*refusals, *judge_card(photo, CardReading(sighting, patches, len(sightings), None, None)))
        return uncorrected(photo, findings, sighting, patches)
    card = CardInShot(sighting, patches, known_24(chosen), chosen, sightings[1:])
    better = refined(photo, card, references)
    shading = card_shading(patches, better.chosen)
    judged = judge_card(photo, CardReading(sighting, patches, len(sightings), better.chosen, shading))
    correction = better.correction if better.even else widened_by_drift(better.correction, shading.chroma_slope)
    findings = (
        *better.findings,
        *_still_true(judged, better),
        *_drift(judged, better, shading),
        *_linear(photo, correction),
    )
    verdict = verdict_from((*photo.findings, *findings))
    steps = (*photo.steps, _step(better.chosen, patches), *better.steps)
    return CorrectedPhoto(photo, correction, verdict, sighting, patches, steps)


def known_24(chosen: ChosenCorrection) -> KnownCard:
    """The 24-patch card in the edition that was chosen."""
    return chosen.card


def card_shading(patches: PatchColours, chosen: ChosenCorrection) -> CardShading:
    """How the light changes across the card, beside what is known of it already."""
    usable = patches.usable[:, None]
    light = np.where(usable, patches.linear_rgb, 0.2 * chosen.reference_light) / chosen.reference_light
    return measure_shading(light, chosen.card.serving_weights(patches), chosen.edition)


def _still_true(judged: tuple[Finding, ...], better: Refined) -> tuple[Finding, ...]:
    """Findings about the card without those that what stands beside it has taken care of."""
    followed = {finding.code for finding in better.findings}
    return tuple(finding for finding in judged if finding.code != "mixed_light" or "mixed_light" not in followed)


def _drift(judged: tuple[Finding, ...], better: Refined, shading: CardShading) -> tuple[Finding, ...]:
    """The word on light that changes colour, where nothing graver was said of it."""
    said = any(finding.code == "mixed_light" for finding in (*judged, *better.findings))
    drift = None if better.even or said else drift_seen(shading.chroma_slope)
    return () if drift is None else (drift,)


def _linear(photo: Photo, correction: Correction) -> tuple[Finding, ...]:
    return (linear_light(card_de2000(correction)),) if photo.encoding.linear else ()


def _step(chosen: ChosenCorrection, patches: PatchColours) -> Step:
    correction: Correction = chosen.correction
    settings = {"method": correction.method, "edition": chosen.edition.name, "patches": int(patches.usable.sum())}
    return Step("correct_by_card", 1, settings, {"held_out_de2000": correction.held_out_de2000})
