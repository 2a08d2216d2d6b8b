"""The portfolio picture: only outlined hair in sight, the two photographs laid alike, nothing private in the file."""

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from calibration.opening import open_photo
from estimator.errors import BadInputError
from estimator.reports.composing_shots import laid_alike
from estimator.reports.portfolio import NEUTRAL, Hiding, portfolio_picture
from estimator.zones.outline import Zone
from tests.estimator.report_samples import corrected_of, visit
from tests.estimator.test_reports_before_after import SEEDS, photo_with_private_tags


@pytest.fixture(scope="module")
def document():
    return visit()


def _pixels(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)


def test_everything_but_the_hair_is_grey_where_it_is_cut_out(document):
    pixels = _pixels(portfolio_picture(document.before, None, Hiding.CUT))
    border = np.concatenate([pixels[:8].reshape(-1, 3), pixels[:, :8].reshape(-1, 3)])
    assert np.abs(border - NEUTRAL).max() <= 1
    assert np.abs(pixels - NEUTRAL).max() > 40  # the hair itself is there


def test_what_lies_beside_the_hair_is_not_to_be_made_out_where_it_is_blurred(document):
    photo = document.before.corrected.photo
    codes = photo.encoded_rgb.copy()
    rows, columns = codes.shape[:2]
    # A pattern as fine as a face's features, everywhere; the hair keeps it, the rest must not.
    codes[(np.indices((rows, columns)).sum(axis=0) // 3) % 2 == 0] //= 4
    striped = replace(document.before, corrected=corrected_of(replace(photo, encoded_rgb=codes)))
    pixels = _pixels(portfolio_picture(striped, None, Hiding.BLUR)).astype(float)
    fine = np.abs(cv2.Laplacian(pixels[8:-80, 8:-8].astype(np.float32), cv2.CV_32F)).mean(axis=-1)
    corner = fine[:12, :12].mean()
    assert fine.max() > 40
    assert corner < 0.15 * fine.max()


def test_after_photograph_turned_and_moved_is_laid_as_the_one_before(document):
    turned = _turned(document.before, degrees=12.0, scale=0.9, move=(25, -10))
    first, laid = np.split(_pixels(portfolio_picture(document.before, turned, Hiding.CUT)), 2, axis=1)
    hair_first, hair_laid = (np.abs(side - NEUTRAL).max(axis=-1)[:-70] > 12 for side in (first, laid))
    overlap = (hair_first & hair_laid).sum() / (hair_first | hair_laid).sum()
    assert overlap > 0.85


def _turned(reading, degrees, scale, move):
    photo = reading.corrected.photo
    rows, columns = photo.encoded_rgb.shape[:2]
    matrix = cv2.getRotationMatrix2D((columns / 2, rows / 2), degrees, scale)
    matrix[:, 2] += move
    codes = cv2.warpAffine(photo.encoded_rgb, matrix, (columns, rows), borderMode=cv2.BORDER_REPLICATE)
    zones = tuple(_turned_zone(zone, matrix, (columns, rows)) for zone in reading.outlined)
    corrected = corrected_of(replace(photo, encoded_rgb=codes))
    read = tuple(replace(one, zone=zone) for one, zone in zip(reading.zones, zones, strict=True))
    return replace(reading, corrected=corrected, zones=read, outlined=zones)


def _turned_zone(zone: Zone, matrix, size):
    whole = np.zeros(size[::-1], np.uint8)
    rows, columns = zone.box.slices
    whole[rows, columns] = zone.mask
    mask = cv2.warpAffine(whole, matrix, size, flags=cv2.INTER_NEAREST).astype(bool)
    box = type(zone.box)(0, 0, size[1], size[0])
    return replace(zone, box=box, mask=mask)


def test_file_holds_pixels_and_the_srgb_profile_and_nothing_private(document):
    corrected = corrected_of(open_photo(photo_with_private_tags()))
    png = portfolio_picture(replace(document.before, corrected=corrected), None, Hiding.CUT)
    assert not [seed for seed in SEEDS if seed in png]
    picture = Image.open(io.BytesIO(png))
    assert set(picture.info) == {"icc_profile"}
    profile = ImageCms.ImageCmsProfile(io.BytesIO(picture.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)


def test_photograph_without_outlined_hair_is_refused(document):
    bare = replace(document.before, outlined=())
    with pytest.raises(BadInputError, match="Outline it"):
        portfolio_picture(bare, None, Hiding.BLUR)


# --- the two pictures of one cut in the report


def alike(document, after):
    shots = laid_alike(replace(document, after=after, differences=()))
    return [np.asarray(Image.open(io.BytesIO(jpeg)).convert("RGB")).astype(int) for _, jpeg in shots]


def test_the_report_shows_both_sides_in_one_cut(document):
    turned = _turned(document.before, degrees=12.0, scale=0.9, move=(25, -10))
    first, laid = alike(document, turned)
    assert first.shape == laid.shape
    # The very hair moved and laid back: what differs is a seam at the edges of two locks.
    assert np.mean(np.abs(first - laid).max(axis=-1) > 40) < 0.1
    moved = alike(document, document.before)
    assert np.array_equal(*moved)


def test_a_side_taken_from_elsewhere_is_not_laid_alike(document):
    for degrees, scale in ((80.0, 1.0), (0.0, 0.3)):
        assert alike(document, _turned(document.before, degrees, scale, (0, 0))) == []
    others = tuple(replace(zone, name=f"other {zone.name}") for zone in document.before.outlined)
    assert alike(document, replace(document.before, outlined=others)) == []
    assert alike(document, None) == []
