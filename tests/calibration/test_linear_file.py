"""A RAW file keeps linear light: no tone curve is fitted, and hair comes out nearer than from the JPEG of the scene."""

import numpy as np
import pytest

from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.photo import Box
from calibration.pipeline import correct_bytes
from calibration.private_tags import clean_copy
from tests.synthetic import card_scene
from tests.synthetic.card_scene import CardScene, Development, Layout, photograph
from tests.synthetic.encoded_files import dng_bytes
from tests.synthetic.spectra import table, xyz_d65

pytestmark = pytest.mark.slow

# Measured reflectance of hair (docs/sources.md, vrhel-1994-hair).
HAIR = np.array(list(table("hair_reflectance").values()))
SCENE = CardScene(
    development=Development(exposure=0.75, contrast=0.9, saturation=1.2), layout=Layout(800, 640), swatches=HAIR
)


def dng_of(scene: CardScene) -> bytes:
    """What the scene's sensor counts, as a DNG."""
    surfaces, reflectances, _ = card_scene._surfaces(scene, card_scene.card_map(scene.layout))
    sensor = card_scene._seen(scene, card_scene._lit(scene, surfaces, reflectances))
    return dng_bytes(np.clip(0.8 * sensor, 0, 1))


def missed(photo_bytes: bytes) -> tuple[float, object]:
    boxes = photograph(SCENE).swatch_boxes
    corrected = correct_bytes(photo_bytes)
    parts = [corrected.xyz_d65(Box(top, left, bottom, right)) for left, top, right, bottom in boxes]
    read = [part.reshape(-1, 3).mean(axis=0) for part in parts]
    return float(
        delta_e_2000(xyz_to_lab(np.array(read, dtype=np.float64)), xyz_to_lab(xyz_d65(HAIR))).mean()
    ), corrected


def test_a_raw_file_is_corrected_without_a_tone_curve_and_says_what_that_gains():
    linear, corrected = missed(dng_of(SCENE))
    developed, as_jpeg = missed(photograph(SCENE).jpeg())
    assert corrected.verified
    assert "tone curve" not in corrected.correction.method
    assert linear < developed
    (finding,) = [one for one in corrected.verdict.findings if one.code == "linear_light"]
    assert f"{corrected.correction.held_out_de2000:.1f} instead of" in finding.message
    assert "linear_light" not in as_jpeg.verdict.codes


def test_the_copy_that_is_kept_of_it_corrects_alike():
    original = dng_of(SCENE)
    _, before = missed(original)
    _, after = missed(clean_copy(original))
    assert after.correction.method == before.correction.method
    assert [one.code for one in after.verdict.findings] == [one.code for one in before.verdict.findings]
    # One code of 65535 is 1.5e-5 of white, and the matrix is written to a millionth: rounding, seen in no colour.
    off = np.abs(np.asarray(after.xyz_d65(after.photo.whole)) - np.asarray(before.xyz_d65(before.photo.whole)))
    assert off.max() <= 1e-4
