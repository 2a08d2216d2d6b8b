"""What is expected of a matrix before the card is seen, against published cameras and lamps."""

import numpy as np
import pytest

from calibration.colourspaces import SRGB_TO_XYZ_D65
from calibration.correcting.candidates import CARD_MODELS
from calibration.correcting.matrix_prior import MIXING_SD, balance, value_prior
from tests.studies.matrix_prior import mixing
from tests.synthetic.spectra import camera_names

RICH = CARD_MODELS[1]


def cost_of(matrix: np.ndarray, gains: np.ndarray) -> float:
    """How unlikely the prior holds this matrix, in squared standard deviations."""
    centre, precision = value_prior(RICH, SRGB_TO_XYZ_D65, gains[None])
    values = centre[0].copy()
    values[: RICH.matrix_values] = matrix.ravel()
    away = values - centre[0]
    return float(away @ precision[0] @ away)


def widened(matrix: np.ndarray, white: float = 0.0) -> np.ndarray:
    """A 3x3 from linear sRGB to sRGB as the matrix of the rich model, with whiteness in the direction of white."""
    whole = np.zeros((3, 7))
    whole[:, :3] = SRGB_TO_XYZ_D65 @ matrix
    whole[:, 6] = SRGB_TO_XYZ_D65.sum(axis=1) * white
    return whole


@pytest.mark.parametrize("lamp_name", ["D65", "A", "FL2", "FL11", "LED-B1", "LED-B5"])
def test_published_cameras_under_cie_lamps_are_mixed_no_more_than_the_prior_expects(lamp_name):
    # Camera curves: rawtoaces-data; lamps: CIE 15. Both are tables under tests/authorities.
    for camera_name in camera_names():
        off = ~np.eye(3, dtype=bool)
        away = mixing(camera_name, lamp_name, 1.1)[off] / np.array(MIXING_SD)[off]
        # Six elements within two and a half standard deviations; most within one.
        assert np.abs(away).max() < 2.5
        assert np.median(np.abs(away)) < 1.0


def test_more_light_or_another_balance_costs_the_prior_nothing():
    gains = np.array([1.3, 1.0, 0.77])
    free = cost_of(widened(1.5 * np.diag(gains)), gains)
    bound = cost_of(widened(np.eye(3) + 0.3 * np.roll(np.eye(3), 1, axis=1)), np.ones(3))
    assert free < 0.02
    assert bound > 1.0


def test_whiteness_may_darken_white_but_hardly_tint_it():
    grey = widened(np.eye(3), white=0.5)
    tinted = grey.copy()
    tinted[:, 6] += 0.1 * SRGB_TO_XYZ_D65[:, 0]  # of the red primary
    assert cost_of(grey, np.ones(3)) < 1.0
    assert cost_of(tinted, np.ones(3)) > 20


def test_the_balance_is_told_by_greys_and_not_by_a_wall_of_red():
    wanted = np.array([[0.8, 0.8, 0.8], [0.2, 0.2, 0.2], [0.6, 0.05, 0.05], [0.5, 0.02, 0.02]])
    lab = np.array([[91.0, 0, 0], [52, 0, 0], [50, 60, 40], [45, 60, 45]])
    cast = np.array([1.5, 1.0, 0.5])
    light = wanted * cast
    light[2:] *= [0.5, 1, 3]  # reds that a camera sees otherwise
    gains = balance(light, (wanted, lab), np.ones((1, 4)))[0]
    expected = (1 / cast) / np.exp(np.log(1 / cast).mean())
    assert np.abs(gains / expected - 1).max() < 0.02
