"""HEIC files, as phones make them: header and pixels, of 8 and of 10 bits.

The decoder hands pictures out upright already, so no orientation is left to apply.
"""

import struct
from typing import Any

import numpy as np

from calibration.formats.declared import declared_by_codes
from calibration.formats.header import DECODER_TROUBLE, Channels, DeclaredColour, Header, Pixels, damaged, unsupported

NAME = "HEIC"
# Besides the usual: what this decoder raises for damage and for kinds it does not know.
_TROUBLE: tuple[type[Exception], ...] = (*DECODER_TROUBLE, EOFError, SyntaxError)
_MOST_BOXES = 1000


def read_header(photo_bytes: bytes) -> Header:
    """Upright size, depth and colour meaning. Raises PhotoRefusedError for damage."""
    _check_boxes(photo_bytes)
    picture = _open(photo_bytes)
    width_px, height_px = picture.size
    channels = Channels.RGB if picture.mode.startswith("RGB") else Channels.GREY
    icc = picture.info.get("icc_profile")
    bits = int(picture.info.get("bit_depth", 8))
    return Header(NAME, width_px, height_px, bits, channels, icc=icc or None, declared=_declared(picture))


def _check_boxes(photo_bytes: bytes) -> None:
    """Refuse a file whose outer boxes (ISO/IEC 14496-12) reach past its end."""
    place = 0
    for _ in range(_MOST_BOXES):
        if place == len(photo_bytes):
            return
        if place + 8 > len(photo_bytes):
            raise damaged(NAME, "its end is missing")
        (size,) = struct.unpack_from(">I", photo_bytes, place)
        if size == 1 and place + 16 <= len(photo_bytes):
            (size,) = struct.unpack_from(">Q", photo_bytes, place + 8)
        if size == 0:  # the last box, open to the end
            return
        if size < 8 or place + size > len(photo_bytes):
            raise damaged(NAME, "its end is missing")
        place += size


def _open(photo_bytes: bytes) -> Any:
    import pi_heif  # only HEIC files need it

    try:
        # Without this the decoder makes 8 bits of 10.
        heif_file = pi_heif.open_heif(photo_bytes, convert_hdr_to_8bit=False)
        return heif_file[heif_file.primary_index]
    except _TROUBLE:
        raise damaged(NAME, "its header can't be read") from None


def _declared(picture: Any) -> DeclaredColour | None:
    codes = picture.info.get("nclx_profile")
    if not codes:
        return None
    return declared_by_codes(NAME, int(codes["color_primaries"]), int(codes["transfer_characteristics"]))


def decode(photo_bytes: bytes, header: Header) -> Pixels:
    """The pixels, upright. uint8, or uint16 of the full range, shape (rows, columns, 3 or 4)."""
    picture = _open(photo_bytes)
    try:
        pixels: Pixels = np.array(picture)
    except _TROUBLE:
        raise damaged(NAME, "part of the picture can't be decoded") from None
    if pixels.ndim != 3 or pixels.shape[:2] != (header.height_px, header.width_px):
        raise damaged(NAME, "its size is not what its header says")
    if pixels.dtype == np.uint8:
        return pixels
    if pixels.dtype != np.uint16 or not 8 < header.bits < 16:
        raise unsupported(NAME, f"holds {header.bits} bits for each colour")
    # The values come shifted to the left, white being 1023 x 64 for 10 bits: the upper bits, repeated below, fill up.
    pixels |= pixels >> header.bits
    return pixels
