"""The 140-patch card: its values against the colour library, its place in pictures made from them."""

import cv2
import numpy as np
import pytest

from calibration.cards.classic140 import classic140_editions, classic140_greys, find_classic140, places_140
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.findings import Verdict
from calibration.opening import open_photo
from calibration.photo import Box
from calibration.pipeline import correct_photo
from tests.synthetic.card_scene import CardScene, photograph
from tests.synthetic.chart140 import Chart140, photograph_140

# colour-science 0.4.7, CCS_COLOURCHECKERS; adapted here by the library's Bradford.
LIBRARY_KEYS = {
    "before November 2014": "ColorCheckerSG - Before November 2014",
    "from November 2014": "ColorCheckerSG - After November 2014",
}


def opened(chart: Chart140):
    picture, centres = photograph_140(chart)
    return open_photo(cv2.imencode(".png", picture[:, :, ::-1])[1].tobytes()), centres


@pytest.mark.slow
@pytest.mark.parametrize("edition", classic140_editions(), ids=lambda edition: edition.name)
def test_the_values_are_those_of_the_colour_library_in_the_cards_order(edition):
    import colour

    chart = colour.CCS_COLOURCHECKERS[LIBRARY_KEYS[edition.name]]
    d50, d65 = colour.xy_to_XYZ(chart.illuminant), colour.xy_to_XYZ([0.3127, 0.3290])
    bradford = colour.adaptation.matrix_chromatic_adaptation_VonKries(d50, d65, "Bradford")
    for (column, row), ours in zip(places_140().astype(int), edition.xyz_d65, strict=True):
        theirs = colour.xyY_to_XYZ(chart.data[f"{'ABCDEFGHIJKLMN'[column]}{row + 1}"]) @ bradford.T
        assert np.abs(ours - theirs).max() < 0.6e-6  # half the last digit that the table prints


CHARTS = {
    "as it lies": Chart140(),
    "large": Chart140(scale=1.6),
    "small": Chart140(scale=0.35),
    "upside down": Chart140(turn_deg=184),
    "a quarter turned, mirrored": Chart140(turn_deg=92, mirrored=True, scale=0.9),
    "tilted and noisy": Chart140(tilt=0.25, noise_codes=5),
}


@pytest.mark.slow
@pytest.mark.parametrize(
    "chart",
    [
        pytest.param(chart, id=name, marks=pytest.mark.slow if name in ("large", "upside down") else ())
        for name, chart in CHARTS.items()
    ],
)
def test_the_card_is_found_in_its_place_and_order(chart):
    photo, centres = opened(chart)
    sighting = find_classic140(photo)
    assert sighting is not None
    # A tenth of the pitch: the sampled square keeps 0.2 of it free on every side.
    assert np.abs(sighting.patch_centres_px - centres).max() < 0.1 * 40 * chart.scale
    assert sighting.mirrored is chart.mirrored


@pytest.mark.slow
def test_a_grid_of_the_same_colours_in_another_order_is_not_this_card():
    photo, _ = opened(Chart140(shuffled=True))
    assert find_classic140(photo) is None


@pytest.mark.slow
def test_the_24_patch_card_is_not_taken_for_it():
    made = photograph(CardScene())
    assert find_classic140(open_photo(made.png())) is None


@pytest.mark.slow
def test_a_photo_with_it_is_corrected_within_the_stated_error():
    chart = Chart140(scale=1.4)
    photo, centres = opened(chart)
    corrected = correct_photo(photo)
    assert corrected.verified
    assert corrected.verdict.verdict is Verdict.USABLE
    browns = [
        patch for patch, lab in enumerate(classic140_editions()[1].lab_d65) if 20 < lab[0] < 70 and 5 < lab[2] < 25
    ]
    boxes = [Box(int(y) - 6, int(x) - 6, int(y) + 6, int(x) + 6) for x, y in centres[browns]]
    read = xyz_to_lab(np.array([corrected.xyz_d65(box).reshape(-1, 3).mean(axis=0) for box in boxes], dtype=np.float64))
    missed = delta_e_2000(read, classic140_editions()[1].lab_d65[browns])
    assert missed.mean() < 1.25 * corrected.correction.held_out_de2000 < 3.0


@pytest.mark.slow
def test_without_it_the_photo_goes_the_usual_way():
    corrected = correct_photo(open_photo(photograph(CardScene()).png()))
    assert corrected.sighting is not None
    assert corrected.sighting.layout == "classic24"


def test_its_greys_run_from_white_to_black():
    lightness = classic140_editions()[1].lab_d65[list(classic140_greys()), 0]
    assert len(lightness) > 40
    assert np.all(np.diff(lightness) <= 0)
