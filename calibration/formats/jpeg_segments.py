"""The segments that a JPEG file is made of. Source of the structure: ITU-T T.81, annex B."""

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from calibration.formats.header import damaged, unsupported

NAME = "JPEG"
DHT, EOI, SOS, DQT, APP0, APP1, APP2, APP14, COM = 0xC4, 0xD9, 0xDA, 0xDB, 0xE0, 0xE1, 0xE2, 0xEE, 0xFE
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}  # all kinds of JPEG frame
PROGRESSIVE = 0xC2
READ_HERE = (0xC0, 0xC1, PROGRESSIVE)
EXIF_START, ICC_START = b"Exif\0\0", b"ICC_PROFILE\0"

# Real files hold some dozens; a file made of nothing but tiny segments only wastes time.
MOST_SEGMENTS = 4000

_MARKER_IN_SCAN = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")  # neither stuffing nor a restart mark


@dataclass(frozen=True)
class Segment:
    """A stretch of the file: marker, its bytes from the marker on, and where it lies. A scan includes its data."""

    marker: int
    start: int
    end: int

    def payload(self, photo_bytes: bytes) -> bytes:
        """The bytes after marker and length."""
        return photo_bytes[self.start + 4 : self.end]


def segments(photo_bytes: bytes) -> Iterator[Segment]:
    """All segments after the first two bytes, up to and with the end mark. Raises PhotoRefusedError where one is cut.

    What follows the end mark (a short film, a gain map, a second picture) is no part of the photograph.
    """
    place = 2
    for _ in range(MOST_SEGMENTS):
        while photo_bytes[place : place + 2] == b"\xff\xff":
            place += 1
        start = photo_bytes[place : place + 2]
        marker = start[1] if len(start) == 2 and start[0] == 0xFF else 0
        if marker == EOI:
            yield Segment(EOI, place, place + 2)
            return
        end = _segment_end(photo_bytes, place, marker)
        yield Segment(marker, place, end)
        place = end
    raise unsupported(NAME, f"holds more than {MOST_SEGMENTS} segments")


def _segment_end(photo_bytes: bytes, place: int, marker: int) -> int:
    if marker < 0xC0 or place + 4 > len(photo_bytes):
        raise damaged(NAME, "it ends early or its parts are out of order")
    (length,) = struct.unpack_from(">H", photo_bytes, place + 2)
    end: int = place + 2 + length
    if length < 2 or end > len(photo_bytes):
        raise damaged(NAME, "it ends in the middle of a part")
    if marker != SOS:
        return end
    following = _MARKER_IN_SCAN.search(photo_bytes, end)
    if following is None:
        raise damaged(NAME, "its end is missing")
    return following.start()
