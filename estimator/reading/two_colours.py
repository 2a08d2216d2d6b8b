"""Whether a zone holds two colours of hair, and where each lies: foils or grey between strands, or roots and lengths.

Shine and shade change the lightness and, along a fixed path, the colour of one and the same hair; how far they do in
ordinary zones is known from the renders. Two groups of cells that lie further apart than that, in lightness, red and
blue together, are two colours. Side by side they must hold over a quarter of the zone's length, which a coil's shadow
does not; from root to end they must part at one place, which a shine line, bright in the middle, does not.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from calibration.photo import BoolArray, FloatArray
from estimator.reading.hair_space import hair_u_of_xyz
from estimator.reading.zone_light import CELLS_ACROSS, CELLS_ALONG, ZoneLight, summed
from estimator.zones.outline import Setting

QUARTERS = 4  # of the length: strands side by side are compared inside each
RIM = 1  # cells left out at either side: there hair thins out and background shows
FEWEST_IN_CELL, FEWEST_CELLS = 12, 24
TREND_POWERS = 3  # of the place across: a lock is round, and darker towards its sides
ROUNDS = 8
SHORTEST_STRIPS = 3
FIGURES = (
    *("strands_apart", "lengths_apart", "strands_share_half", "lengths_share_half", "strands_mixed", "lengths_mixed"),
)
OWN_SCATTER = 0.3  # least scatter inside a part, in usual scatters, that a step along the hair is held against
# Of the way to the other colour. Only cells beyond the middle of their group show one colour alone: strands are
# narrower than cells, and a limit of 0.35 left the parts of composites 1.4 ΔE2000 further from the truth.
SURE_BELOW = -0.1


class Lie(StrEnum):
    """How two colours lie in a zone."""

    STRANDS = "strands"
    LENGTHS = "root and lengths"


@dataclass(frozen=True, eq=False)
class UsualScatter:
    """How far parts of one colour lie apart in one setting, in hair_u, and from where on that is another colour.

    strands, lengths : Covariance between cells side by side, and between strips from root to end. shape (3, 3).
    strands_apart, lengths_apart : Distance of two groups, in usual scatters, beyond which they are two colours.
    strands_share_half, lengths_share_half : Half the nine-in-ten interval of a share.
    strands_mixed, lengths_mixed : How much of the other colour a part may still hold, as a standard deviation.
    """

    strands: FloatArray
    lengths: FloatArray
    strands_apart: float
    lengths_apart: float
    strands_share_half: float
    lengths_share_half: float
    strands_mixed: float
    lengths_mixed: float

    def share_half(self, lie: Lie) -> float:
        """Half the nine-in-ten interval of the share of either colour."""
        return self.strands_share_half if lie is Lie.STRANDS else self.lengths_share_half

    def mixed(self, lie: Lie) -> float:
        """How much of the other colour a part may still hold, as a standard deviation."""
        return self.strands_mixed if lie is Lie.STRANDS else self.lengths_mixed


@dataclass(frozen=True, eq=False)
class TwoColours:
    """Two colours found in a zone.

    second : Where the second colour lies: the lengths, or the lighter strands. bool, shape (CELLS_ALONG, CELLS_ACROSS).
    sure : Cells that clearly show one of the two. The same shape.
    share : Of the second colour in the zone's hair pixels.
    apart : Distance over the distance from which on they count as two.
    """

    lie: Lie
    second: BoolArray
    sure: BoolArray
    share: float
    apart: float


def two_colours(light: ZoneLight, usual: UsualScatter) -> TwoColours | None:
    """The two colours of a zone, or None where one explains what is seen."""
    found = [one for one in (lengths_of(light, usual), strands_of(light, usual)) if one is not None and one.apart > 1]
    return max(found, key=lambda one: one.apart) if found else None


def lengths_of(light: ZoneLight, usual: UsualScatter) -> TwoColours | None:
    """The best division into root and lengths, however weak; None where the zone is too short for one."""
    strips = summed(light.cell_sums, CELLS_ALONG, 1)[:, 0]
    full = np.flatnonzero(strips[:, 3] >= FEWEST_IN_CELL)
    if len(full) < 2 * SHORTEST_STRIPS + 1:
        return None
    pixels = strips[full, 3]
    scaled = hair_u_of_xyz(strips[full, :3] / pixels[:, None]) @ _whitening(usual.lengths)
    weight = np.cumsum(pixels)
    sums = np.cumsum(scaled * pixels[:, None], axis=0)
    cut = np.arange(SHORTEST_STRIPS, len(full) - SHORTEST_STRIPS + 1) - 1  # last strip of the root
    root, rest = weight[cut], weight[-1] - weight[cut]
    root_middle, rest_middle = sums[cut] / root[:, None], (sums[-1] - sums[cut]) / rest[:, None]
    apart = np.linalg.norm(root_middle - rest_middle, axis=1)
    squares = float(pixels @ np.square(scaled).sum(axis=1))
    left = squares - root * np.square(root_middle).sum(axis=1) - rest * np.square(rest_middle).sum(axis=1)
    inside = np.maximum(left, 0) / (3 * weight[-1])
    best = int(np.argmax(apart * (2 * np.minimum(root, rest) / weight[-1]) ** 0.25))
    strength = apart[best] / np.sqrt(inside[best] + OWN_SCATTER) / usual.lengths_apart
    return _at_cut(strips, int(full[cut[best]]) + 1, float(strength))


def _at_cut(strips: FloatArray, row: int, apart: float) -> TwoColours:
    """Root above this row of cells, lengths below it; one row to either side of the border is not sure."""
    rows = np.arange(CELLS_ALONG)
    second = np.repeat((rows >= row)[:, None], CELLS_ACROSS, axis=1)
    sure = np.repeat((np.abs(rows + 0.5 - row) > 1)[:, None], CELLS_ACROSS, axis=1)
    below = np.r_[np.cumsum(strips[::-1, 3])[::-1], 0.0] / strips[:, 3].sum()
    return TwoColours(Lie.LENGTHS, second, sure, float(below[row]), apart)


def strands_of(light: ZoneLight, usual: UsualScatter) -> TwoColours | None:
    """The best division into two groups of strands, however weak; None where the zone is too small for one."""
    cells = summed(light.cell_sums, QUARTERS, CELLS_ACROSS)[:, RIM:-RIM]
    full = cells[..., 3] >= FEWEST_IN_CELL
    if full.sum() < FEWEST_CELLS:
        return None
    pixels = cells[full][:, 3]
    hair_u = hair_u_of_xyz(cells[full][:, :3] / pixels[:, None])
    scaled = _without_trend(hair_u, pixels, full) @ _whitening(usual.strands)
    second = _two_groups(scaled, pixels)
    if second is None:
        return None
    first_middle, second_middle = (_mean(scaled[group], pixels[group]) for group in (~second, second))
    between = second_middle - first_middle
    # The lighter is the second.
    if (_mean(hair_u[second], pixels[second]) - _mean(hair_u[~second], pixels[~second]))[0] < 0:
        second, first_middle, between = ~second, second_middle, -between
    apart = float(np.linalg.norm(between))
    way = (scaled - first_middle) @ between / apart**2  # 0 at the first colour, 1 at the second
    gain = (_mean(hair_u[second], pixels[second]) - _mean(hair_u[~second], pixels[~second]))[0]
    return _in_cells(full, pixels, second, (way, gain), apart / usual.strands_apart)


def _without_trend(hair_u: FloatArray, pixels: FloatArray, full: BoolArray) -> FloatArray:
    """hair_u less each quarter's own mean and a smooth change from side to side. shape (cells, 3)."""
    quarter, place = np.nonzero(full)
    across = place / (full.shape[1] - 1) * 2 - 1
    design = np.column_stack(
        [quarter == number for number in range(QUARTERS)] + [across**power for power in range(1, TREND_POWERS + 1)]
    )
    weighted = design * pixels[:, None]
    solution = np.linalg.solve(weighted.T @ design + 1e-6 * np.eye(design.shape[1]), weighted.T @ hair_u)
    left: FloatArray = hair_u - design @ solution
    return left


def _two_groups(scaled: FloatArray, pixels: FloatArray) -> BoolArray | None:
    """Which cells belong to the second of two groups that lie furthest apart (two means, from the longest axis)."""
    middle = scaled - _mean(scaled, pixels)
    axis = np.linalg.eigh((middle * pixels[:, None]).T @ middle)[1][:, -1]
    second = middle @ axis > 0
    for _ in range(ROUNDS):
        if not 0 < second.sum() < len(second):
            return None
        one, other = _mean(middle[~second], pixels[~second]), _mean(middle[second], pixels[second])
        nearer = (middle - (one + other) / 2) @ (other - one) > 0
        if np.array_equal(nearer, second):
            break
        second = nearer
    return second if 0 < second.sum() < len(second) else None


def _in_cells(
    full: BoolArray, pixels: FloatArray, second: BoolArray, ways: tuple[FloatArray, float], apart: float
) -> TwoColours:
    """The two groups laid back onto the zone's cells, with the share of the second.

    ways : How far each cell lies on the way from the first colour to the second, and the step in log light between.
    """
    way, gain = ways
    in_second, sure = (np.zeros((QUARTERS, CELLS_ACROSS), dtype=bool) for _ in range(2))
    in_second[:, RIM:-RIM][full] = second
    sure[:, RIM:-RIM][full] = np.where(second, way > 1 - SURE_BELOW, way < SURE_BELOW)
    mixed = np.clip(way, 0, 1)
    if gain > 1e-3:  # light adds up, its logarithm does not: a cell half of each looks nearer to the lighter
        mixed = np.expm1(gain * mixed) / np.expm1(gain)
    share = float(pixels @ mixed / pixels.sum())
    repeat = CELLS_ALONG // QUARTERS
    return TwoColours(Lie.STRANDS, in_second.repeat(repeat, axis=0), sure.repeat(repeat, axis=0), share, apart)


def _mean(values: FloatArray, pixels: FloatArray) -> FloatArray:
    mean: FloatArray = pixels @ values / pixels.sum()
    return mean


def _whitening(covariance: FloatArray) -> FloatArray:
    """What turns differences of hair_u into usual scatters. shape (3, 3)."""
    root: FloatArray = np.linalg.cholesky(np.linalg.inv(covariance)).astype(np.float64)
    return root


@cache
def usual_scatters() -> Mapping[Setting, UsualScatter]:
    """The shipped figures, from tables/two_colours.toml."""
    text = resources.files("estimator.reading").joinpath("tables", "two_colours.toml").read_text(encoding="utf-8")
    return usual_from_document(tomllib.loads(text))


def usual_from_document(document: Mapping[str, Any]) -> Mapping[Setting, UsualScatter]:
    """The figures in a document of the form of two_colours.toml. ValueError where script or data are not named."""
    if not (document.get("script") and document.get("data") and document.get("source")):
        raise ValueError("Figures of two colours must name the script and the data that made them, and a source.")
    return {
        setting: UsualScatter(
            np.array(document[setting]["strands"], dtype=np.float64),
            np.array(document[setting]["lengths"], dtype=np.float64),
            *(float(document[setting][name]) for name in FIGURES),
        )
        for setting in Setting
    }


def scatter_between(light: ZoneLight) -> tuple[FloatArray | None, FloatArray | None]:
    """Covariance between a zone's cells side by side, and between its strips: what a study learns from. (3, 3) each."""
    cells = summed(light.cell_sums, QUARTERS, CELLS_ACROSS)[:, RIM:-RIM]
    full = cells[..., 3] >= FEWEST_IN_CELL
    strips = summed(light.cell_sums, CELLS_ALONG, 1)[:, 0]
    strips = strips[strips[:, 3] >= FEWEST_IN_CELL]
    side_by_side = along = None
    if full.sum() >= FEWEST_CELLS:
        hair_u = hair_u_of_xyz(cells[full][:, :3] / cells[full][:, 3:])
        side_by_side = np.cov(_without_trend(hair_u, cells[full][:, 3], full).T, aweights=cells[full][:, 3])
    if len(strips) > 2 * SHORTEST_STRIPS:
        along = np.cov(hair_u_of_xyz(strips[:, :3] / strips[:, 3:]).T, aweights=strips[:, 3])
    return side_by_side, along
