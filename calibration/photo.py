"""A photograph as its file means it: stored code values, and the way from them to linear light."""

from dataclasses import dataclass, field
from typing import Any, NewType

import numpy as np
from numpy.typing import NDArray

from calibration.findings import Finding

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
EncodedRgb = NewType("EncodedRgb", NDArray[Any])  # what the file stores: uint8 or uint16
LinearRgb = NewType("LinearRgb", NDArray[np.float32])  # proportional to light
XyzD65 = NewType("XyzD65", NDArray[np.float32])  # CIE XYZ, D65 2°, perfect white has Y = 1


@dataclass(frozen=True)
class Box:
    """A rectangle of pixels, half open: rows top..bottom-1, columns left..right-1. [px]"""

    top: int
    left: int
    bottom: int
    right: int

    def __post_init__(self) -> None:
        if self.bottom <= self.top or self.right <= self.left or self.top < 0 or self.left < 0:
            raise ValueError(f"A box needs at least one pixel inside the photo; got {self}.")

    @property
    def height_px(self) -> int:
        return self.bottom - self.top

    @property
    def width_px(self) -> int:
        return self.right - self.left

    @property
    def slices(self) -> tuple[slice, slice]:
        """Index of this box in an array of rows and columns."""
        return slice(self.top, self.bottom), slice(self.left, self.right)


@dataclass(frozen=True)
class Step:
    """One thing done to a photograph, in its history."""

    name: str
    version: int
    settings: dict[str, Any] = field(default_factory=dict)
    effect: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Encoding:
    """How stored code values become light.

    tables : Linear light for each code value and channel. float32, shape (3, 2 ** stored bits), 0-1.
    to_xyz_d65 : Linear RGB to CIE XYZ D65, as the file's profile means it. float64, shape (3, 3).
    name : "sRGB", "Display P3", "linear RAW", or the profile's own description.
    assumed : No profile was embedded, so sRGB is a guess.
    linear : The file stores linear light (RAW, DNG).
    """

    tables: NDArray[np.float32]
    to_xyz_d65: FloatArray
    name: str
    assumed: bool = False
    linear: bool = False

    def __post_init__(self) -> None:
        if self.tables.shape not in ((3, 256), (3, 65536)) or self.to_xyz_d65.shape != (3, 3):
            raise ValueError("An encoding needs tables of shape (3, 256) or (3, 65536) and a 3x3 matrix.")
        self.tables.setflags(write=False)
        self.to_xyz_d65.setflags(write=False)


@dataclass(frozen=True, eq=False)
class Photo:
    """One upright photograph in memory.

    encoded_rgb : Stored code values. uint8 or uint16, shape (rows, columns, 3), read-only.
    sha256 : Of the file's bytes, in hexadecimal: the photo's name in records.
    file_format : "JPEG", "PNG", "TIFF", "WebP", "HEIC", "DNG" ...
    bits : Bits per channel that the file holds. [8-16]
    """

    encoded_rgb: EncodedRgb
    encoding: Encoding
    sha256: str
    file_format: str
    bits: int
    steps: tuple[Step, ...] = ()
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        self.encoded_rgb.setflags(write=False)

    @property
    def height_px(self) -> int:
        return int(self.encoded_rgb.shape[0])

    @property
    def width_px(self) -> int:
        return int(self.encoded_rgb.shape[1])

    @property
    def whole(self) -> Box:
        return Box(0, 0, self.height_px, self.width_px)
