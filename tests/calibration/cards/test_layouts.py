"""The card's tables against the general colour library's own data and adaptation."""

import numpy as np
import pytest

from calibration.cards.layouts import classic24_editions, grid_places, patch_names

# colour-science 0.4.7, CCS_COLOURCHECKERS; CIELAB D50 of the maker as xyY, adapted here by the library's Bradford.
LIBRARY_KEYS = {
    "before November 2014": "ColorChecker24 - Before November 2014",
    "from November 2014": "ColorChecker24 - After November 2014",
}


@pytest.mark.slow
@pytest.mark.parametrize("edition", classic24_editions(), ids=lambda edition: edition.name)
def test_the_cards_values_are_those_of_the_colour_library_adapted_to_daylight(edition):
    import colour

    chart = colour.CCS_COLOURCHECKERS[LIBRARY_KEYS[edition.name]]
    d50, d65 = colour.xy_to_XYZ(chart.illuminant), colour.xy_to_XYZ([0.3127, 0.3290])
    bradford = colour.adaptation.matrix_chromatic_adaptation_VonKries(d50, d65, "Bradford")
    expected = colour.xyY_to_XYZ(np.array(list(chart.data.values()))) @ bradford.T
    # Half the last digit that the table prints.
    assert np.abs(edition.xyz_d65 - expected).max() < 0.6e-6


def test_the_lowest_row_runs_from_white_to_black_in_both_editions():
    for edition in classic24_editions():
        assert np.all(np.diff(edition.lab_d65[18:, 0]) < -10)
        assert np.abs(edition.lab_d65[18:, 1:]).max() < 4


def test_the_editions_differ_by_as_much_as_their_publication_says():
    # Published values of both editions: 0.85 CIEDE2000 apart on average, 2.0 at most (colour-science, own arithmetic).
    import colour

    before, after = (edition.lab_d65 for edition in classic24_editions())
    apart = colour.delta_E(before, after, method="CIE 2000")
    assert apart.mean() == pytest.approx(0.85, abs=0.01)
    assert apart.max() == pytest.approx(2.0, abs=0.05)


def test_patches_are_counted_along_the_rows():
    assert grid_places()[[0, 5, 6, 23]].tolist() == [[0, 0], [5, 0], [0, 1], [5, 3]]
    assert patch_names()[0] == "dark skin"
    assert patch_names()[18].startswith("white")
