"""Tag directories, as TIFF files and EXIF blocks hold them: only what opening a photograph needs.

Source of the structure: TIFF 6.0 (1992), section 2; EXIF 2.32 (CIPA DC-008) for the tag numbers.
"""

import struct
from collections.abc import Mapping
from dataclasses import dataclass

from calibration.formats.header import DeclaredColour

ORIENTATION, EXIF_DIRECTORY, COLOUR_SPACE, INTEROP_DIRECTORY, INTEROP_INDEX = 0x0112, 0x8769, 0xA001, 0xA005, 0x0001

_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 7: 1, 13: 4}  # bytes per value; other types hold nothing that is needed here
_LETTERS = {3: "H", 4: "I", 13: "I"}
_MOST_ENTRIES = 4096

SRGB_PRIMARIES_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # IEC 61966-2-1
ADOBE_PRIMARIES_XY = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))  # Adobe RGB (1998) Color Image Encoding
D65_XY = (0.3127, 0.3290)
SRGB = DeclaredColour("sRGB", SRGB_PRIMARIES_XY, D65_XY, "srgb")
ADOBE_RGB = DeclaredColour("Adobe RGB", ADOBE_PRIMARIES_XY, D65_XY, 563 / 256)  # the same


class BrokenTagsError(ValueError):
    """A directory points outside its file or is no directory."""


@dataclass(frozen=True)
class Directory:
    """One tag directory. Numbers come as tuples, text and opaque bytes as bytes; `next_offset` is 0 at the end."""

    tags: Mapping[int, tuple[int, ...] | bytes]
    next_offset: int

    def numbers(self, tag: int) -> tuple[int, ...]:
        """Values of a tag, () where it is absent or holds no numbers."""
        value = self.tags.get(tag, ())
        return value if isinstance(value, tuple) else ()

    def number(self, tag: int, default: int) -> int:
        """First value of a tag."""
        return next(iter(self.numbers(tag)), default)

    def opaque(self, tag: int) -> bytes | None:
        """Bytes of a tag, None where it is absent or holds numbers."""
        value = self.tags.get(tag)
        return value if isinstance(value, bytes) else None


def byte_order(block: bytes) -> str:
    """'<' or '>', as the first bytes of a tag block say. Raises BrokenTagsError."""
    orders = {b"II*\0": "<", b"MM\0*": ">"}
    if block[:4] not in orders:
        raise BrokenTagsError("no tag block")
    return orders[block[:4]]


def first_offset(block: bytes) -> int:
    """Where the first directory of a tag block lies. Raises BrokenTagsError."""
    order = byte_order(block)
    if len(block) < 8:
        raise BrokenTagsError("tag block cut short")
    return int(struct.unpack_from(order + "I", block, 4)[0])


def read_directory(block: bytes, offset: int) -> Directory:
    """The directory at `offset` of a tag block. Raises BrokenTagsError where it reaches outside the block."""
    order = byte_order(block)
    if not 8 <= offset <= len(block) - 6:
        raise BrokenTagsError("directory outside the file")
    (entries,) = struct.unpack_from(order + "H", block, offset)
    end = offset + 2 + 12 * entries
    if entries > _MOST_ENTRIES or end + 4 > len(block):
        raise BrokenTagsError("directory cut short")
    tags: dict[int, tuple[int, ...] | bytes] = {}
    for start in range(offset + 2, end, 12):
        tag, kind, count = struct.unpack_from(order + "HHI", block, start)
        if kind in _SIZES:
            tags[tag] = _value(block, order, start, kind, count)
    return Directory(tags, int(struct.unpack_from(order + "I", block, end)[0]))


def _value(block: bytes, order: str, start: int, kind: int, count: int) -> tuple[int, ...] | bytes:
    size = _SIZES[kind] * count
    place = start + 8 if size <= 4 else int(struct.unpack_from(order + "I", block, start + 8)[0])
    if place + size > len(block):
        raise BrokenTagsError("a tag's value lies outside the file")
    if kind in _LETTERS:
        return struct.unpack_from(f"{order}{count}{_LETTERS[kind]}", block, place)
    if kind == 1:
        return tuple(block[place : place + size]) if count <= 4 else block[place : place + size]
    return block[place : place + size]


@dataclass(frozen=True)
class CameraTags:
    """What an EXIF block says that matters for the colours: which way is up, and a colour space without a profile."""

    orientation: int = 1
    declared: DeclaredColour | None = None


def camera_tags(exif: bytes | None) -> CameraTags:
    """Orientation and colour space of an EXIF block; a broken block says nothing, as it is not the picture."""
    if exif is None:
        return CameraTags()
    try:
        main = read_directory(exif, first_offset(exif))
    except BrokenTagsError:
        return CameraTags()
    return CameraTags(upright_value(main.number(ORIENTATION, 1)), _declared_colour(exif, main))


def upright_value(orientation: int) -> int:
    """The orientation, or 1 for a value that EXIF does not know."""
    return orientation if 1 <= orientation <= 8 else 1


def _declared_colour(exif: bytes, main: Directory) -> DeclaredColour | None:
    # 1 says sRGB. Cameras set to Adobe RGB write "uncalibrated" here and R03 in a directory of its own (DCF 2.0).
    try:
        camera = read_directory(exif, main.number(EXIF_DIRECTORY, 0))
        if camera.number(COLOUR_SPACE, 0) == 1:
            return SRGB
        if INTEROP_DIRECTORY in camera.tags:
            interop = read_directory(exif, camera.number(INTEROP_DIRECTORY, 0))
            index = interop.opaque(INTEROP_INDEX) or b""
            return ADOBE_RGB if index.startswith(b"R03") else None
    except BrokenTagsError:
        return None
    return None
