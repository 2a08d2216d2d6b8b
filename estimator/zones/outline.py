"""Zones of hair: where each lies in the photograph, and what the colourist says of it."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from calibration.photo import BoolArray, Box


class Setting(StrEnum):
    """How the hair was photographed: locks laid beside the card, or hair on a head."""

    BOARD = "board"
    HEAD = "head"


class StrandPattern(StrEnum):
    """Curl pattern, as the colourist states it."""

    STRAIGHT = "straight"
    WAVY = "wavy"
    CURLY = "curly"
    COILY = "coily"


@dataclass(frozen=True, eq=False)
class Zone:
    """One zone of hair in one photograph.

    box : The smallest rectangle that holds the zone. [px]
    mask : Which pixels of `box` belong to the zone. bool, shape (box.height_px, box.width_px), read-only.
    strand_pattern : None where nobody stated it.
    known_lab_d65 : L*, a*, b* of a swatch of known colour, which the other zones may lean on; None for a zone to read.
    proposed : The outline was proposed by the program and confirmed by nobody.
    root_px : x, y of the root end in the photo, where it was pointed at; else the upper end counts as the root.
    """

    name: str
    box: Box
    mask: BoolArray
    setting: Setting
    strand_pattern: StrandPattern | None = None
    known_lab_d65: tuple[float, float, float] | None = None
    proposed: bool = False
    root_px: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if self.mask.shape != (self.box.height_px, self.box.width_px):
            raise ValueError(f"The mask of zone {self.name} is {self.mask.shape}, its box is {self.box}.")
        self.mask.setflags(write=False)

    @property
    def pixels(self) -> int:
        return int(np.count_nonzero(self.mask))
