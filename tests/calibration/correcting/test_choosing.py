"""Corrections chosen on patches that their fit did not see, on cards made from measured reflectances."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.cards.layouts import classic24_editions
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import SRGB_TO_XYZ_D65, delta_e_2000, xyz_to_lab
from calibration.correcting import choosing
from calibration.correcting.candidates import CARD_MODELS, MODELS, Model, predict
from calibration.correcting.fitting import CardData, CardFit, fit, fit_card, fit_left_out, fitted_xyz
from calibration.correcting.known_card import cards_24
from calibration.correcting.leaving_out import left_out_sets
from calibration.correcting.metric import local_metric
from calibration.errors import CorrectionError
from calibration.photo import Box, EncodedRgb, Encoding, Photo
from tests.synthetic.spectra import card_reflectances, xyz_d65

PATCH_XYZ = xyz_d65(card_reflectances())
PATCH_RGB = np.clip(PATCH_XYZ @ np.linalg.inv(SRGB_TO_XYZ_D65).T, 0.001, None) * 0.9


def encoding() -> Encoding:
    code = np.arange(256) / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return Encoding(np.stack([light.astype(np.float32)] * 3), SRGB_TO_XYZ_D65.copy(), "sRGB", True)


def patches(linear_rgb: np.ndarray, usable: np.ndarray | None = None) -> PatchColours:
    usable = np.ones(24, dtype=bool) if usable is None else usable
    why_not = tuple("" if serves else "clipped" for serves in usable)
    return PatchColours(linear_rgb, 0.01 * linear_rgb, np.full(24, 500), usable, np.ones(24), why_not)


def photo_of(codes: np.ndarray) -> Photo:
    return Photo(EncodedRgb(codes), encoding(), "0" * 64, "PNG", 8)


def test_an_exact_photo_of_the_card_is_corrected_to_what_cards_differ_by():
    chosen = choosing.choose_correction(patches(PATCH_RGB), encoding())
    # Thirty cards on average against the published values: 1.1 ΔE2000 (the same reflectances under D65).
    assert chosen.correction.held_out_de2000 < 1.6


@pytest.mark.parametrize("power", [0.45, 0.7, 1.5, 2.2])
def test_a_file_that_stores_another_curve_than_it_says_is_told_by_its_greys(power):
    bent = PATCH_RGB**power
    chosen = choosing.choose_correction(patches(bent), encoding())
    fitted = choosing.fit_candidates(patches(bent), encoding())
    assert chosen.correction.held_out_de2000 < 2.0
    assert "curve" in chosen.correction.method
    assert np.nanmean(fitted.candidates[1].held_out) > 2 * chosen.correction.held_out_de2000  # the plain 3x3


@pytest.mark.parametrize("seed", range(4))
def test_the_choice_is_never_worse_than_white_balance_on_patches_held_out(seed):
    rng = np.random.default_rng(seed)
    noisy = PATCH_RGB * np.exp(rng.normal(0, 0.06, PATCH_RGB.shape)) * rng.uniform(0.6, 1.3, 3)
    card = choosing.fit_candidates(patches(noisy), encoding())
    chosen = choosing.choose_correction(patches(noisy), encoding())
    served = card.weights > 0
    white_balance, best = card.candidates[0], chosen.candidate
    weights = card.weights[served]
    assert np.average(best.held_out[served], weights=weights) <= np.average(
        white_balance.held_out[served], weights=weights
    ) + 0.5 * np.std(best.held_out[served] - white_balance.held_out[served])


@pytest.mark.parametrize("place", range(len(CARD_MODELS)), ids=[model.name for model in CARD_MODELS])
def test_a_held_out_patch_is_read_as_by_a_fit_that_never_saw_it(place):
    rng = np.random.default_rng(7)
    noisy = PATCH_RGB * np.exp(rng.normal(0, 0.05, PATCH_RGB.shape))
    card = choosing.fit_candidates(patches(noisy), encoding())
    model = CARD_MODELS[place]
    data = CardData(noisy / card.reference_light, card.card.edition, card.weights, card.card.places)
    fitted, weights = fit_card(model, data)
    sets = left_out_sets(np.arange(24), 24)[:3]
    quick = xyz_to_lab(fitted_xyz(model, data, fit_left_out(model, data, fitted, weights, sets)))
    for left_out, seen in zip(sets, quick, strict=True):
        never = replace(data, weights=np.where(left_out > 0, 0, card.weights))
        alone, _ = fit_card(model, never)
        lab = xyz_to_lab(fitted_xyz(model, never, CardFit(alone.values[None], alone.plane[None]))[0])
        # A few steps from the fit of all reach the fit of the rest to a tenth of what the patches matter or so.
        missed = np.linalg.norm(seen - lab, axis=1)[left_out > 0]
        assert missed.max() < 0.4
    with_them = xyz_to_lab(fitted_xyz(model, data, CardFit(fitted.values[None], fitted.plane[None]))[0])
    held_out = card.candidates[place + 1].held_out
    assert np.mean(held_out) > 1.15 * np.mean(delta_e_2000(with_them, card.card.edition.lab_d65))


def test_more_or_less_light_leaves_the_corrected_colours_where_they_were():
    colours = []
    for exposure in (1.0, 0.3):
        chosen = choosing.choose_correction(patches(PATCH_RGB * exposure), encoding())
        values = chosen.candidate.values[None]
        xyz = predict(chosen.candidate.model, values, PATCH_RGB * exposure / chosen.reference_light)[0][0]
        colours.append(xyz_to_lab(xyz))
    assert np.abs(colours[0] - colours[1]).max() < 0.05


def test_patches_left_out_have_no_say():
    usable = np.ones(24, dtype=bool)
    usable[[6, 15]] = False
    spoiled = PATCH_RGB.copy()
    spoiled[[6, 15]] = 5.0
    one = choosing.choose_correction(patches(PATCH_RGB, usable), encoding()).correction
    other = choosing.choose_correction(patches(spoiled, usable), encoding()).correction
    assert np.array_equal(one.matrix, other.matrix)
    assert one.held_out_de2000 == other.held_out_de2000


@pytest.mark.parametrize("left", [range(7), range(18)], ids=["seven patches", "no grey"])
def test_too_little_of_a_card_is_refused_in_words(left):
    usable = np.isin(np.arange(24), list(left))
    with pytest.raises(CorrectionError, match="patches can be used") as refusal:
        choosing.choose_correction(patches(PATCH_RGB, usable), encoding())
    assert refusal.value.finding.remedy.endswith(".")


def test_the_edition_in_the_photo_is_recognised():
    for edition in classic24_editions():
        rgb = np.clip(edition.xyz_d65 @ np.linalg.inv(SRGB_TO_XYZ_D65).T, 0.001, None) * 0.9
        assert choosing.choose_correction(patches(rgb), encoding()).edition is edition


def test_the_covariance_is_one_and_grows_with_the_misses():
    rng = np.random.default_rng(1)
    clean = choosing.choose_correction(patches(PATCH_RGB), encoding()).correction.lab_covariance()
    noisy_rgb = PATCH_RGB * np.exp(rng.normal(0, 0.15, PATCH_RGB.shape))
    noisy = choosing.choose_correction(patches(noisy_rgb), encoding()).correction.lab_covariance()
    assert np.linalg.eigvalsh(clean).min() > 0
    assert np.trace(noisy) > np.trace(clean)


@pytest.mark.parametrize("model", [*MODELS, *CARD_MODELS[1:]], ids=lambda model: model.name)
def test_the_derivatives_of_each_model_are_those_of_small_steps(model: Model):
    rng = np.random.default_rng(2)
    values = rng.normal(0.1, 0.05, model.values)
    values[:9:4] += 0.5
    light = np.clip(PATCH_RGB, 0.02, 1)
    slopes = predict(model, values[None], light)[1][0]
    step = 1e-6
    for place in range(model.values):
        moved = values.copy()
        moved[place] += step
        numeric = (predict(model, moved[None], light)[0][0] - predict(model, values[None], light)[0][0]) / step
        # Truncation of the difference quotient: half the step times the second derivative, some 1e-6.
        assert np.abs(slopes[..., place] - numeric).max() < 1e-4


@pytest.mark.slow
@pytest.mark.parametrize("model", [*MODELS, *CARD_MODELS[1:]], ids=lambda model: model.name)
def test_pixels_get_the_very_colours_that_the_fit_promised(model: Model):
    card = choosing.fit_candidates(patches(PATCH_RGB**0.8), encoding())
    data = CardData(PATCH_RGB**0.8 / card.reference_light, card.card.edition, card.weights)
    candidate = replace(card.candidates[0], model=model, values=fit(model, data)[0])
    stated = (1.0, np.eye(3))
    correction = choosing._for_pixels(candidate, encoding(), card.reference_light, stated)
    codes = np.random.default_rng(3).integers(8, 250, (40, 30, 3), dtype=np.uint8)
    pixels = correction.xyz_d65(photo_of(codes), Box(0, 0, 40, 30), 1)
    light = encoding().tables[0][codes].astype(np.float64) / card.reference_light
    promised = predict(candidate.model, candidate.values[None], light.reshape(-1, 3))[0][0]
    assert np.abs(pixels.reshape(-1, 3) - promised).max() < 2e-5  # float32 against float64


def test_every_nth_row_is_the_same_colour_as_in_the_whole():
    correction = choosing.choose_correction(patches(PATCH_RGB), encoding()).correction
    codes = np.random.default_rng(4).integers(0, 256, (50, 20, 3), dtype=np.uint8)
    whole = correction.xyz_d65(photo_of(codes), Box(5, 3, 45, 17), 1)
    # Rows of another length are summed in another order: the last bit of float32 may differ.
    assert np.abs(correction.xyz_d65(photo_of(codes), Box(5, 3, 45, 17), 7) - whole[::7]).max() < 1e-6


def test_the_local_metric_is_ciede2000_for_small_differences():
    import colour

    lab = classic24_editions()[0].lab_d65
    offsets = np.random.default_rng(5).normal(0, 0.15, lab.shape)
    ours = np.linalg.norm((local_metric(lab) @ offsets[..., None])[..., 0], axis=1)
    theirs = colour.delta_E(lab, lab + offsets, method="CIE 2000")
    # The formula bends most at greys, where hue turns fast: a few hundredths over a quarter of a unit.
    assert np.abs(ours - theirs).max() < 0.05


def test_trust_below_one_lets_a_patch_count_for_less():
    doubted = replace(patches(PATCH_RGB), trust=np.where(np.arange(24) == 7, 0.1, 1.0))
    assert cards_24()[0].serving_weights(doubted)[7] == pytest.approx(0.1)
    assert cards_24()[0].serving_weights(doubted)[0] == 2.0
