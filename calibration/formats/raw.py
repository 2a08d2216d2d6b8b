"""Camera RAW files and DNG: header, and linear camera colour of 16 bits.

The colour stays in the camera's own channels, white balanced as the camera did, with the matrix to CIE XYZ beside it:
in XYZ or a smaller space the decoder would clip (blue light of a white wall has Z = 1.09).
"""

import io
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import SRGB_TO_XYZ_D65
from calibration.formats import tiff
from calibration.formats.header import DECODER_TROUBLE, Channels, Header, Pixels, damaged, refusal, unsupported

NAME = "RAW"
_LINEAR = (1, 1)


def _trouble() -> tuple[type[Exception], ...]:
    import rawpy

    return (*DECODER_TROUBLE, rawpy.LibRawError)


def _open(photo_bytes: bytes) -> Any:
    import rawpy  # only RAW files need it

    try:
        return rawpy.imread(io.BytesIO(photo_bytes))
    except rawpy.LibRawFileUnsupportedError:
        raise refusal(
            "unsupported",
            "The RAW file is of a camera or kind that is not read here.",
            "Save it as DNG or as a 16-bit PNG, or send the JPEG.",
        ) from None
    except _trouble():
        raise damaged(NAME, "its header can't be read") from None


def read_header(photo_bytes: bytes) -> Header:
    """Size of the sensor. Raises PhotoRefusedError for damage and for sensors that don't see three colours."""
    _check_strips(photo_bytes)
    raw = _open(photo_bytes)
    with raw:
        sizes = raw.sizes
        if raw.num_colors != 3:
            raise unsupported(NAME, f"comes from a sensor of {raw.num_colors} colours")
        width_px, height_px = max(sizes.raw_width, sizes.width), max(sizes.raw_height, sizes.height)
        return Header(NAME, width_px, height_px, 16, Channels.RGB)


def _check_strips(photo_bytes: bytes) -> None:
    """Refuse a RAW file built as a TIFF whose strips or tiles reach past its end: the decoder may fill them up."""
    for directory in tiff.all_directories(photo_bytes):
        for places, sizes in ((tiff.STRIP_PLACES, tiff.STRIP_SIZES), (tiff.TILE_PLACES, tiff.TILE_SIZES)):
            pairs = zip(directory.numbers(places), directory.numbers(sizes), strict=False)
            if any(place + size > len(photo_bytes) for place, size in pairs):
                raise damaged(NAME, "its end is missing")


def decode(photo_bytes: bytes, header: Header) -> tuple[Pixels, Header]:
    """Linear camera colour, upright, and the header with the camera's matrix, which stands among the sensor values.

    uint16, shape (rows, columns, 3). Raises PhotoRefusedError.
    """
    import rawpy

    raw = _open(photo_bytes)
    try:
        with raw:
            matrix = camera_to_xyz_d65(np.asarray(raw.color_matrix)[:, :3])
            pixels: Pixels = raw.postprocess(
                output_bps=16,
                gamma=_LINEAR,
                no_auto_bright=True,
                use_camera_wb=True,
                output_color=rawpy.ColorSpace.raw,
                adjust_maximum_thr=0.0,  # else white moves with the brightest thing in the picture
            )
    except _trouble():
        raise damaged(NAME, "its sensor values can't be decoded") from None
    if pixels.ndim != 3 or pixels.shape[2] != 3:
        raise unsupported(NAME, "holds no colour picture")
    return pixels, replace(header, camera_to_xyz_d65=matrix)


def camera_to_xyz_d65(camera_to_srgb: NDArray[Any]) -> tuple[tuple[float, ...], ...] | None:
    """Matrix from white-balanced camera colour to CIE XYZ D65; None where the file does not describe its camera."""
    usable = np.all(np.isfinite(camera_to_srgb)) and abs(np.linalg.det(camera_to_srgb)) > 1e-3
    if not usable or np.allclose(camera_to_srgb, np.eye(3)):
        return None
    return tuple(tuple(float(value) for value in row) for row in SRGB_TO_XYZ_D65 @ camera_to_srgb)
