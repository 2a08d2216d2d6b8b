"""The way by the 140-patch card."""

from calibration.cards.patches import measure_patches
from calibration.cards.sighting import CardSighting
from calibration.corrected import CorrectedPhoto
from calibration.correcting.choosing import choose_correction
from calibration.correcting.known_card import cards_140
from calibration.errors import CorrectionError
from calibration.findings import verdict_from
from calibration.judging_print import judge_140
from calibration.photo import Photo, Step
from calibration.references import References
from calibration.ways.outcome import uncorrected
from calibration.ways.refining import CardInShot, refined


def corrected_by_card140(photo: Photo, sighting: CardSighting, references: References) -> CorrectedPhoto:
    """The photograph corrected by the 140-patch card, in the edition that fits it better."""
    patches = measure_patches(photo, sighting)
    try:
        chosen = choose_correction(patches, photo.encoding, cards_140())
    except CorrectionError as refusal:
        return uncorrected(photo, (refusal.finding, *judge_140(sighting, patches, None)), sighting, patches)
    better = refined(photo, CardInShot(sighting, patches, chosen.card, chosen), references)
    correction = better.chosen.correction
    settings = {"method": correction.method, "edition": chosen.edition.name, "patches": int(patches.usable.sum())}
    step = Step("correct_by_card", 1, settings, {"held_out_de2000": correction.held_out_de2000})
    verdict = verdict_from((*photo.findings, *better.findings, *judge_140(sighting, patches, better.chosen)))
    return CorrectedPhoto(photo, better.correction, verdict, sighting, patches, (*photo.steps, step, *better.steps))
