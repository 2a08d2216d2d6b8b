"""Bytes of a file to one upright photograph, as the file means it.

Private tags stay behind: a Photo has no place for them.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.findings import Finding, Severity
from calibration.formats import heic, jpeg, png, raw, tiff, webp
from calibration.formats.header import Channels, Header, Pixels, refusal
from calibration.photo import EncodedRgb, Photo, Step
from calibration.profiles import encoding_of
from calibration.sniffing import FileKind, kind_of

# Our assumptions: a phone's largest photo is near 50 Mpx and 30 MB; a RAW file of a large camera near 60 MB.
MOST_BYTES = 60_000_000
MOST_PIXELS = 64_000_000
FEWEST_PIXELS_A_SIDE = 64

STEP_VERSION = 1
# Code values of 255. JPEG moves the channels of a grey picture apart by one or two; a camera's noise by more.
_GREY_SPREAD, _DRAWING_SD, _SAMPLE_STEP = 2.0, 8.0, 7
_BACKDROP_CODE = 119 / 255  # middle grey behind see-through parts


@dataclass(frozen=True)
class _Reader:
    """How one kind of file is read: its header first, its pixels once the header has passed."""

    read_header: Callable[[bytes], Header]
    decode: Callable[[bytes, Header], Pixels]


_READERS = {
    FileKind.JPEG: _Reader(jpeg.read_header, jpeg.decode),
    FileKind.PNG: _Reader(png.read_header, png.decode),
    FileKind.TIFF: _Reader(tiff.read_header, tiff.decode),
    FileKind.WEBP: _Reader(webp.read_header, webp.decode),
    FileKind.HEIC: _Reader(heic.read_header, heic.decode),
}


def open_photo(photo_bytes: bytes) -> Photo:
    """The photograph in a file's bytes: upright, in its own depth, with the meaning of its numbers.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole colour photograph of a size that can be handled; its finding
        says why and what to do. Nothing is decoded before the size in the header has passed.
    """
    check_bytes(photo_bytes)
    stored, header = _decoded(photo_bytes)
    check_colour(stored)
    return _photo(photo_bytes, stored, header)


def open_photo_of_white(photo_bytes: bytes) -> Photo:
    """The same of a white thing that fills the frame: well balanced it is grey, and no black-and-white picture."""
    check_bytes(photo_bytes)
    return _photo(photo_bytes, *_decoded(photo_bytes))


def _photo(photo_bytes: bytes, stored: Pixels, header: Header) -> Photo:
    opaque, see_through = without_alpha(stored)
    pixels, encoding, colour_findings = encoding_of(header, opaque)
    return Photo(
        encoded_rgb=EncodedRgb(turn_upright(pixels, header.orientation)),
        encoding=encoding,
        sha256=hashlib.sha256(photo_bytes).hexdigest(),
        file_format=header.file_format,
        bits=header.bits,
        steps=_steps(header, encoding.name),
        findings=header.findings + colour_findings + see_through,
    )


def _decoded(photo_bytes: bytes) -> tuple[Pixels, Header]:
    kind = kind_of(photo_bytes)
    if kind is FileKind.RAW:
        header = raw.read_header(photo_bytes)
        check_header(header)
        return raw.decode(photo_bytes, header)
    reader = _READERS[kind]
    header = reader.read_header(photo_bytes)
    check_header(header)
    return reader.decode(photo_bytes, header), header


def check_bytes(photo_bytes: bytes) -> None:
    """Refuse no bytes, and more than can be handled."""
    if not photo_bytes:
        raise refusal("empty", "The file is empty.", "Copy it again from the camera or phone.")
    if len(photo_bytes) > MOST_BYTES:
        raise refusal(
            "too_large",
            f"The file has {len(photo_bytes) / 1e6:.0f} MB; up to {MOST_BYTES / 1e6:.0f} MB are read.",
            "Send the photo as JPEG or HEIC, as the phone makes it.",
        )


def check_header(header: Header) -> None:
    """Refuse what the header alone shows to be unfit: size, several pictures, no colour."""
    check_size(header.width_px, header.height_px)
    if header.frames > 1:
        raise refusal(
            "animated",
            f"The {header.file_format} file holds more than one picture.",
            "Send one still photo in its own file.",
        )
    if header.channels in _CHANNEL_WORDS:
        raise refusal(*_CHANNEL_WORDS[header.channels])


_CHANNEL_WORDS = {
    Channels.GREY: (
        "grey",
        "The picture is grey: there is no colour to read.",
        "Take a colour photo; switch black-and-white modes off.",
    ),
    Channels.PALETTE: (
        "palette",
        "The picture keeps at most 256 colours, as drawings do; a photo's shades are lost.",
        "Send the photo as the camera or phone made it.",
    ),
    Channels.CMYK: (
        "cmyk",
        "The picture is made for a printing press (CMYK), and its light can't be told from that.",
        "Send the photo as the camera or phone made it.",
    ),
    Channels.OTHER: (
        "unsupported",
        "The picture stores its colours in a way that is not read here.",
        "Save it as an ordinary RGB picture: JPEG, or 16-bit PNG.",
    ),
}


def check_size(width_px: int, height_px: int) -> None:
    """Refuse pictures too large to handle or too small to read."""
    if width_px * height_px > MOST_PIXELS:
        raise refusal(
            "too_large",
            f"The picture is {width_px} x {height_px} pixels ({width_px * height_px / 1e6:.0f} megapixels); "
            f"up to {MOST_PIXELS / 1e6:.0f} are read.",
            "Set the camera to 12 to 50 megapixels, or save a smaller copy.",
        )
    if min(width_px, height_px) < FEWEST_PIXELS_A_SIDE:
        raise refusal(
            "too_few_pixels",
            f"The picture is {width_px} x {height_px} pixels, too small to read; "
            f"{FEWEST_PIXELS_A_SIDE} on each side are the least.",
            "Send the photo in its full size.",
        )


def check_colour(stored: Pixels) -> None:
    """Refuse a picture whose three channels are one: black-and-white, kept in a colour file.

    A black, a white or a blank picture shows no drawing, and is left to the checks of exposure.
    """
    sample = stored[::_SAMPLE_STEP, ::_SAMPLE_STEP, :3].astype(np.float32) * (255 / np.iinfo(stored.dtype).max)
    lightest, darkest = sample.max(axis=-1), sample.min(axis=-1)
    if np.max(lightest - darkest) <= _GREY_SPREAD and np.std(lightest) >= _DRAWING_SD:
        raise refusal(*_CHANNEL_WORDS[Channels.GREY])


def without_alpha(pixels: Pixels) -> tuple[Pixels, tuple[Finding, ...]]:
    """Three channels: see-through parts lie on middle grey, and what was hidden beneath them is gone."""
    if pixels.shape[2] == 3:
        return np.ascontiguousarray(pixels), ()
    top = np.iinfo(pixels.dtype).max
    alpha = pixels[..., 3:]
    share = float(np.mean(alpha < top))
    if share == 0:
        return np.ascontiguousarray(pixels[..., :3]), ()
    cover = alpha.astype(np.float32) / top
    mixed = pixels[..., :3] * cover + _BACKDROP_CODE * top * (1 - cover)
    finding = Finding(
        "see_through",
        Severity.CARE,
        f"{100 * share:.0f} % of the picture is see-through and was laid on grey.",
        "Send the photo as the camera made it, without anything cut out.",
    )
    return np.rint(mixed).astype(pixels.dtype), (finding,)


def turn_upright(pixels: Pixels, orientation: int) -> Pixels:
    """The picture as it was seen, from the EXIF orientation 1-8. Source: EXIF 2.32 (CIPA DC-008), tag 0x0112."""
    turned = _TURNS[orientation](pixels)
    return np.ascontiguousarray(turned)


_TURNS: dict[int, Callable[[Pixels], Pixels]] = {
    1: lambda pixels: pixels,
    2: lambda pixels: pixels[:, ::-1],
    3: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_180),
    4: lambda pixels: pixels[::-1],
    5: lambda pixels: cv2.transpose(pixels),
    6: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE),
    7: lambda pixels: cv2.transpose(cv2.rotate(pixels, cv2.ROTATE_180)),
    8: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE),
}


def _steps(header: Header, encoding_name: str) -> tuple[Step, ...]:
    opened = Step("open", STEP_VERSION, {"format": header.file_format, "bits": header.bits, "encoding": encoding_name})
    if header.orientation == 1:
        return (opened,)
    return opened, Step("turn_upright", STEP_VERSION, {"orientation": header.orientation})
