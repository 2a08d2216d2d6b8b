"""PNG files: chunks, header and pixels. Source of the structure: W3C PNG, third edition (2025)."""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import imagecodecs

from calibration.formats.declared import declared_by_codes, declared_by_figures
from calibration.formats.header import (
    DECODER_TROUBLE,
    Channels,
    DeclaredColour,
    Header,
    Pixels,
    damaged,
    refusal,
)
from calibration.formats.tags import SRGB, camera_tags

NAME = "PNG"
SIGNATURE = b"\x89PNG\r\n\x1a\n"
MOST_CHUNKS = 100_000  # some writers cut the pixels into chunks of 8 kB
MOST_PROFILE_BYTES = 4_000_000
_CHANNELS = {0: Channels.GREY, 2: Channels.RGB, 3: Channels.PALETTE, 4: Channels.GREY, 6: Channels.RGB}


@dataclass(frozen=True)
class Chunk:
    """One chunk of the file: its name, and where it lies with length, name and check sum."""

    name: bytes
    start: int
    end: int

    def payload(self, photo_bytes: bytes) -> bytes:
        """The bytes between name and check sum."""
        return photo_bytes[self.start + 8 : self.end - 4]


def chunks(photo_bytes: bytes) -> Iterator[Chunk]:
    """All chunks up to and with the end chunk. Raises PhotoRefusedError where one is cut or its check sum is wrong."""
    place = len(SIGNATURE)
    view = memoryview(photo_bytes)
    for _ in range(MOST_CHUNKS):
        if place + 12 > len(photo_bytes):
            raise damaged(NAME, "its end is missing")
        (length,) = struct.unpack_from(">I", photo_bytes, place)
        end = place + 12 + length
        if end > len(photo_bytes):
            raise damaged(NAME, "it ends in the middle of a part")
        if zlib.crc32(view[place + 4 : end - 4]) != struct.unpack_from(">I", photo_bytes, end - 4)[0]:
            raise damaged(NAME, "a check sum does not fit")
        yield Chunk(photo_bytes[place + 4 : place + 8], place, end)
        if photo_bytes[place + 4 : place + 8] == b"IEND":
            return
        place = end
    raise damaged(NAME, f"it holds more than {MOST_CHUNKS} parts")


def read_header(photo_bytes: bytes) -> Header:
    """Size, depth, colour and orientation. Raises PhotoRefusedError for damage."""
    first: dict[bytes, bytes] = {}
    for part in chunks(photo_bytes):
        if part.name != b"IDAT":
            first.setdefault(part.name, part.payload(photo_bytes))
        else:
            first.setdefault(b"IDAT", b"")
    head = first.get(b"IHDR", b"")
    if len(head) != 13 or b"IDAT" not in first:
        raise damaged(NAME, "it holds no picture")
    width_px, height_px, bits, colour_type = struct.unpack_from(">IIBB", head)
    tags = camera_tags(first.get(b"eXIf"))
    frames = 2 if b"acTL" in first else 1
    return Header(
        NAME,
        width_px,
        height_px,
        bits,
        _CHANNELS.get(colour_type, Channels.OTHER),
        tags.orientation,
        _icc_profile(first),
        _declared(first) or tags.declared,
        frames,
    )


def _icc_profile(first: dict[bytes, bytes]) -> bytes | None:
    # cICP stands above a profile (PNG, third edition).
    if b"iCCP" not in first or _by_codes(first) is not None:
        return None
    packed = first[b"iCCP"].partition(b"\0")[2][1:]
    unpacking = zlib.decompressobj()
    try:
        profile = unpacking.decompress(packed, MOST_PROFILE_BYTES)
    except zlib.error:
        return b""
    return profile if unpacking.eof else b""


def _by_codes(first: dict[bytes, bytes]) -> DeclaredColour | None:
    codes = first.get(b"cICP", b"")
    return declared_by_codes(NAME, codes[0], codes[1]) if len(codes) == 4 else None


def _declared(first: dict[bytes, bytes]) -> DeclaredColour | None:
    if (by_codes := _by_codes(first)) is not None:
        return by_codes
    if b"sRGB" in first:
        return SRGB
    gamma = first.get(b"gAMA", b"")
    corners = first.get(b"cHRM", b"")
    if len(gamma) != 4:
        return None
    (stored,) = struct.unpack(">I", gamma)
    figures = struct.unpack(">8I", corners) if len(corners) == 32 else None
    return declared_by_figures(stored / 100_000, None if figures is None else tuple(v / 100_000 for v in figures))


def decode(photo_bytes: bytes, header: Header) -> Pixels:
    """The pixels in their own depth. uint8 or uint16, shape (rows, columns, 3 or 4). Raises PhotoRefusedError."""
    try:
        pixels: Pixels = imagecodecs.png_decode(photo_bytes)
    except DECODER_TROUBLE:
        raise damaged(NAME, "part of the picture can't be decoded") from None
    if pixels.ndim != 3 or pixels.shape[:2] != (header.height_px, header.width_px) or pixels.shape[2] not in (3, 4):
        raise refusal("unsupported", "The PNG file holds no plain colour picture.", "Save it as an ordinary JPEG.")
    return pixels


def chunk_bytes(name: bytes, payload: bytes) -> bytes:
    """One chunk with its length and check sum."""
    return struct.pack(">I", len(payload)) + name + payload + struct.pack(">I", zlib.crc32(name + payload))


def packed_profile(icc: bytes) -> bytes:
    """Payload of the chunk that holds a colour profile."""
    return b"profile\0\0" + zlib.compress(icc)
