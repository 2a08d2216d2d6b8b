"""The light that a zone sends back, in a few numbers: what the flat-tress model looks at, and nothing else."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.corrected import CorrectedPhoto
from calibration.photo import BoolArray, FloatArray
from estimator.errors import TooLittleHairError
from estimator.reading.hair_space import hair_u_of_xyz
from estimator.zones.axis import Axis, axis_of
from estimator.zones.fibres import fibre_contrast
from estimator.zones.hair_pixels import HairPixels, hair_pixels
from estimator.zones.outline import Zone

FEWEST_PIXELS = 150  # hair pixels below which a mean says more of stray fibres than of the hair
# Light at the size of strands varies by 7 % or more in every render of hair, by under 2.5 % only on smooth things.
FLAT_CONTRAST = 0.025
ALONG, ACROSS = 10, 4  # blocks of a zone, root to end and side to side
CELLS_ALONG, CELLS_ACROSS = 20, 24  # cells, of which blocks are made; where two colours lie is looked for in these
FEWEST_IN_BLOCK = 25
DARKEST = 1e-4  # of white: below, a logarithm would run away


@dataclass(frozen=True, eq=False)
class Shading:
    """How light runs across one zone, in a form that adds up over zones.

    middle_px : Mean place of the hair pixels in the zone's box, x and y. shape (2,).
    places : Products of the places about their middle, summed over the pixels. [px^2] shape (2, 2).
    light : Products of the same places with the logarithm of light. [px] shape (2,).
    """

    middle_px: FloatArray
    places: FloatArray
    light: FloatArray


@dataclass(frozen=True, eq=False)
class ZoneLight:
    """Statistics of one zone's hair pixels, all in linear light.

    hair_u : Of the mean light (see hair_space). shape (3,).
    mean_covariance : Of `hair_u` as far as blocks of the zone disagree. shape (3, 3).
    features : What the model looks at beside `hair_u`: log ratio of the 95th centile of light to the median, and of
        the median to the 5th; red/green and blue/green of the brightest quarter less those of the whole, light
        averaged along short runs. Shine keeps the lamp's colour however dark the hair, so these tell pigment from
        shade. shape (4,).
    block_xyz : Mean light of blocks along the root-to-end axis and across it, NaN where a block holds too little
        hair. shape (ALONG, ACROSS, 3).
    strip_xyz : Mean light of the strips from root to end. shape (ALONG, 3).
    cell_sums : Sum of the light of each cell's hair pixels, and their number. shape (CELLS_ALONG, CELLS_ACROSS, 4).
    shine_share, shadow_share, clipped_share : Of the pixels inside the borders, how many were left out and why.
    fibre_contrast : Standard deviation of the logarithm of light at the size of strands.
    shading : How the light runs across the zone.
    """

    hair_u: FloatArray
    mean_covariance: FloatArray
    features: FloatArray
    block_xyz: FloatArray
    strip_xyz: FloatArray
    cell_sums: FloatArray
    pixels: int
    shine_share: float
    shadow_share: float
    clipped_share: float
    fibre_contrast: float
    shading: Shading


def light_of(corrected: CorrectedPhoto, zone: Zone) -> ZoneLight:
    """The light of one zone.

    Raises
    ------
    TooLittleHairError : Fewer than 150 hair pixels, or none at all.
    """
    hair = hair_pixels(corrected, zone)
    if hair.pixels < FEWEST_PIXELS:
        raise _too_little(zone, hair)
    return light_of_pixels(hair, axis_of(zone), _contrast(corrected, zone))


def _contrast(corrected: CorrectedPhoto, zone: Zone) -> float:
    contrast = fibre_contrast(corrected, zone)
    if contrast < FLAT_CONTRAST and zone.known_lab_d65 is None:
        raise TooLittleHairError(
            zone.name, "no_hair", f"The zone {zone.name} shows a smooth surface and no hair. Outline hair alone."
        )
    return contrast


def light_of_pixels(hair: HairPixels, axis: Axis, contrast: float) -> ZoneLight:
    """The light of these hair pixels of a zone: of all of them, or of those of one colour."""
    cell_sums = _cell_sums(hair, cells_of(hair, axis))
    block_xyz, counts = _block_means(cell_sums)
    strip_xyz = _strip_means(block_xyz, counts)
    block_xyz[counts < FEWEST_IN_BLOCK] = np.nan
    return ZoneLight(
        hair_u=hair_u_of_xyz(hair.xyz_d65.mean(axis=0, dtype=np.float64)),
        mean_covariance=_covariance_of_mean(block_xyz),
        features=_features(hair),
        block_xyz=block_xyz,
        strip_xyz=strip_xyz,
        cell_sums=cell_sums,
        pixels=hair.pixels,
        shine_share=hair.shine_share,
        shadow_share=hair.shadow_share,
        clipped_share=hair.clipped_share,
        fibre_contrast=contrast,
        shading=_shading(hair),
    )


def _features(hair: HairPixels) -> FloatArray:
    """Spread of the light and how its colour goes with it; see ZoneLight. shape (4,)."""
    luminance = hair.xyz_d65[:, 1]
    places = [int(share * (len(luminance) - 1)) for share in (0.05, 0.5, 0.95)]
    lowest, middle, highest = np.log(np.maximum(np.partition(luminance, places)[places], DARKEST))
    runs = _runs(hair)
    quarter = (3 * len(runs)) // 4
    bright = runs[:, 1] >= np.partition(runs[:, 1], quarter)[quarter]
    brighter = hair_u_of_xyz(_mean_where(bright, runs)) - hair_u_of_xyz(runs.mean(axis=0, dtype=np.float64))
    return np.array([highest - middle, middle - lowest, *brighter[1:]])


def _runs(hair: HairPixels) -> NDArray[np.float32]:
    """Means of runs of neighbouring pixels: noise alone would make bright pixels greener. shape (runs, 3)."""
    length = min(hair.run_px, len(hair.xyz_d65))
    whole = len(hair.xyz_d65) // length * length
    # Summed place by place: reducing over an axis of six takes ten times as long.
    runs: NDArray[np.float32] = hair.xyz_d65[0:whole:length].copy()
    for place in range(1, length):
        runs += hair.xyz_d65[place:whole:length]
    return runs / np.float32(length)


def _shading(hair: HairPixels) -> Shading:
    """How the light of these pixels runs across the zone."""
    places = np.stack([hair.x_px, hair.y_px]).astype(np.float32)
    middle = places.mean(axis=1, dtype=np.float64)
    about = places - middle[:, None].astype(np.float32)
    log_light = np.log(np.maximum(hair.xyz_d65[:, 1], DARKEST))
    products = (about @ (log_light - log_light.mean())).astype(np.float64)
    return Shading(middle, hair.row_step * (about @ about.T).astype(np.float64), hair.row_step * products)


def _mean_where(chosen: BoolArray, xyz_d65: NDArray[np.float32]) -> FloatArray:
    """Mean light of the chosen pixels, as one product: picking them out first takes three times as long. shape (3,)."""
    mean: FloatArray = (chosen.astype(np.float32) @ xyz_d65).astype(np.float64) / max(int(chosen.sum()), 1)
    return mean


def cells_of(hair: HairPixels, axis: Axis) -> NDArray[np.int64]:
    """Number of the cell that each hair pixel lies in, row by row from the root. shape (pixels,)."""
    along = np.clip(axis.along(hair.x_px, hair.y_px) * CELLS_ALONG, 0, CELLS_ALONG - 1).astype(np.int64)
    across = np.clip(axis.across(hair.x_px, hair.y_px) * CELLS_ACROSS, 0, CELLS_ACROSS - 1).astype(np.int64)
    return along * CELLS_ACROSS + across


def _cell_sums(hair: HairPixels, cells: NDArray[np.int64]) -> FloatArray:
    """Light and pixels of each cell; see ZoneLight. shape (CELLS_ALONG, CELLS_ACROSS, 4)."""
    number = CELLS_ALONG * CELLS_ACROSS
    sums = [np.bincount(cells, hair.xyz_d65[:, channel], number) for channel in range(3)]
    counts = np.bincount(cells, minlength=number).astype(np.float64)
    return np.stack([*sums, counts], axis=1).reshape(CELLS_ALONG, CELLS_ACROSS, 4)


def summed(cell_sums: FloatArray, along: int, across: int) -> FloatArray:
    """Cells joined to so many along and across. shape (along, across, 4)."""
    rows, columns = cell_sums.shape[:2]
    joined: FloatArray = cell_sums.reshape(along, rows // along, across, columns // across, 4).sum(axis=(1, 3))
    return joined


def _block_means(cell_sums: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean light of each block, shape (ALONG, ACROSS, 3), and its pixels, shape (ALONG, ACROSS)."""
    blocks = summed(cell_sums, ALONG, ACROSS)
    with np.errstate(invalid="ignore"):
        means = blocks[..., :3] / blocks[..., 3:]
    return means, blocks[..., 3]


def _strip_means(block_xyz: FloatArray, counts: FloatArray) -> FloatArray:
    """Mean light of each strip across the zone; NaN where it holds too little hair. shape (ALONG, 3)."""
    in_strip = counts.sum(axis=1)
    with np.errstate(invalid="ignore"):
        strips: FloatArray = np.nansum(block_xyz * counts[..., None], axis=1) / in_strip[:, None]
    strips[in_strip < FEWEST_IN_BLOCK] = np.nan
    return strips


def _covariance_of_mean(block_xyz: FloatArray) -> FloatArray:
    """How far the zone's mean would move if it had been cut from a neighbouring piece of hair. shape (3, 3)."""
    full = block_xyz[np.isfinite(block_xyz[..., 0])]
    if len(full) < 4:
        return np.diag(np.square([0.15, 0.03, 0.06]))
    covariance: FloatArray = np.cov(hair_u_of_xyz(full).T) / len(full)
    return covariance


def _too_little(zone: Zone, hair: HairPixels) -> TooLittleHairError:
    if zone.pixels < FEWEST_PIXELS:
        return TooLittleHairError(
            zone.name,
            "too_little_hair",
            f"The zone {zone.name} has {zone.pixels} pixels; {FEWEST_PIXELS} of hair are needed. "
            "Outline more of it, or take the photo from closer.",
        )
    if hair.clipped_share > 0.5:
        return TooLittleHairError(
            zone.name,
            "no_hair",
            f"The zone {zone.name} is too bright to be measured. Take the photo again with less light on the hair.",
        )
    return TooLittleHairError(
        zone.name, "no_hair", f"There is no hair to read in the zone {zone.name}. Outline hair, away from the card."
    )
