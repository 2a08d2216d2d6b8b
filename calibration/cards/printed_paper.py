"""The bare paper between the discs of a printed card: one colour everywhere, so it shows how the light falls."""

from dataclasses import dataclass

import numpy as np

from calibration.cards.geometry import project
from calibration.cards.printed_layout import printed_layout
from calibration.photo import BoolArray, FloatArray, Photo

# Six gaps lie round each disc, as far from its centre as the corners of a honeycomb cell. [mm on A6]
GAP_MM = 8.66
# What counts as paper: at least this share of the usual light, the channels alike within this share. [our assumption]
PAPER_SHARE = 0.45
COLOURED_PAPER = 0.25
FEWEST_GAPS = 12


@dataclass(frozen=True, eq=False)
class GapLight:
    """Light in the gaps beside each disc.

    places_mm : shape (discs, 6, 2). linear_rgb : shape (discs, 6, 3). inside : In the frame.
    paper : Bare paper is seen there.
    """

    places_mm: FloatArray
    linear_rgb: FloatArray
    inside: BoolArray
    paper: BoolArray


@dataclass(frozen=True, eq=False)
class PaperLight:
    """How light falls on the card, from its paper.

    log_slope : Change of each channel's logarithm for a millimetre across and down. shape (2, 3).
    middle_mm : Where it equals `linear_rgb`, the paper's light. shapes (2,), (3,).
    """

    log_slope: FloatArray
    middle_mm: FloatArray
    linear_rgb: FloatArray

    def ratio(self, places_mm: FloatArray) -> FloatArray:
        """Light at places over light in the middle. shape (n, 3)."""
        ratio: FloatArray = np.exp((places_mm - self.middle_mm) @ self.log_slope)
        return ratio

    @property
    def edge_ratio(self) -> float:
        """Light at one edge of the card over light at the opposite one, at least 1."""
        across, down = np.abs(self.log_slope.mean(axis=1)) * [148, 105]
        return float(np.exp(max(across, down)))

    @property
    def chroma_drift(self) -> float:
        """About the change of a* and b* of a white from edge to edge of the card."""
        drift = (self.log_slope - self.log_slope.mean(axis=1, keepdims=True)) * np.array([[148.0], [105.0]])
        # A channel one per cent stronger shifts a white by about one unit of a* or b* (CIELAB at white, 500/3 %).
        return float(100 * np.sqrt(np.square(drift).sum(axis=0)).max())


def gap_light(photo: Photo, to_photo: FloatArray) -> GapLight:
    """Light in the gaps. to_photo : homography from millimetres of the A6 sheet to pixels."""
    turns = np.radians(30 + 60 * np.arange(6))
    places_mm = printed_layout().places_mm[:, None] + GAP_MM * np.stack([np.cos(turns), np.sin(turns)], axis=-1)
    places = np.rint(project(to_photo, places_mm)).astype(int)
    in_frame = (places >= 0) & (places < [photo.width_px, photo.height_px])
    inside: BoolArray = np.all(in_frame, axis=-1)
    x = np.clip(places[..., 0], 0, photo.width_px - 1)
    y = np.clip(places[..., 1], 0, photo.height_px - 1)
    codes = photo.encoded_rgb[y, x]
    tables = photo.encoding.tables
    light = np.stack([tables[channel][codes[..., channel]] for channel in range(3)], axis=-1).astype(np.float64)
    usual = np.median(light[inside], axis=0) if inside.any() else np.ones(3)
    ratio = light / np.maximum(usual, 1e-4)
    even = np.ptp(ratio, axis=-1) < COLOURED_PAPER * np.maximum(ratio.max(axis=-1), 1e-4)
    paper: BoolArray = np.asarray(inside & even & (ratio.mean(axis=-1) > PAPER_SHARE))
    return GapLight(places_mm, light, inside, paper)


def hidden_discs(gaps: GapLight) -> BoolArray:
    """Which discs have something over them: paper shows in less than half of their gaps. shape (discs,)."""
    hidden: BoolArray = gaps.paper.sum(axis=1) < np.maximum(gaps.inside.sum(axis=1), 1) / 2
    return hidden


def paper_light(gaps: GapLight) -> PaperLight | None:
    """Plane through the logarithm of the paper's light; None where too little paper is seen."""
    if gaps.paper.sum() < FEWEST_GAPS:
        return None
    places, log_light = gaps.places_mm[gaps.paper], np.log(np.maximum(gaps.linear_rgb[gaps.paper], 1e-4))
    middle = np.array([74.0, 42.0])
    design = np.concatenate([np.ones((len(places), 1)), places - middle], axis=1)
    solution = np.linalg.lstsq(design, log_light, rcond=None)[0]
    return PaperLight(solution[1:], middle, np.exp(solution[0]))
