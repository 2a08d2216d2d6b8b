"""Any card whose colours are known goes one way: 24 patches, 140, or a print."""

import numpy as np
import pytest

from calibration.cards.sighting import PatchColours
from calibration.colourspaces import SRGB_TO_XYZ_D65, delta_e_2000, xyz_to_lab
from calibration.correcting.candidates import CARD_MODELS, MODELS
from calibration.correcting.choosing import choose_correction, fit_candidates
from calibration.correcting.fitting import CardData, CardFit, fit_card, fitted_xyz
from calibration.correcting.known_card import KnownCard, cards_24, cards_140
from calibration.photo import Encoding

CODE = np.arange(256) / 255
LIGHT = np.where(CODE <= 0.04045, CODE / 12.92, ((CODE + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
SRGB = Encoding(np.stack([LIGHT.astype(np.float32)] * 3), SRGB_TO_XYZ_D65.copy(), "sRGB", True)


def shown(card: KnownCard, change: np.ndarray | float = 1.0) -> PatchColours:
    """The card as a photo in linear sRGB shows it, its light changed patch by patch."""
    rgb = np.clip(card.edition.xyz_d65 @ np.linalg.inv(SRGB_TO_XYZ_D65).T, 0.001, None) * 0.8 * change
    count = len(rgb)
    return PatchColours(rgb, 0.01 * rgb, np.full(count, 400), np.ones(count, dtype=bool), np.ones(count), ("",) * count)


@pytest.mark.slow
def test_the_edition_of_the_140_patch_card_in_the_photo_is_recognised():
    for card in cards_140():
        chosen = choose_correction(shown(card), SRGB, cards_140())
        assert chosen.edition is card.edition
        assert chosen.correction.held_out_de2000 < 1.0


def test_a_single_card_is_taken_as_it_is_and_its_shared_error_is_stated():
    plain = cards_24()[0]
    doubtful = KnownCard(plain.edition, plain.greys, plain.near_hair, np.diag([4.0, 1.0, 1.0]), plain.places)
    sure = choose_correction(shown(plain), SRGB, (plain,)).correction
    unsure = choose_correction(shown(plain), SRGB, (doubtful,)).correction
    assert unsure.held_out_de2000 > sure.held_out_de2000 + 1.0
    assert np.allclose(unsure.lab_covariance() - sure.lab_covariance(), np.diag([4.0, 1.0, 1.0]))


def test_light_that_falls_off_across_the_card_is_taken_out_and_its_middle_counts():
    card = cards_24()[0]
    slope = np.array([0.10, -0.06])  # of the logarithm, from the middle to the edge
    lit = shown(card, np.exp(card.places @ slope)[:, None])
    chosen = choose_correction(lit, SRGB, (card,))
    assert np.abs(chosen.candidate.plane - slope).max() < 0.03
    lab = xyz_to_lab(chosen.patches_xyz(lit.linear_rgb))
    flat = KnownCard(card.edition, card.greys, card.near_hair, card.shared_covariance)
    without = fit_candidates(lit, SRGB, (flat,)).candidates[2]
    assert delta_e_2000(lab, card.edition.lab_d65).mean() < 0.5
    assert np.mean(without.held_out) > 2 * np.mean(chosen.candidate.held_out)


def test_a_camera_that_holds_white_back_more_than_colours_is_followed():
    card = cards_24()[0]
    exact = shown(card).linear_rgb
    # A development that darkens by the least of the three channels, so greys more than any saturated colour.
    held_back = shown(card, 1 / (1 + 0.5 * exact.min(axis=1, keepdims=True)))
    light = held_back.linear_rgb / card.reference_light(held_back)
    data = CardData(light, card.edition, card.serving_weights(held_back), card.places)
    missed = []
    for model in (MODELS[2], CARD_MODELS[1]):
        fitted, _ = fit_card(model, data)
        lab = xyz_to_lab(fitted_xyz(model, data, CardFit(fitted.values[None], fitted.plane[None]))[0])
        missed.append(delta_e_2000(lab, card.edition.lab_d65).mean())
    assert missed[1] < 0.7 * missed[0]
