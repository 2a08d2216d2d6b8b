"""Cards whose colours are known: the 24-patch card, the 140-patch card, a print that was measured."""

from dataclasses import dataclass, field

import numpy as np

from calibration.cards.classic140 import classic140_editions, classic140_greys, classic140_near_hair, places_140
from calibration.cards.layouts import GREY_ROW, Edition, classic24_editions, grid_places
from calibration.cards.measured_card import MeasuredCard
from calibration.cards.printed_layout import printed_layout
from calibration.cards.sighting import PatchColours
from calibration.correcting.metric import local_metric
from calibration.errors import CorrectionError
from calibration.findings import Finding, Severity
from calibration.photo import FloatArray

HAIR_LAB = np.array([[45.0, 10.0, 16.0]])  # a middle brown: where a shared error is put into ΔE2000
# Hair is grey to brown: those patches count double. Patches 1, 2 and 21 to 24, counted from 0.
NEAR_HAIR = (0, 1, 20, 21, 22, 23)
NEAR_HAIR_WEIGHT = 2.0
FEWEST_PATCHES = 8
FEWEST_GREYS = 2


@dataclass(frozen=True, eq=False)
class KnownCard:
    """A card whose colours are known.

    greys : Numbers of its grey patches, from 0, the lightest first. near_hair : Of those that lie where hair lies.
    shared_covariance : Of the error that all its values share, in CIELAB. shape (3, 3).
    places : Where its patches lie, in halves of its width from its middle. shape (patches, 2), or (0, 2) if no plane
        of light may be fitted to them.
    """

    edition: Edition
    greys: tuple[int, ...]
    near_hair: tuple[int, ...]
    shared_covariance: FloatArray
    places: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))

    def serving_weights(self, patches: PatchColours) -> FloatArray:
        """How much each patch counts; 0 for one that may not serve. shape (patches,)."""
        weights = np.where(patches.usable, patches.trust, 0.0)
        weights[list(self.near_hair)] *= NEAR_HAIR_WEIGHT
        return weights

    def reference_light(self, patches: PatchColours) -> float:
        """Light that stands for white: of the lightest grey that serves, by its share of white."""
        serving = [patch for patch in self.greys if patches.usable[patch]]
        lightest = max(serving, key=lambda patch: self.edition.xyz_d65[patch, 1])
        return float(patches.linear_rgb[lightest].max() / max(self.edition.xyz_d65[lightest, 1], 0.01))

    def enough(self, patches: PatchColours) -> None:
        """Nothing, if the card can serve.

        Raises
        ------
        CorrectionError : Too few patches, or too few greys, can serve.
        """
        grey = int(patches.usable[list(self.greys)].sum())
        if patches.usable.sum() >= FEWEST_PATCHES and grey >= FEWEST_GREYS:
            return
        count = len(patches.usable)
        message = f"Only {int(patches.usable.sum())} of {count} card patches can be used, {grey} of them grey."
        remedy = "Lay the whole card in view, evenly lit, and take the photo again."
        raise CorrectionError(Finding("card_unusable", Severity.RETAKE, message, remedy, "card"))


def cards_24() -> tuple[KnownCard, ...]:
    """The 24-patch card's editions with their maker's values, older first."""
    places = _in_half_widths(grid_places())
    return tuple(KnownCard(edition, GREY_ROW, NEAR_HAIR, np.zeros((3, 3)), places) for edition in classic24_editions())


def cards_140() -> tuple[KnownCard, ...]:
    """The 140-patch card's editions with their maker's values, older first."""
    greys, near_hair = classic140_greys(), classic140_near_hair()
    places = _in_half_widths(places_140())
    return tuple(KnownCard(edition, greys, near_hair, np.zeros((3, 3)), places) for edition in classic140_editions())


def measured_print(card: MeasuredCard) -> KnownCard:
    """A print with the colours that were measured on it."""
    layout = printed_layout()
    edition = Edition(layout.name, card.xyz_d65, card.lab_d65.copy())
    places = _in_half_widths(layout.places_mm)
    return KnownCard(edition, layout.greys, layout.near_hair, card.shared_covariance, places)


def shared_de2000(shared_covariance: FloatArray) -> float:
    """The error that all values of a card share, in ΔE2000 at a middle brown: its root mean square."""
    metric = local_metric(HAIR_LAB)[0]
    return float(np.sqrt(np.trace(metric @ shared_covariance @ metric.T)))


def _in_half_widths(places: FloatArray) -> FloatArray:
    middle = (places.max(axis=0) + places.min(axis=0)) / 2
    centred: FloatArray = (places - middle) / (np.ptp(places[:, 0]) / 2)
    return centred
