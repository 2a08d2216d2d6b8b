"""JPEG files: segments, header and pixels. Source of the structure: ITU-T T.81, annex B."""

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass

import simplejpeg

from calibration.formats.header import DECODER_TROUBLE, Channels, Header, Pixels, damaged, unsupported
from calibration.formats.tags import camera_tags

NAME = "JPEG"
DHT, EOI, SOS, DQT, APP0, APP1, APP2, APP14, COM = 0xC4, 0xD9, 0xDA, 0xDB, 0xE0, 0xE1, 0xE2, 0xEE, 0xFE
EXIF_START, ICC_START = b"Exif\0\0", b"ICC_PROFILE\0"
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}  # all kinds of JPEG frame
BASELINE_AND_PROGRESSIVE = (0xC0, 0xC1, 0xC2)

# Real files hold some dozens; a file made of nothing but tiny segments or scans only wastes time.
MOST_SEGMENTS = 4000
MOST_SCANS = 100

_MARKER_IN_SCAN = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")  # neither stuffing nor a restart mark
_COEFFICIENTS = 64
_PROGRESSIVE = 0xC2

# An unreadable sector reads as zeros, and zeros decode to something. Real picture data hold two or three in a row.
_BLANK = bytes(12)
_END_OF_BLOCK = 0


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


def read_header(photo_bytes: bytes) -> Header:
    """Size, colour and orientation. Raises PhotoRefusedError for damage, and for kinds no phone or camera writes."""
    parts = tuple(segments(photo_bytes))
    frames = [part for part in parts if part.marker in FRAMES]
    if len(frames) != 1 or not any(part.marker == SOS for part in parts):
        raise damaged(NAME, "it holds no single picture")
    bits, height_px, width_px, components = _frame(frames[0], photo_bytes)
    _check_quantisation(parts, photo_bytes)
    _check_scans(parts, frames[0], photo_bytes)
    if frames[0].marker != _PROGRESSIVE:
        _check_blanks(parts, photo_bytes)
    tags = camera_tags(exif_block(parts, photo_bytes))
    channels = {1: Channels.GREY, 3: Channels.RGB, 4: Channels.CMYK}.get(components, Channels.OTHER)
    icc = _icc_profile(parts, photo_bytes)
    return Header(NAME, width_px, height_px, bits, channels, tags.orientation, icc, tags.declared)


def _frame(frame: Segment, photo_bytes: bytes) -> tuple[int, int, int, int]:
    payload = frame.payload(photo_bytes)
    if len(payload) < 6 or len(payload) < 6 + 3 * payload[5]:
        raise damaged(NAME, "its description of the picture is cut short")
    bits, height_px, width_px, components = struct.unpack_from(">BHHB", payload)
    if frame.marker not in BASELINE_AND_PROGRESSIVE or bits != 8:
        raise unsupported(NAME, f"is of a rare kind ({bits} bits, code {frame.marker:X})")
    return bits, height_px, width_px, components


def _check_scans(parts: tuple[Segment, ...], frame: Segment, photo_bytes: bytes) -> None:
    """Refuse a picture whose scans don't bring every coefficient to its last bit: the decoder takes it for whole."""
    scans = [part.payload(photo_bytes) for part in parts if part.marker == SOS]
    if len(scans) > MOST_SCANS:
        raise unsupported(NAME, f"is built of {len(scans)} layers")
    description = frame.payload(photo_bytes)
    progressive = frame.marker == _PROGRESSIVE
    waiting = {
        (description[6 + 3 * number], order)
        for number in range(description[5])
        for order in range(_COEFFICIENTS if progressive else 1)
    }
    for scan in scans:
        count = scan[0] if scan else 0
        if len(scan) < 4 + 2 * count:
            raise damaged(NAME, "the head of a scan is cut short")
        first, last, low_bit = scan[1 + 2 * count], scan[2 + 2 * count], scan[3 + 2 * count] & 15
        if low_bit == 0 or not progressive:
            orders = range(first, min(last, _COEFFICIENTS - 1) + 1) if progressive else range(1)
            waiting -= {(scan[1 + 2 * index], order) for index in range(count) for order in orders}
    if waiting:
        raise damaged(NAME, "part of the picture's detail is missing")


def _check_quantisation(parts: tuple[Segment, ...], photo_bytes: bytes) -> None:
    # T.81, B.2.4.1: one byte of precision and number, then 64 steps of one byte, none of them zero.
    for part in parts:
        payload = part.payload(photo_bytes) if part.marker == DQT else b""
        if payload and payload[0] < 16 and any(0 in payload[at + 1 : at + 65] for at in range(0, len(payload), 65)):
            raise damaged(NAME, "a table of its header is impossible")


def _check_blanks(parts: tuple[Segment, ...], photo_bytes: bytes) -> None:
    """Refuse long runs of zero bytes in the picture's data, unless its code tables let a flat area be all zeros."""
    if not any(photo_bytes.find(_BLANK, part.start, part.end) >= 0 for part in parts if part.marker == SOS):
        return
    shortest = [symbol for part in parts if part.marker == DHT for symbol in _shortest_ac_symbols(part, photo_bytes)]
    if any(symbol != _END_OF_BLOCK for symbol in shortest):
        raise damaged(NAME, "a stretch of the picture is blank")


def _shortest_ac_symbols(part: Segment, photo_bytes: bytes) -> Iterator[int]:
    """What a code of all zero bits means in each table for detail. Source: T.81, B.2.4.2 and C.2."""
    payload, at = part.payload(photo_bytes), 0
    while at + 18 <= len(payload):
        count = sum(payload[at + 1 : at + 17])
        if payload[at] >= 16 and count:
            yield payload[at + 17]
        at += 17 + count


def exif_block(parts: tuple[Segment, ...], photo_bytes: bytes) -> bytes | None:
    """The tag block of the first EXIF segment, None without one."""
    for part in parts:
        if part.marker == APP1 and photo_bytes.startswith(EXIF_START, part.start + 4):
            return part.payload(photo_bytes)[len(EXIF_START) :]
    return None


def _icc_profile(parts: tuple[Segment, ...], photo_bytes: bytes) -> bytes | None:
    # ICC.1, annex on embedding: each piece carries its number, from 1, and how many there are.
    pieces = [part.payload(photo_bytes)[len(ICC_START) :] for part in parts if is_icc(part, photo_bytes)]
    if not pieces:
        return None
    ordered = sorted(pieces, key=lambda piece: piece[:1])
    complete = [piece[0] for piece in ordered if len(piece) > 2] == list(range(1, len(ordered) + 1))
    return b"".join(piece[2:] for piece in ordered) if complete and ordered[0][1] == len(ordered) else b""


def is_icc(part: Segment, photo_bytes: bytes) -> bool:
    """Whether the segment holds a piece of the colour profile."""
    return part.marker == APP2 and photo_bytes.startswith(ICC_START, part.start + 4)


def decode(photo_bytes: bytes, header: Header) -> Pixels:
    """The pixels. uint8, shape (rows, columns, 3). Raises PhotoRefusedError where the decoder meets any damage."""
    if header.icc == b"":
        photo_bytes = _without_profile(photo_bytes)
    try:
        # Strict: of 200 cut files this decoder accepted none, the usual ones up to 195 (measured).
        pixels: Pixels = simplejpeg.decode_jpeg(photo_bytes, "RGB", strict=True)
    except DECODER_TROUBLE:
        raise damaged(NAME, "part of the picture can't be decoded") from None
    if pixels.shape != (header.height_px, header.width_px, 3):
        raise damaged(NAME, "its size is not what its header says")
    return pixels


def _without_profile(photo_bytes: bytes) -> bytes:
    # The strict decoder would refuse the whole picture for a profile with a missing piece.
    kept = (part for part in segments(photo_bytes) if not is_icc(part, photo_bytes))
    return photo_bytes[:2] + b"".join(photo_bytes[part.start : part.end] for part in kept)
