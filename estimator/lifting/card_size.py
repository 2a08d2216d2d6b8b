"""Millimetres in a photograph, from a card of known size lying in the plane of the hair."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.sighting import CardSighting
from estimator.errors import BadInputError
from estimator.lifting.figures import lifting_table


@dataclass(frozen=True)
class PhotoScale:
    """Pixels for a millimetre, with the nine-in-ten interval: tilt, and what is not known of the card's size."""

    px_per_mm: float
    px_per_mm_low: float
    px_per_mm_high: float
    basis: str

    def __post_init__(self) -> None:
        if not 0 < self.px_per_mm_low <= self.px_per_mm <= self.px_per_mm_high < 10_000:
            raise BadInputError("The scale of the photo is no usable number of pixels for a millimetre.")

    def mm(self, pixels: float) -> tuple[float, float, float]:
        """A distance in the photo: low, middle, high. [mm]"""
        return pixels / self.px_per_mm_high, pixels / self.px_per_mm, pixels / self.px_per_mm_low


def scale_of_card(sighting: CardSighting, size: str = "large") -> PhotoScale:
    """The scale that a 24-patch card gives; a name of `size` stands in tables/lines.toml. Raises BadInputError.

    The card must lie in the plane of the hair: nearer or further it gives too large or too small a scale.
    """
    rows = {row["size"]: row for row in lifting_table("lines")["card"]}
    if size not in rows or len(sighting.patch_centres_px) != 24:
        raise BadInputError(
            f"No size is known of this card; known are: {', '.join(rows)}. Measure its patches instead."
        )
    row = rows[size]
    return _scale(sighting, row["pitch_mm"], row["pitch_low_mm"], row["pitch_high_mm"], "a card of the large size")


def scale_of_measured_card(sighting: CardSighting, pitch_mm: float) -> PhotoScale:
    """The scale of a card whose patches were measured, middle to middle. [mm], 5-100. Raises BadInputError."""
    if not 5 <= pitch_mm <= 100 or len(sighting.patch_centres_px) != 24:
        raise BadInputError(f"Patches {pitch_mm:g} mm apart were given; 5 to 100 mm between their middles can be.")
    return _scale(sighting, pitch_mm, pitch_mm - 0.5, pitch_mm + 0.5, "a card that was measured")


def _scale(sighting: CardSighting, pitch_mm: float, low_mm: float, high_mm: float, card: str) -> PhotoScale:
    centres = sighting.patch_centres_px.reshape(4, 6, 2)
    along, across = (float(np.median(np.linalg.norm(np.diff(centres, axis=axis), axis=-1))) for axis in (1, 0))
    # A tilted card is short in one direction only: the longer pitch is the truer one.
    pitch_px = max(along, across)
    shortest = min(along, across)
    return PhotoScale(pitch_px / pitch_mm, shortest / high_mm, pitch_px / low_mm, f"The scale comes from {card}.")
