"""The rim of a zone that came as pixels lies on that zone."""

import numpy as np
import pytest

from calibration.photo import Box
from estimator.pages.tracing import MOST_CORNERS, rim_px
from estimator.zones.outline import Setting, Zone


def zone_of(mask: np.ndarray, top: int = 30, left: int = 50) -> Zone:
    box = Box(top, left, top + mask.shape[0], left + mask.shape[1])
    return Zone("crown", box, mask, Setting.HEAD)


def area_px(corners: tuple[tuple[float, float], ...]) -> float:
    """Area inside a polygon, by the shoelace formula."""
    x, y = np.array(corners).T
    return abs(float(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))) / 2


@pytest.mark.slow
@pytest.mark.parametrize("size_px", [60, 300, 2400])
def test_the_rim_of_a_disc_encloses_the_disc(size_px: int) -> None:
    rows, columns = np.mgrid[:size_px, :size_px]
    disc = (rows - size_px / 2) ** 2 + (columns - size_px / 2) ** 2 < (0.45 * size_px) ** 2
    corners = rim_px(zone_of(disc))
    # A polygon that strays 2 % of the size from its rim may lose a tenth of the area.
    assert area_px(corners) == pytest.approx(np.pi * (0.45 * size_px) ** 2, rel=0.1)
    assert np.mean([x for x, _ in corners]) == pytest.approx(50 + size_px / 2, abs=0.03 * size_px)
    assert np.mean([y for _, y in corners]) == pytest.approx(30 + size_px / 2, abs=0.03 * size_px)


def test_a_ragged_rim_still_has_few_corners() -> None:
    ragged = np.random.default_rng(3).random((200, 200)) < 0.6
    assert 3 <= len(rim_px(zone_of(ragged))) <= MOST_CORNERS


def test_no_corner_lies_outside_the_zone_s_box() -> None:
    full = np.ones((80, 120), dtype=bool)
    corners = np.array(rim_px(zone_of(full, top=0, left=0)))
    assert corners.min() >= 0
    assert corners[:, 0].max() <= 120
    assert corners[:, 1].max() <= 80
