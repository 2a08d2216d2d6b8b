"""Hair of two colours, made from photographs of hair of one: parts of a zone replaced in linear light.

The second colour comes from another lock of the same photograph, laid over the first by its own axis, so that it was
lit and developed alike; or it is the zone's own hair, recoloured as that other lock looks, so that texture, shine and
shade stay as they were.
"""

from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray

from estimator.zones.axis import Axis, axis_of
from estimator.zones.outline import Zone

FloatImage = NDArray[np.float32]
Mask = NDArray[np.bool_]


class Lie(StrEnum):
    """How the second colour lies in the zone."""

    FOILS = "foils"
    SALT_AND_PEPPER = "salt and pepper"
    ROOT = "root and length"


@dataclass(frozen=True)
class Blend:
    """How much of the second colour there is, and how it lies.

    share : Of the zone's area. width_px : Of one foil or one strand. sway_px : How far foils wave from side to side.
    """

    lie: Lie
    share: float
    width_px: float = 8.0
    sway_px: float = 1.5
    seed: int = 1


def linear_of(encoded_rgb8: NDArray[np.uint8]) -> FloatImage:
    """Linear light of an sRGB picture (IEC 61966-2-1). float32, 0-1."""
    codes = np.arange(256) / 255
    table = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return table[encoded_rgb8]


def encoded_of(linear_rgb: FloatImage) -> NDArray[np.uint8]:
    """The sRGB picture of linear light."""
    light = np.clip(linear_rgb, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255 * curve).astype(np.uint8)


def jpeg_of(linear_rgb: FloatImage, quality: int = 92) -> bytes:
    """A JPEG of linear light, chroma halved as phones do."""
    bgr8 = np.ascontiguousarray(encoded_of(linear_rgb)[:, :, ::-1])
    return cv2.imencode(".jpg", bgr8, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()


def second_colour(zone: Zone, blend: Blend) -> Mask:
    """Where in the zone's box the second colour lies. bool, the shape of the box."""
    axis, random = axis_of(zone), np.random.default_rng(blend.seed)
    y_px, x_px = np.mgrid[0 : zone.box.height_px, 0 : zone.box.width_px].astype(np.float64)
    along, across_px = axis.along(x_px, y_px), axis.across(x_px, y_px) * 2 * axis.half_width_px
    if blend.lie is Lie.ROOT:
        edge = 0.03 * random.normal(size=64)[np.clip(across_px, 0, 63).astype(int)]
        return (along < blend.share + edge) & zone.mask
    if blend.lie is Lie.FOILS:
        sway_px = blend.sway_px * np.sin(3 * np.pi * along + random.uniform(0, 6))
        place = across_px + sway_px + random.uniform(0, 100)
        return (np.mod(place * blend.share / blend.width_px, 1.0) < blend.share) & zone.mask
    strand = np.floor((across_px + 1000) / blend.width_px).astype(int)
    return (random.uniform(size=strand.max() + 1)[strand] < blend.share) & zone.mask


def laid_over(linear_rgb: FloatImage, host: Zone, donor: Zone) -> FloatImage:
    """Another zone's light, place by place along and across, resampled onto the box of `host`."""
    to, source = axis_of(host), axis_of(donor)
    y_px, x_px = np.mgrid[0 : host.box.height_px, 0 : host.box.width_px].astype(np.float64)
    # Kept inside the donor: its rim is background.
    along, across = np.clip(to.along(x_px, y_px), 0.06, 0.94), np.clip(to.across(x_px, y_px), 0.12, 0.88)
    x_at, y_at = _places(source, along, across)
    places = [(grid + corner).astype(np.float32) for grid, corner in ((x_at, donor.box.left), (y_at, donor.box.top))]
    return cv2.remap(linear_rgb, *places, cv2.INTER_LINEAR)


def _places(axis: Axis, along: NDArray[np.float64], across: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    down, sideways = (along - 0.5) * 2 * axis.half_length_px, (across - 0.5) * 2 * axis.half_width_px
    return [
        axis.origin_px[0] + down * axis.direction[0] - sideways * axis.direction[1],
        axis.origin_px[1] + down * axis.direction[1] + sideways * axis.direction[0],
    ]


def recoloured(linear_rgb: FloatImage, host: Zone, mean_rgb: NDArray[np.float64]) -> FloatImage:
    """The light of the box of `host`, each channel multiplied so that the zone's mean becomes `mean_rgb`."""
    here = linear_rgb[host.box.slices]
    return here * (mean_rgb / here[host.mask].mean(axis=0)).astype(np.float32)


def mean_light(linear_rgb: FloatImage, zone: Zone) -> NDArray[np.float64]:
    """Mean light of a zone in the photograph. shape (3,)."""
    mean: NDArray[np.float64] = linear_rgb[zone.box.slices][zone.mask].mean(axis=0).astype(np.float64)
    return mean


def blended(linear_rgb: FloatImage, host: Zone, second: FloatImage, blend: Blend) -> FloatImage:
    """The photograph with the second colour in the zone, borders between strands softened by a pixel."""
    soft = cv2.GaussianBlur(second_colour(host, blend).astype(np.float32), (0, 0), 0.6)[..., None]
    picture = linear_rgb.copy()
    box = picture[host.box.slices]
    box[host.mask] = (box * (1 - soft) + second * soft)[host.mask]
    return picture
