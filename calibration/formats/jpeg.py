"""JPEG files: header and pixels. Source of the structure: ITU-T T.81, annex B."""

import struct
from dataclasses import replace

import simplejpeg

from calibration.formats.header import DECODER_TROUBLE, Channels, Header, Pixels, damaged, unsupported
from calibration.formats.jpeg_copies import messenger_copy
from calibration.formats.jpeg_damage import check_for_damage
from calibration.formats.jpeg_segments import (
    APP1,
    APP2,
    EXIF_START,
    FRAMES,
    ICC_START,
    NAME,
    READ_HERE,
    SOS,
    Segment,
    segments,
)
from calibration.formats.tags import camera_tags


def read_header(photo_bytes: bytes) -> Header:
    """Size, colour and orientation. Raises PhotoRefusedError for damage, and for kinds no phone or camera writes."""
    parts = tuple(segments(photo_bytes))
    frames = [part for part in parts if part.marker in FRAMES]
    if len(frames) != 1 or not any(part.marker == SOS for part in parts):
        raise damaged(NAME, "it holds no single picture")
    height_px, width_px, components = _frame(frames[0], photo_bytes)
    check_for_damage(parts, frames[0], photo_bytes)
    exif = exif_block(parts, photo_bytes)
    tags = camera_tags(exif)
    channels = {1: Channels.GREY, 3: Channels.RGB, 4: Channels.CMYK}.get(components, Channels.OTHER)
    icc = _icc_profile(parts, photo_bytes)
    header = Header(NAME, width_px, height_px, 8, channels, tags.orientation, icc, tags.declared)
    copied = messenger_copy(header, parts, photo_bytes, exif is not None)
    return header if copied is None else replace(header, findings=(copied,))


def _frame(frame: Segment, photo_bytes: bytes) -> tuple[int, int, int]:
    payload = frame.payload(photo_bytes)
    if len(payload) < 6 or len(payload) < 6 + 3 * payload[5]:
        raise damaged(NAME, "its description of the picture is cut short")
    bits, height_px, width_px, components = struct.unpack_from(">BHHB", payload)
    if frame.marker not in READ_HERE or bits != 8:
        raise unsupported(NAME, f"is of a rare kind ({bits} bits, code {frame.marker:X})")
    return height_px, width_px, components


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
