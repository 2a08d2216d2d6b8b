"""From CIELAB to absorption: the published law, the observer's table, and spectra that hair and dyes can have."""

import csv
from pathlib import Path

import numpy as np
import pytest

from calibration.colourspaces import delta_e_2000, xyz_to_lab
from estimator.toning.absorption import absorption_of, dye_absorption, hair_absorption, lab_of, reflectance_of
from estimator.toning.mixing import hair_of, shelf_absorption
from estimator.toning.observer import BANDS_NM, band_weights, reflectance_to_lab
from estimator.toning.shades import demo_shelf

AUTHORITIES = Path(__file__).parents[1] / "authorities"

# K/S = (1 - R)^2 / 2R, Kubelka and Munk 1931 (law from memory, values computed from it by hand).
KUBELKA_MUNK = (
    (0.02, 24.01),
    (0.05, 9.025),
    (0.1, 4.05),
    (0.2, 1.6),
    (0.3, 0.8167),
    (0.4, 0.45),
    (0.5, 0.25),
    (0.6, 0.1333),
    (0.8, 0.025),
)


def _table(name):
    lines = [line for line in (AUTHORITIES / name).read_text("utf-8").splitlines() if not line.startswith("#")]
    return np.array([[float(cell) for cell in row] for row in csv.reader(lines[1:])])


@pytest.mark.parametrize(("reflectance", "ratio"), KUBELKA_MUNK)
def test_absorption_follows_kubelka_and_munk_both_ways(reflectance, ratio):
    assert absorption_of(np.array(reflectance)) == pytest.approx(ratio, abs=5e-5)
    assert reflectance_of(np.array(ratio)) == pytest.approx(reflectance, abs=1e-4)


def test_the_bands_see_what_the_full_observer_table_sees():
    # Measured hair, 400-700 nm per 10 nm (Vrhel, Gershon, Iwan 1994), under the CIE observer at its own 5 nm.
    observer, hair = _table("cie_1931_observer.csv"), _table("hair_reflectance.csv")
    own = np.array([[float(cell) for cell in row] for row in csv.reader(_observer_lines())])
    daylight = np.interp(observer[:, 0], own[:, 0], own[:, 4])
    for column in range(1, hair.shape[1]):
        fine = np.interp(observer[:, 0], hair[:, 0], hair[:, column])
        weights = observer[:, 1:4] * daylight[:, None]
        white = np.array([0.3127 / 0.3290, 1.0, 0.3583 / 0.3290])
        full = xyz_to_lab(fine @ weights / weights.sum(axis=0) * white)
        banded = reflectance_to_lab(np.interp(BANDS_NM, hair[:, 0], hair[:, column]))
        # Less than laying the tress anew costs an instrument: 1.2 L*, 0.33 a*, 0.42 b* (J. Cosmet. Sci. 51(5), p. 293).
        assert np.abs(full - banded).max() < 0.33


def _observer_lines():
    from importlib.resources import files

    text = files("estimator.toning").joinpath("tables/observer_d65.csv").read_text("utf-8")
    return [line for line in text.splitlines() if line[0].isdigit()]


def test_a_white_that_reflects_all_reads_as_the_white():
    assert reflectance_to_lab(np.ones(len(BANDS_NM))) == pytest.approx([100, 0, 0], abs=1e-9)
    assert band_weights()[:, 1].sum() == pytest.approx(1)


@pytest.mark.slow
def test_the_observer_table_is_the_one_of_colour_science():
    import colour

    own = np.array([[float(cell) for cell in row] for row in csv.reader(_observer_lines())])
    shape = colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    daylight = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    assert own[:, 1:] == pytest.approx(np.column_stack([observer, daylight]), rel=1e-5)


# Tresses read in J. Cosmet. Sci. 51(5), p. 293; measured spectra (Vrhel et al. 1994); two invented blondes.
@pytest.mark.parametrize(
    "lab", [(18.0, 0.0, -0.9), (12.9, 0.5, 1.2), (23.6, 3.9, 4.8), (39.1, 12.2, 23.7), (68, 4, 28), (85.6, 0.8, 11.6)]
)
def test_hair_gets_a_spectrum_that_reads_its_own_colour(lab):
    absorption = hair_absorption(np.array(lab))
    assert np.all(absorption > 0)
    assert lab_of(absorption)[0] == pytest.approx(lab, abs=0.01)


def test_a_measured_hair_gets_nearly_its_measured_spectrum():
    # Vrhel, Gershon, Iwan 1994: four samples, L* 13 to 39. From three numbers, to a tenth of the reflectance (rms).
    hair = _table("hair_reflectance.csv")
    inside = (BANDS_NM > 410) & (BANDS_NM < 700)
    for column in range(1, hair.shape[1]):
        measured = np.interp(BANDS_NM, hair[:, 0], hair[:, column])
        found = reflectance_of(hair_absorption(reflectance_to_lab(measured)))[0]
        assert np.sqrt(np.mean(np.log(found / measured)[inside] ** 2)) < 0.10


def test_dye_on_measured_hair_comes_out_as_with_its_measured_spectrum():
    # The same four samples, with each dye of the demo shelf on them: three numbers of the hair are enough to 0.5.
    hair, dyes = _table("hair_reflectance.csv"), shelf_absorption(demo_shelf()).added
    for column in range(1, hair.shape[1]):
        measured = np.interp(BANDS_NM, hair[:, 0], hair[:, column])
        predicted = hair_of(reflectance_to_lab(measured)).with_dye(0.5 * dyes)
        assert np.all(delta_e_2000(predicted, lab_of(absorption_of(measured) + 0.5 * dyes)) < 0.5)


DYED_WHITE = ((55, 17, -29), (58, -12, -22), (66, -25, 14), (60, 32, 38), (38, 9, 15), (84, -4, 50))


@pytest.mark.parametrize("lab", DYED_WHITE)
def test_a_dye_gets_a_spectrum_that_reads_so_on_white_hair_and_only_absorbs(lab):
    bare = hair_absorption(np.array([86.0, -0.5, 14.0]))[0]
    added = dye_absorption(np.array([lab]), bare)[0]
    assert np.all(added >= 0)
    assert lab_of(bare + added) == pytest.approx(lab, abs=0.05)


def test_a_shade_lighter_than_white_hair_still_only_absorbs():
    bare = hair_absorption(np.array([80.0, 0.0, 16.0]))[0]
    added = dye_absorption(np.array([[88.0, 0.0, 5.0]]), bare)[0]
    assert np.all(added >= 0)
    assert np.all(np.isfinite(added))


def test_bare_hair_adds_nothing():
    bare = hair_absorption(np.array([86.0, -0.5, 14.0]))[0]
    assert np.all(dye_absorption(np.array([[86.0, -0.5, 14.0]]), bare) == 0)
