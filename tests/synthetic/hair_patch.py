"""A corrected photograph made of nothing but CIE XYZ: for tests of what is read from light, without any camera."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.cards.sighting import CardSighting
from calibration.colourspaces import SRGB_TO_XYZ_D65
from calibration.corrected import CorrectedPhoto
from calibration.findings import verdict_from
from calibration.photo import Box, EncodedRgb, Encoding, Photo
from estimator.zones.outline import Setting, StrandPattern, Zone


@dataclass(frozen=True, eq=False)
class KnownLight:
    """A correction that already knows the answer. xyz_d65 : float32, shape (rows, columns, 3)."""

    pixels: NDArray[np.float32]
    method: str = "known"
    held_out_de2000: float = 2.0

    def xyz_d65(self, photo: Photo, box: Box, row_step: int) -> NDArray[np.float32]:
        rows, columns = box.slices
        return self.pixels[rows, columns][::row_step]

    def lab_covariance(self) -> np.ndarray:
        return np.diag(np.square([2.0, 1.0, 1.0]))


def corrected_photo(xyz_d65: NDArray[np.floating], with_card: bool = True) -> CorrectedPhoto:
    """A photograph whose corrected light is `xyz_d65`. shape (rows, columns, 3)."""
    codes = EncodedRgb(np.full(xyz_d65.shape, 128, dtype=np.uint8))
    tables = np.tile(np.linspace(0, 1, 256, dtype=np.float32), (3, 1))
    photo = Photo(codes, Encoding(tables, SRGB_TO_XYZ_D65.copy(), "sRGB"), "0" * 64, "PNG", 8)
    height, width = xyz_d65.shape[:2]
    corners = np.array([[0.02, 0.8], [0.2, 0.8], [0.2, 0.95], [0.02, 0.95]]) * [width, height]
    sighting = CardSighting("classic24", corners, np.zeros((24, 4, 2)), False, 0.0, np.zeros(24, dtype=bool))
    light = KnownLight(np.asarray(xyz_d65, dtype=np.float32))
    return CorrectedPhoto(photo, light, verdict_from(()), sighting if with_card else None, None, ())


def fibres(
    mean_xyz: NDArray[np.floating], shape: tuple[int, int], contrast: float = 0.3, seed: int = 1
) -> NDArray[np.float32]:
    """Upright fibres, some lit and some in shade, whose mean light is `mean_xyz`. shape (rows, columns, 3)."""
    random = np.random.default_rng(seed)
    strands = np.repeat(random.standard_normal((shape[0] // 40 + 1, shape[1])), 40, axis=0)[: shape[0]]
    light = np.exp(contrast * strands + 0.05 * random.standard_normal(shape))
    return (light / light.mean())[..., None].astype(np.float32) * np.asarray(mean_xyz, dtype=np.float32)


def lock(
    name: str, box: Box, pattern: StrandPattern | None = StrandPattern.STRAIGHT, setting: Setting = Setting.BOARD
) -> Zone:
    """A zone that fills its box."""
    return Zone(name, box, np.ones((box.height_px, box.width_px), dtype=bool), setting, pattern)


def board(locks: dict[str, NDArray[np.floating]], ground: float = 0.3) -> tuple[CorrectedPhoto, tuple[Zone, ...]]:
    """Locks of these mean XYZ side by side on an evenly lit grey board, card below."""
    height, width = 400, 600
    grey = np.array([0.9505, 1.0, 1.089], dtype=np.float32) * ground
    pixels = np.broadcast_to(grey, (height, width, 3)).copy()
    zones = []
    for place, (name, mean_xyz) in enumerate(locks.items()):
        box = Box(40, 40 + 90 * place, 260, 100 + 90 * place)
        pixels[box.slices] = fibres(mean_xyz, (220, 60), seed=place)
        zones.append(lock(name, box))
    return corrected_photo(pixels), tuple(zones)


def brighter(corrected: CorrectedPhoto, factor: float) -> CorrectedPhoto:
    """The same photograph with all light multiplied."""
    light = corrected.correction
    assert isinstance(light, KnownLight)
    return replace(corrected, correction=replace(light, pixels=light.pixels * np.float32(factor)))
