"""The table of corrections: one row for each photograph, good, faulty or broken."""

import numpy as np
import pytest

from calibration.correction_rows import COLUMNS, correction_row
from tests.synthetic.card_scene import CardScene, Layout, Light, photograph


def centres(row: dict[str, str]) -> np.ndarray:
    return np.array(row["patch_centres"].split(), dtype=np.float64).reshape(-1, 2)


@pytest.mark.slow
def test_a_good_photo_fills_every_column_and_its_centres_lie_on_the_patches():
    photographed = photograph(CardScene())
    row = correction_row("folder/a.jpg", photographed.jpeg())
    assert tuple(row) == COLUMNS
    assert (row["photo"], row["found"], row["verdict"]) == ("folder/a.jpg", "1", "usable")
    pitch = np.linalg.norm(photographed.centres_px[1] - photographed.centres_px[0])
    assert np.linalg.norm(centres(row) - photographed.centres_px, axis=1).max() < 0.15 * pitch
    assert 0 < float(row["held_out_de2000"]) < 4


@pytest.mark.slow
def test_patches_that_shine_are_nan_in_the_row():
    row = correction_row("a.jpg", photograph(CardScene(light=Light(glare_at=(0.5, 0.66)))).jpeg())
    left_out = np.isnan(centres(row)).all(axis=1)
    assert left_out[[8, 9, 14, 15]].all()
    assert not left_out[[0, 18, 23]].any()


@pytest.mark.parametrize("photo_bytes", [b"", b"just a note", b"%PDF-1.7", b"\xff\xd8\xff\xe0 cut"])
def test_a_broken_file_is_a_row_that_says_so(photo_bytes):
    row = correction_row("broken.jpg", photo_bytes)
    assert tuple(row) == COLUMNS
    assert (row["verdict"], row["found"]) == ("retake", "0")
    assert row["findings"].split()[0] == "unreadable"


@pytest.mark.slow
def test_a_photo_without_a_card_is_a_row_without_centres():
    row = correction_row("a.jpg", photograph(CardScene(layout=Layout(centre=(3.0, 3.0)))).jpeg())
    assert (row["verdict"], row["found"], row["patch_centres"]) == ("retake", "0", "")
    assert "no_card" in row["findings"].split()


@pytest.mark.slow
def test_the_name_of_a_file_changes_nothing_but_the_name():
    photo_bytes = photograph(CardScene()).jpeg()
    one, other = correction_row("bad-overexposed.jpg", photo_bytes), correction_row("x.jpg", photo_bytes)
    assert {key: one[key] for key in one if key not in ("photo", "seconds")} == {
        key: other[key] for key in other if key not in ("photo", "seconds")
    }
