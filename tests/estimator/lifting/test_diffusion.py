"""Diffusion into a strand against the published series, and pigment against lightness."""

import numpy as np
import pytest
from scipy.special import jn_zeros

from estimator.lifting.diffusion import absorbed_share, absorbed_share_quickly, early_share, time_times
from estimator.lifting.pigment import lightness_of, pigment_of
from tests.synthetic.lifted_strands import SHELLS, inflow, shell_volumes

# Crank, The Mathematics of Diffusion, chapter 5: cylinder, constant strength outside; three printed decimals.
CRANK = ((0.005, 0.154), (0.01, 0.215), (0.02, 0.299), (0.05, 0.452), (0.1, 0.606), (0.2, 0.782), (0.4, 0.932))


@pytest.mark.parametrize(("dt_over_r2", "share"), CRANK)
def test_uptake_of_a_cylinder_agrees_with_the_published_series(dt_over_r2, share):
    assert absorbed_share(np.array(dt_over_r2)) == pytest.approx(share, abs=6e-4)  # half the last digit, plus rounding


def test_uptake_agrees_with_the_series_over_roots_from_a_general_library():
    time = np.array([0.002, 0.03, 0.0631, 0.15, 0.9])
    roots = jn_zeros(0, 200)[:, None]  # scipy
    assert absorbed_share(time) == pytest.approx(
        1 - np.sum(4 / roots**2 * np.exp(-(roots**2) * time), axis=0), abs=2e-5
    )


def test_half_is_taken_up_at_the_published_time():
    assert absorbed_share(np.array(0.0631)) == pytest.approx(0.5, abs=5e-4)  # Crank: half at 0.0631


def test_early_uptake_follows_the_square_root_of_time():
    time = np.linspace(1e-4, 0.05, 40)
    assert np.max(np.abs(early_share(time) - absorbed_share(time))) < 0.003  # the bound that the series gives
    assert absorbed_share(np.array([1e-5]))[0] / absorbed_share(np.array([2.5e-6]))[0] == pytest.approx(2, rel=5e-3)


def test_the_quick_uptake_is_the_exact_one():
    time = np.linspace(0, 2.5, 3001)
    assert np.max(np.abs(absorbed_share_quickly(time) - absorbed_share(time))) < 1e-4


def test_time_goes_with_the_square_of_the_diameter():
    assert time_times(100, 50) == 4  # facts of diffusion: 100 um takes four times as long as 50, 2.04 times as 70
    assert time_times(100, 70) == pytest.approx(2.04, abs=0.005)


def test_the_simulated_cylinder_fills_as_the_series_says():
    strength = np.zeros((1, SHELLS))
    for _ in range(1000):
        strength = strength + 1e-4 * inflow(strength, 1.0)
    assert float((strength @ shell_volumes())[0]) == pytest.approx(0.606, abs=0.004)  # Crank at 0.1; twelve shells


def test_pigment_and_lightness_are_each_others_reverse():
    lightness = np.linspace(17, 80, 64)
    assert lightness_of(pigment_of(lightness)) == pytest.approx(lightness, abs=1e-9)
    assert np.all(np.diff(pigment_of(lightness)) < 0)
