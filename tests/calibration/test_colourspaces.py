"""CIE arithmetic against the published pairs and matrices, and against the general colour library."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.colourspaces import (
    SRGB_TO_XYZ_D65,
    WHITE_D65_XYZ,
    delta_e_2000,
    in_srgb,
    lab_jacobian,
    lab_to_lch,
    lab_to_xyz,
    xyz_to_lab,
    xyz_to_srgb8,
)

AUTHORITIES = Path(__file__).resolve().parent.parent / "authorities"
HALF_LAST_PRINTED_DIGIT = 5.1e-5  # the paper prints four decimals; a little more for their rounding and ours
COLOURS = st.tuples(st.floats(1, 99), st.floats(-60, 60), st.floats(-60, 60))


def _pairs() -> np.ndarray:
    lines = (AUTHORITIES / "sharma_2005_ciede2000.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    return np.array(rows, dtype=np.float64)


def test_there_are_34_published_pairs():
    assert len(_pairs()) == 34


@pytest.mark.parametrize("pair", _pairs(), ids=str)
def test_delta_e_2000_agrees_with_the_published_pairs_both_ways_round(pair):
    assert delta_e_2000(pair[:3], pair[3:6]) == pytest.approx(pair[6], abs=HALF_LAST_PRINTED_DIGIT)
    assert delta_e_2000(pair[3:6], pair[:3]) == pytest.approx(pair[6], abs=HALF_LAST_PRINTED_DIGIT)


@pytest.mark.slow
def test_delta_e_2000_of_many_pairs_agrees_with_the_colour_library():
    import colour

    random = np.random.default_rng(2)
    first = random.uniform([1, -60, -60], [99, 60, 60], (20_000, 3))
    second = first + random.normal(0, 8, first.shape)
    theirs = colour.delta_E(first, second, method="CIE 2000")
    np.testing.assert_allclose(delta_e_2000(first, second), theirs, atol=1e-9)
    in_32_bits = delta_e_2000(first.astype(np.float32), second.astype(np.float32))
    np.testing.assert_allclose(in_32_bits, theirs, atol=1e-4)


def test_lab_agrees_with_the_colour_library():
    import colour

    xyz = np.random.default_rng(3).uniform(0, 1, (5000, 3))
    theirs = colour.XYZ_to_Lab(xyz, np.array([0.3127, 0.3290]))
    np.testing.assert_allclose(xyz_to_lab(xyz), theirs, atol=1e-9)


def test_white_is_100_and_grey_has_no_colour():
    np.testing.assert_allclose(xyz_to_lab(WHITE_D65_XYZ), [100, 0, 0], atol=1e-9)
    np.testing.assert_allclose(xyz_to_lab(0.18 * WHITE_D65_XYZ)[1:], 0, atol=1e-9)


def test_srgb_primaries_give_the_published_lab():
    # IEC 61966-2-1 matrix with its four printed digits; values to two decimals.
    expected = {
        (255, 0, 0): (53.23, 80.11, 67.22),
        (0, 255, 0): (87.74, -86.18, 83.19),
        (0, 0, 255): (32.30, 79.20, -107.85),
    }
    for rgb8, lab in expected.items():
        xyz = SRGB_TO_XYZ_D65 @ (np.array(rgb8) / 255)
        np.testing.assert_allclose(xyz_to_lab(xyz), lab, atol=0.006)


@pytest.mark.slow
@given(COLOURS)
@settings(max_examples=60, derandomize=True)
def test_lab_and_back_is_the_same_colour(lab):
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz(np.array(lab))), lab, atol=1e-8)


@pytest.mark.slow
@given(COLOURS)
@settings(max_examples=40, derandomize=True)
def test_jacobian_is_the_slope_that_small_steps_show(lab):
    xyz = lab_to_xyz(np.array(lab))
    step = 1e-6
    slopes = [(xyz_to_lab(xyz + step * axis) - xyz_to_lab(xyz - step * axis)) / (2 * step) for axis in np.eye(3)]
    # 1e-3 of the slope: the curvature of the cube root over the step, and the joint of its two parts.
    np.testing.assert_allclose(lab_jacobian(xyz), np.array(slopes).T, rtol=1e-3, atol=1e-2)


def test_hue_of_a_yellow_is_ninety_degrees():
    np.testing.assert_allclose(lab_to_lch(np.array([60.0, 0.0, 20.0])), [60, 20, 90])


def test_srgb_codes_survive_the_way_to_xyz_and_back():
    codes = np.random.default_rng(4).integers(0, 256, (500, 3))
    share = codes / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    np.testing.assert_array_equal(xyz_to_srgb8(linear @ SRGB_TO_XYZ_D65.T), codes)


def test_a_screen_can_show_grey_but_no_spectral_green():
    assert in_srgb(0.5 * WHITE_D65_XYZ)
    assert not in_srgb(lab_to_xyz(np.array([70.0, -110.0, 60.0])))
