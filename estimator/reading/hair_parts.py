"""The two parts of a zone that holds two colours: the light of each, and what each reads."""

from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import delta_e_2000
from calibration.corrected import CorrectedPhoto
from calibration.photo import BoolArray, XyzD65
from estimator.reading.flat_tress import SeenZone, TressColour
from estimator.reading.two_colours import Lie, TwoColours, UsualScatter
from estimator.reading.zone_light import FEWEST_PIXELS, ZoneLight, cells_of, light_of_pixels
from estimator.reading.zone_reading import HairPart
from estimator.zones.axis import axis_of
from estimator.zones.hair_pixels import HairPixels, hair_pixels

# Two parts that read nearer than this are one colour to the eye; our assumption. [ΔE2000]
PARTS_FROM = 5.0
PLACES = {Lie.LENGTHS: ("root", "lengths"), Lie.STRANDS: ("darker strands", "lighter strands")}


@dataclass(frozen=True, eq=False)
class SplitZone:
    """A zone in which two colours were found, and the light of each, the first as in PLACES."""

    found: TwoColours
    parts: tuple[SeenZone, SeenZone]


def split(corrected: CorrectedPhoto, one: SeenZone, found: TwoColours) -> SplitZone | None:
    """The light of both parts of a zone; None where one of them shows too little hair."""
    axis, hair = axis_of(one.zone), hair_pixels(corrected, one.zone)
    cells = cells_of(hair, axis)
    lights: list[ZoneLight] = []
    for part in (~found.second, found.second):
        # Cells on the border of two colours show both: they count only where a part has little else.
        chosen = (part & found.sure).ravel()[cells]
        if chosen.sum() * hair.row_step < FEWEST_PIXELS:
            chosen = part.ravel()[cells]
        if chosen.sum() * hair.row_step < FEWEST_PIXELS:
            return None
        lights.append(light_of_pixels(_chosen(hair, chosen), axis, one.light.fibre_contrast))
    first, second = (SeenZone(one.zone, light, one.surroundings) for light in lights)
    return SplitZone(found, (first, second))


def _chosen(hair: HairPixels, chosen: BoolArray) -> HairPixels:
    return HairPixels(
        XyzD65(hair.xyz_d65[chosen]),
        hair.x_px[chosen],
        hair.y_px[chosen],
        hair.shine_share,
        hair.shadow_share,
        hair.clipped_share,
        hair.row_step,
    )


def hair_parts(
    found: TwoColours, colours: tuple[TressColour, TressColour], usual: UsualScatter
) -> tuple[HairPart, ...]:
    """Both parts with their shares, the larger first; none where they read alike."""
    if delta_e_2000(colours[0].lab_d65, colours[1].lab_d65) < PARTS_FROM:
        return ()
    half = usual.share_half(found.lie)
    between = colours[1].lab_d65 - colours[0].lab_d65
    mixed = (usual.mixed(found.lie) ** 2) * np.outer(between, between)
    parts = [
        HairPart(
            place, share, max(0.0, share - half), min(1.0, share + half), colour.lab_d65, colour.covariance + mixed
        )
        for place, share, colour in zip(PLACES[found.lie], (1 - found.share, found.share), colours, strict=True)
    ]
    return tuple(sorted(parts, key=lambda part: -part.share))
