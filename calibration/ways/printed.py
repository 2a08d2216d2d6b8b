"""The way by a print of the printed card that was measured."""

from dataclasses import replace

from calibration.cards.measured_card import MeasuredCard
from calibration.cards.patches import measure_patches
from calibration.cards.printed_card import PrintedSearch, PrintedSighting
from calibration.cards.printed_layout import printed_layout
from calibration.cards.printed_paper import PaperLight, gap_light, paper_light
from calibration.cards.sighting import PatchColours
from calibration.corrected import CorrectedPhoto
from calibration.correcting.choosing import choose_correction
from calibration.correcting.known_card import measured_print
from calibration.findings import verdict_from
from calibration.judging_print import PrintReading, judge_no_print, judge_print, not_measured, other_sheet
from calibration.photo import Photo, Step
from calibration.references import References
from calibration.ways.outcome import settled, uncorrected
from calibration.ways.refining import CardInShot, refined


def measured_card_of(search: PrintedSearch, cards: tuple[MeasuredCard, ...]) -> MeasuredCard | None:
    """The measured card whose print was found, or None."""
    if search.found is None:
        return None
    key = search.found.sheet.key
    return next((card for card in cards if card.sheet.key == key), None)


def corrected_by_print(
    photo: Photo, seen: PrintedSighting, card: MeasuredCard, references: References
) -> CorrectedPhoto:
    """The photograph corrected by a print whose colours were measured."""
    light = paper_light(gap_light(photo, seen.to_photo))
    known = measured_print(card)
    patches, chosen, refusals = settled(
        _evened(measure_patches(photo, seen.sighting), light),
        lambda patches: choose_correction(patches, photo.encoding, (known,)),
    )
    if chosen is None:
        findings = (*refusals, *judge_print(PrintReading(seen, patches, light, None)))
        return uncorrected(photo, findings, seen.sighting, patches)
    better = refined(photo, CardInShot(seen.sighting, patches, known, chosen, evened=light is not None), references)
    correction = better.chosen.correction
    settings = {"method": correction.method, "card": card.sha256, "patches": int(patches.usable.sum())}
    step = Step("correct_by_print", 1, settings, {"held_out_de2000": correction.held_out_de2000})
    judged = judge_print(PrintReading(seen, patches, light, better.chosen))
    verdict = verdict_from((*photo.findings, *better.findings, *judged))
    steps = (*photo.steps, step, *better.steps)
    return CorrectedPhoto(photo, better.correction, verdict, seen.sighting, patches, steps)


def with_print_seen(usual: CorrectedPhoto, search: PrintedSearch, cards: tuple[MeasuredCard, ...]) -> CorrectedPhoto:
    """The same photograph, and why a printed card that is in it could not serve."""
    more = judge_no_print(search)
    if search.found is not None:
        more = (other_sheet(search.found, cards[0]) if cards else not_measured(search.found),)
    kept = tuple(one for one in usual.verdict.findings if not (more and one.code in ("no_card", "other_card")))
    return replace(usual, verdict=verdict_from((*kept, *more))) if more else usual


def _evened(patches: PatchColours, light: PaperLight | None) -> PatchColours:
    """The patches as the light in the card's middle would show them."""
    if light is None:
        return patches
    return replace(patches, linear_rgb=patches.linear_rgb / light.ratio(printed_layout().places_mm))
