"""The colours that hair can have, as a mixture of kernels: what is believed before a photo is looked at.

Undyed hair lies on a narrow band (pigment); dyed hair lies around it; a broad share says that it may be anything.
"""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.hair_space import hair_u_of_lab
from estimator.zones.outline import Setting


@dataclass(frozen=True, eq=False)
class HairColours:
    """Kernels in hair_u.

    middle : shape (kernels, 3).
    sd : Standard deviation along each coordinate. shape (kernels, 3).
    log_weight : Logarithm of each kernel's share. shape (kernels,).
    """

    middle: FloatArray
    sd: FloatArray
    log_weight: FloatArray

    def __post_init__(self) -> None:
        if not (self.middle.shape == self.sd.shape == (len(self.log_weight), 3) and np.all(self.sd > 0)):
            raise ValueError("Hair colours need a middle, a spread above 0 and a weight for each kernel.")
        for array in (self.middle, self.sd, self.log_weight):
            array.setflags(write=False)


def single_colour(lab_d65: FloatArray) -> HairColours:
    """A swatch of known colour: one narrow kernel, as wide as moving the swatch under an instrument moves it."""
    # 0.04 in the logarithm of light is about 0.7 L*: repeated readings of one tress differ by 0.3 to 1.2 L*.
    return HairColours(hair_u_of_lab(lab_d65)[None], np.array([[0.04, 0.01, 0.02]]), np.zeros(1))


@cache
def hair_colours() -> Mapping[Setting, HairColours]:
    """The shipped mixtures, from tables/hair_colours.csv: the same colours, weighed for each setting."""
    text = resources.files("estimator.reading").joinpath("tables", "hair_colours.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
    return {setting: from_rows(rows, setting) for setting in Setting}


def from_rows(rows: Sequence[Mapping[str, str]], setting: Setting) -> HairColours:
    """The mixture of rows with lab_l, lab_a, lab_b, sd_light, sd_red, sd_blue, board, head (weights), source."""
    if not rows or not all(row["source"] for row in rows):
        raise ValueError("Every hair colour needs its source.")
    weight = np.array([float(row[setting]) for row in rows])
    kept = weight > 0
    lab = np.array([[float(row[column]) for column in ("lab_l", "lab_a", "lab_b")] for row in rows])[kept]
    spread = np.array([[float(row[column]) for column in ("sd_light", "sd_red", "sd_blue")] for row in rows])[kept]
    return HairColours(hair_u_of_lab(lab), spread, np.log(weight[kept] / weight.sum()))
