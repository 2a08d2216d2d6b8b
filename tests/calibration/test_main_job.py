"""The main job against measurements that no one here made: hair and skin beside the card come back as their CIELAB.

Measured reflectances x CIE lamps x published camera curves, developed with tone curve, saturation and a white balance
that errs, to an 8-bit JPEG. The truth is the CIELAB D65 of the spectrum, by the CIE 1931 observer.
"""

from functools import cache

import numpy as np
import pytest

from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.photo import Box
from calibration.pipeline import correct_bytes
from tests.synthetic.card_scene import CardScene, Development, Layout, Light, photograph
from tests.synthetic.spectra import camera_names, table, xyz_d65

pytestmark = pytest.mark.slow

NINE_IN_TEN = 1.6449
PHOTOS = 24


def surfaces(rng: np.random.Generator) -> np.ndarray:
    """Four measured samples of hair and four of skin. shape (8, wavelengths)."""
    hair = np.array(list(table("hair_reflectance").values()))
    skin = np.array(list(table("skin_reflectance").values()))
    return np.vstack([hair, skin[rng.choice(len(skin), 4, replace=False)]])


def salon_scene(rng: np.random.Generator, seed: int) -> CardScene:
    """A scene under a lamp, by a camera and with a development drawn at random."""
    lamps, cameras = list(table("lamps_cie")), camera_names()
    development = Development(
        camera=cameras[rng.integers(len(cameras))],
        exposure=rng.uniform(0.5, 0.9),
        contrast=float(rng.choice([0.0, 0.4, 0.8])),
        saturation=rng.uniform(1.0, 1.2),
        balance=(float(np.exp(rng.normal(0, 0.1))), float(np.exp(rng.normal(0, 0.12)))),
    )
    light = Light(lamps[rng.integers(len(lamps))], stray=float(rng.choice([0.0, 0.002])))
    layout = Layout(width_px=600, height_px=460)
    return CardScene(light, development, layout, surfaces(rng), seed=seed)


@cache
def readings() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Lab read, true Lab, stated standard deviation of each surface; stated error of each photo."""
    rng = np.random.default_rng(2026)
    read, true, sd, stated = [], [], [], []
    for seed in range(PHOTOS):
        scene = salon_scene(rng, seed)
        photographed = photograph(scene)
        corrected = correct_bytes(photographed.jpeg())
        assert corrected.verified
        stated.append(corrected.correction.held_out_de2000)
        for surface, (left, top, right, bottom) in zip(scene.swatches, photographed.swatch_boxes, strict=True):
            box = Box(int(top), int(left), int(bottom), int(right))
            if corrected.clipped(box).mean() > 0.02:
                continue
            read.append(xyz_to_lab(corrected.xyz_d65(box).reshape(-1, 3).mean(axis=0).astype(np.float64)))
            true.append(xyz_to_lab(xyz_d65(surface[None])[0]))
            sd.append(np.sqrt(np.diag(corrected.correction.lab_covariance())))
    return np.array(read), np.array(true), np.array(sd), np.array(stated)


def test_measured_hair_and_skin_come_back_within_their_intervals_nine_times_in_ten():
    read, true, sd, _ = readings()
    inside = np.abs(read - true) <= NINE_IN_TEN * sd
    # The eight surfaces of one photo share its correction, so 24 photos settle the rate to about 0.06.
    assert 0.84 <= inside.mean() <= 0.99
    assert inside.mean(axis=0).min() > 0.78


def test_the_intervals_are_no_wider_than_they_need_to_be():
    read, true, sd, _ = readings()
    # An honest Gaussian interval is 4.1 mean misses wide; three times that would say nothing.
    assert (2 * NINE_IN_TEN * sd).mean() / np.abs(read - true).mean() < 8


def test_measured_hair_and_skin_are_read_to_two_units_on_average():
    read, true, _, _ = readings()
    # Cards themselves differ by 1.1 from their published values, and lamps leave metamerism of about 1 (published
    # simulations: 0.6 to 0.8 with two cameras and no tone curve). Plain 3x3 on these photos: 2.5.
    assert delta_e_2000(read, true).mean() < 2.0


def test_the_stated_error_of_a_photo_is_about_what_other_surfaces_show():
    read, true, _, stated = readings()
    assert stated.mean() == pytest.approx(delta_e_2000(read, true).mean(), rel=0.35)
