"""WebP files: chunks, header and pixels. Source of the structure: RFC 9649 (2024)."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import imagecodecs

from calibration.formats.header import DECODER_TROUBLE, Channels, Header, Pixels, damaged
from calibration.formats.tags import camera_tags

NAME = "WebP"
MOST_CHUNKS = 4000
ICC_BIT, ALPHA_BIT, EXIF_BIT = 0x20, 0x10, 0x08  # features in the extended header
_VP8_START_CODE = b"\x9d\x01\x2a"
_VP8L_SIGNATURE = 0x2F
EXIF_START = b"Exif\0\0"  # some writers put JPEG's prefix before the block


@dataclass(frozen=True)
class Chunk:
    """One chunk: its name and its bytes."""

    name: bytes
    payload: bytes


def chunks(photo_bytes: bytes) -> Iterator[Chunk]:
    """All chunks of the file. Raises PhotoRefusedError where the file is shorter than it says."""
    if len(photo_bytes) < 20:
        raise damaged(NAME, "its end is missing")
    end = 8 + struct.unpack_from("<I", photo_bytes, 4)[0]
    place = 12
    if end > len(photo_bytes):
        raise damaged(NAME, "its end is missing")
    for _ in range(MOST_CHUNKS):
        if place + 8 > end:
            return
        (length,) = struct.unpack_from("<I", photo_bytes, place + 4)
        if place + 8 + length > end:
            raise damaged(NAME, "it ends in the middle of a part")
        yield Chunk(photo_bytes[place : place + 4], photo_bytes[place + 8 : place + 8 + length])
        place += 8 + length + length % 2
    raise damaged(NAME, f"it holds more than {MOST_CHUNKS} parts")


def read_header(photo_bytes: bytes) -> Header:
    """Size, colour meaning and orientation. Raises PhotoRefusedError for damage."""
    first: dict[bytes, bytes] = {}
    for part in chunks(photo_bytes):
        first.setdefault(part.name, part.payload)
    animated = b"ANIM" in first or b"ANMF" in first
    width_px, height_px = _canvas(first) if animated else _stored_size(first)
    tags = camera_tags(_exif_block(first))
    frames = 2 if animated else 1
    icc = first.get(b"ICCP")
    return Header(NAME, width_px, height_px, 8, Channels.RGB, tags.orientation, icc, tags.declared, frames)


def _exif_block(first: dict[bytes, bytes]) -> bytes | None:
    block = first.get(b"EXIF")
    return None if block is None else block.removeprefix(EXIF_START)


def _canvas(first: dict[bytes, bytes]) -> tuple[int, int]:
    extended = first.get(b"VP8X", b"")
    if len(extended) < 10:
        raise damaged(NAME, "its header is cut short")
    return 1 + int.from_bytes(extended[4:7], "little"), 1 + int.from_bytes(extended[7:10], "little")


def _stored_size(first: dict[bytes, bytes]) -> tuple[int, int]:
    lossy, lossless = first.get(b"VP8 ", b""), first.get(b"VP8L", b"")
    if len(lossy) >= 10 and lossy[3:6] == _VP8_START_CODE:
        width_px, height_px = struct.unpack_from("<HH", lossy, 6)
        return width_px & 0x3FFF, height_px & 0x3FFF  # the two upper bits ask for scaling on screen
    if len(lossless) >= 5 and lossless[0] == _VP8L_SIGNATURE:
        packed = int.from_bytes(lossless[1:5], "little")
        return 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
    raise damaged(NAME, "it holds no picture")


def decode(photo_bytes: bytes, header: Header) -> Pixels:
    """The pixels. uint8, shape (rows, columns, 3 or 4). Raises PhotoRefusedError."""
    try:
        pixels: Pixels = imagecodecs.webp_decode(photo_bytes)
    except DECODER_TROUBLE:
        raise damaged(NAME, "part of the picture can't be decoded") from None
    if pixels.ndim != 3 or pixels.shape[:2] != (header.height_px, header.width_px):
        raise damaged(NAME, "its size is not what its header says")
    return pixels


def chunk_bytes(name: bytes, payload: bytes) -> bytes:
    """One chunk with its length, filled up to an even number of bytes."""
    return name + struct.pack("<I", len(payload)) + payload + bytes(len(payload) % 2)
