"""How colour runs through a zone from root to end, and how far its parts differ."""

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.hair_space import hair_u_of_lab, hair_u_of_xyz, lab_of_hair_u
from estimator.reading.zone_light import ZoneLight
from estimator.reading.zone_reading import ProfilePoint

FEWEST_STRIPS = 4
LONE_BLOCK_L_SD = 3.0


def profile_of(lab_d65: FloatArray, light: ZoneLight) -> tuple[ProfilePoint, ...]:
    """Colour along the zone's own axis, root first; empty where fewer than four strips hold enough hair.

    Each strip stands to the zone's reading as its light stands to the zone's light. So its own standard deviation holds
    what the blocks across the strip leave open, and not the error of the reading, which all strips share.
    """
    full = np.flatnonzero(np.isfinite(light.strip_xyz[:, 0]))
    if len(full) < FEWEST_STRIPS:
        return ()
    strips = _as_tress(lab_d65, light, light.strip_xyz[full])
    across = _as_tress(lab_d65, light, light.block_xyz[full])
    lightness_sd = _sd_of_means(across[..., 0])
    return tuple(
        ProfilePoint(
            share=float((strip + 0.5) / len(light.strip_xyz)),
            lab_d65=(float(lab[0]), float(lab[1]), float(lab[2])),
            lightness_sd=float(sd),
        )
        for strip, lab, sd in zip(full, strips, lightness_sd, strict=True)
    )


def spread_of(lab_d65: FloatArray, light: ZoneLight) -> FloatArray:
    """Standard deviation of L*, a*, b* between the blocks of a zone, shading included. shape (3,)."""
    full = light.block_xyz[np.isfinite(light.block_xyz[..., 0])]
    if len(full) < 2:
        return np.zeros(3)
    spread: FloatArray = _as_tress(lab_d65, light, full).std(axis=0, ddof=1)
    return spread


def _as_tress(lab_d65: FloatArray, light: ZoneLight, part_xyz: FloatArray) -> FloatArray:
    """Lab of parts of a zone whose reading is `lab_d65`. shape (..., 3); NaN stays NaN."""
    against_zone = hair_u_of_xyz(part_xyz) - light.hair_u
    return lab_of_hair_u(hair_u_of_lab(lab_d65) + against_zone)


def _sd_of_means(lightness: FloatArray) -> FloatArray:
    """Standard deviation of the mean of the blocks across each strip. shape (strips,).

    With one block in a strip, that of a block as the renders have it.
    """
    full = np.isfinite(lightness)
    count = full.sum(axis=1)
    middle = np.where(full, lightness, 0.0).sum(axis=1) / np.maximum(count, 1)
    squares = np.where(full, lightness - middle[:, None], 0.0) ** 2
    sd = np.sqrt(squares.sum(axis=1) / np.maximum(count - 1, 1) / np.maximum(count, 1))
    return np.where(count > 1, sd, LONE_BLOCK_L_SD)
