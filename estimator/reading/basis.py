"""What a reading rests on, in three plain sentences at most: the answer to "how do you know?"."""

from calibration.corrected import CorrectedPhoto
from estimator.reading.flat_tress import SeenZone
from estimator.zones.outline import Setting


def basis_of(corrected: CorrectedPhoto, one: SeenZone, swatches: tuple[str, ...]) -> tuple[str, ...]:
    """What the colours rest on, what the hair's reading rests on, and what would make it tighter."""
    tighter = _tighter(corrected, one, swatches)
    return (_colours(corrected), _hair(one, swatches), *((tighter,) if tighter else ()))


def _colours(corrected: CorrectedPhoto) -> str:
    error = corrected.correction.held_out_de2000
    if corrected.verified:
        return f"Colours rest on the card in this photo: {error:.1f} ΔE2000 on patches that the correction did not see."
    return "No card was seen: colours rest on a weak reference, and nothing confirms them."


def _hair(one: SeenZone, swatches: tuple[str, ...]) -> str:
    pattern = one.zone.strand_pattern
    stated = f"the strand pattern you stated ({pattern})" if pattern else "an unknown strand pattern"
    place = "locks on a board" if one.zone.setting is Setting.BOARD else "hair on a head"
    seen = f"Read from {one.light.pixels} hair pixels, {stated}, and how {place} look against a flat tress"
    if swatches:
        return f"{seen}; leans on the known swatch {', '.join(swatches)}."
    return f"{seen}."


def _tighter(corrected: CorrectedPhoto, one: SeenZone, swatches: tuple[str, ...]) -> str:
    if not corrected.verified:
        return "A 24-patch card beside the hair would make it far tighter."
    if one.zone.strand_pattern is None:
        return "State the strand pattern: that alone makes it tighter."
    if one.zone.setting is Setting.HEAD:
        return "A snipped lock laid beside the card reads three times as closely as hair on the head."
    if not swatches:
        return "A second photo with the lamp elsewhere, or a swatch of known colour beside it, would make it tighter."
    return ""
