"""The coordinates of hair, against the reference library."""

import numpy as np
import pytest

from estimator.reading.hair_space import (
    SHARPEN,
    hair_u_of_lab,
    hair_u_of_xyz,
    lab_by_hair_u,
    lab_of_hair_u,
    xyz_of_hair_u,
)

HAIR_LAB = np.array([[16.2, 0.9, 0.7], [39.1, 12.2, 23.7], [64.9, 4.5, 38.6], [47.4, 7.1, 2.4]])


@pytest.mark.slow  # the reference library takes seconds to import
def test_sharpened_channels_are_the_bradford_cones():
    colour = pytest.importorskip("colour")
    # Reference: colour-science, CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"], rows scaled to the D65 white.
    bradford = np.asarray(colour.CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"])
    white = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    assert np.allclose(SHARPEN, bradford / (bradford @ white)[:, None], atol=1e-4)


def test_there_and_back_again_is_the_same_colour():
    assert np.allclose(lab_of_hair_u(hair_u_of_lab(HAIR_LAB)), HAIR_LAB, atol=1e-9)


def test_doubling_the_light_moves_the_first_coordinate_alone():
    xyz = xyz_of_hair_u(hair_u_of_lab(HAIR_LAB))
    assert np.allclose(hair_u_of_xyz(2 * xyz) - hair_u_of_xyz(xyz), [np.log(2), 0, 0], atol=1e-9)


def test_the_derivative_is_what_small_steps_show():
    for hair_u in hair_u_of_lab(HAIR_LAB):
        steps = 1e-6 * np.eye(3)
        shown = np.stack([(lab_of_hair_u(hair_u + step) - lab_of_hair_u(hair_u - step)) / 2e-6 for step in steps], 1)
        assert np.allclose(lab_by_hair_u(hair_u), shown, rtol=1e-4, atol=1e-4)


def test_nothing_at_all_is_still_a_number():
    assert np.isfinite(hair_u_of_xyz(np.array([[0.0, 0.0, 0.0], [-0.01, 0.2, -0.3]]))).all()
