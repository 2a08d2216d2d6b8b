"""What a picture file says of itself before anything is decoded, and the words for files that can't be read."""

import struct
import zlib
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import cv2
from numpy.typing import NDArray

from calibration.errors import PhotoRefusedError
from calibration.findings import Finding, Severity

Pixels = NDArray[Any]  # uint8 or uint16, shape (rows, columns, 3), or 4 with alpha last

# What the decoders raise at damage. Named one by one, so that a slip of our own (NameError, AssertionError) shows.
DECODER_TROUBLE: tuple[type[Exception], ...] = (
    ValueError,
    RuntimeError,
    OSError,
    LookupError,
    TypeError,
    ArithmeticError,
    MemoryError,
    struct.error,
    zlib.error,
    cv2.error,
)


class Channels(StrEnum):
    """What the stored numbers of one pixel stand for."""

    RGB = "rgb"
    GREY = "grey"
    PALETTE = "palette"
    CMYK = "cmyk"
    OTHER = "other"


@dataclass(frozen=True)
class DeclaredColour:
    """Colour meaning that a file states without a profile: code numbers of ITU-T H.273, or figures of its own.

    name : For the person, such as "sRGB" or "Display P3".
    primaries_xy : CIE x, y of red, green, blue.
    white_xy : CIE x, y of the white.
    curve : "srgb", "bt709", or a decoding exponent: linear = stored ** exponent.
    """

    name: str
    primaries_xy: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    white_xy: tuple[float, float]
    curve: str | float


@dataclass(frozen=True)
class Header:
    """The outer facts of one picture file.

    width_px, height_px : As stored, before the picture is turned upright.
    bits : Per channel.
    orientation : EXIF value still to be applied. [1-8]
    icc : Embedded profile; b"" where one is announced but can't be put together; None without one.
    declared : Colour meaning stated without a profile.
    camera_to_xyz_d65 : For linear camera colour: rows of the matrix to CIE XYZ D65; None elsewhere, or if not known.
    frames : Pictures in the file that are meant to be seen.
    findings : What the file's outside tells of its past.
    """

    file_format: str
    width_px: int
    height_px: int
    bits: int
    channels: Channels
    orientation: int = 1
    icc: bytes | None = None
    declared: DeclaredColour | None = None
    frames: int = 1
    camera_to_xyz_d65: tuple[tuple[float, ...], ...] | None = None
    findings: tuple[Finding, ...] = ()


def refusal(code: str, message: str, remedy: str) -> PhotoRefusedError:
    """The exception for a file that can't be read, with its finding."""
    return PhotoRefusedError(Finding(code, Severity.RETAKE, message, remedy))


def damaged(file_format: str, what: str) -> PhotoRefusedError:
    """The refusal of a file that isn't whole. `what` ends the sentence 'The JPEG file is damaged: ...'."""
    return refusal(
        "damaged",
        f"The {file_format} file is damaged: {what}.",
        "Copy it again from the camera or phone, or take the photo again.",
    )


def unsupported(file_format: str, what: str) -> PhotoRefusedError:
    """The refusal of a sound file of a rare kind. `what` ends the sentence 'The JPEG file ...'."""
    return refusal(
        "unsupported",
        f"The {file_format} file {what}, which is not read here.",
        "Save the picture as an ordinary JPEG, or as a 16-bit PNG.",
    )
