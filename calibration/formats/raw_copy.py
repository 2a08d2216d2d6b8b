"""A RAW file written anew as a DNG of our own: what a reading needs of it, and nothing of whom, where or which camera.

Kept are the sensor's values, its pattern, black and white, the camera's matrix, the balance of the shot and which way
is up. A copy counts only where reading it gives the numbers of the original. Source of the tags: DNG 1.4, TIFF 6.0.
"""

import io
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from calibration.errors import PhotoRefusedError
from calibration.formats import raw
from calibration.formats.header import Header, Pixels
from calibration.photo import FloatArray

# sRGB's primaries in CIE XYZ as the decoder has them, to seven digits (IEC 61966-2-1, D65).
_SRGB_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
MOST_CODES_OFF = 2  # of 65535: fractions of the tags are rounded
MOST_MATRIX_OFF = 1e-4
_TURNS = {0: 1, 3: 3, 5: 8, 6: 6}  # the decoder's word for turning, as EXIF's
_MOSAIC, _COLOUR = 32803, 34892  # PhotometricInterpretation: values behind colour filters, or three for each pixel
_LOSSLESS_JPEG, _D65 = 7, 21
_WHOLE = 65535


@dataclass(frozen=True, eq=False)
class Sensor:
    """What a DNG says.

    values : uint16, (rows, columns) behind filters or (rows, columns, 3). pattern : Channel of each filter, 2 x 2.
    black : For each filter of the pattern, or each channel. white : Of every channel.
    xyz_to_camera : None where the camera is not described. balance : Factors of the channels; None where none is told.
    """

    values: Pixels
    pattern: tuple[int, ...]
    black: tuple[float, ...]
    white: int
    xyz_to_camera: FloatArray | None
    balance: tuple[float, float, float] | None
    orientation: int


def clean_raw(photo_bytes: bytes, most_bytes: int) -> bytes | None:
    """A DNG without private tags that reads as this RAW file does; None where none can be made within `most_bytes`.

    Raises PhotoRefusedError for a file that can't be decoded.
    """
    pixels, header = raw.decode(photo_bytes, raw.read_header(photo_bytes))
    # The sensor's own values are a third of the colour's; colour serves where they lie in a pattern of another kind.
    for sensor_of in (_mosaic, lambda photo: _colour(photo, pixels)):
        sensor = sensor_of(photo_bytes)
        copy = dng_bytes(sensor) if sensor is not None else b""
        if copy and len(copy) <= most_bytes and _reads_alike(copy, pixels, header):
            return copy
    return None


def _reads_alike(copy: bytes, pixels: Pixels, header: Header) -> bool:
    try:
        again, said = raw.decode(copy, raw.read_header(copy))
    except PhotoRefusedError:
        return False
    if again.shape != pixels.shape or not _matrices_alike(said.camera_to_xyz_d65, header.camera_to_xyz_d65):
        return False
    # Row by row, since a whole picture of differences would take twice the room of the picture.
    off = (np.max(np.abs(now.astype(np.int32) - was)) for now, was in zip(again, pixels, strict=True))
    return all(most <= MOST_CODES_OFF for most in off)


_Matrix = tuple[tuple[float, ...], ...] | None


def _matrices_alike(one: _Matrix, other: _Matrix) -> bool:
    if one is None or other is None:
        return one is other
    return bool(np.allclose(np.array(one), np.array(other), rtol=0, atol=MOST_MATRIX_OFF))


# --- what is taken over ----------------------------------------------------------------------------------------


def _mosaic(photo_bytes: bytes) -> Sensor | None:
    """The sensor's own values; None where they do not lie behind a pattern of two by two."""
    import rawpy

    with rawpy.imread(io.BytesIO(photo_bytes)) as opened:
        pattern = opened.raw_pattern
        if opened.raw_type is not rawpy.RawType.Flat or pattern is None or np.shape(pattern) != (2, 2):
            return None
        filters = tuple(int(channel) for channel in opened.raw_colors_visible[:2, :2].ravel())
        black = opened.black_level_per_channel
        return Sensor(
            values=opened.raw_image_visible.astype(np.uint16),
            pattern=tuple(1 if channel == 3 else channel for channel in filters),  # the second green is green
            black=tuple(float(black[channel]) for channel in filters),
            white=int(opened.white_level),
            xyz_to_camera=_xyz_to_camera(opened),
            balance=_balance(opened.camera_whitebalance),
            orientation=_TURNS.get(opened.sizes.flip, 1),
        )


def _colour(photo_bytes: bytes, pixels: Pixels) -> Sensor:
    """The colour as it was decoded: balanced, upright, three values for each pixel."""
    import rawpy

    with rawpy.imread(io.BytesIO(photo_bytes)) as opened:
        return Sensor(pixels, (), (0.0, 0.0, 0.0), _WHOLE, _xyz_to_camera(opened), (1.0, 1.0, 1.0), 1)


def _balance(told: Sequence[float]) -> tuple[float, float, float] | None:
    red, green, blue = (float(factor) for factor in told[:3])
    return (red, green, blue) if min(red, green, blue) > 0 else None


def _xyz_to_camera(opened: Any) -> FloatArray | None:
    """CIE XYZ to camera colour: the decoder's way to sRGB, turned back, and scaled as its daylight balance says."""
    to_srgb = np.asarray(opened.color_matrix, dtype=np.float64)[:, :3]
    if raw.camera_to_xyz_d65(to_srgb) is None:
        return None
    daylight = np.asarray(opened.daylight_whitebalance, dtype=np.float64)[:3]
    scale = 1 / daylight if np.min(daylight) > 0 else np.ones(3)
    matrix: FloatArray = scale[:, None] * (np.linalg.inv(to_srgb) @ np.linalg.inv(_SRGB_TO_XYZ))
    return matrix


# --- the file --------------------------------------------------------------------------------------------------

_SIZES = {"B": 1, "s": 1, "H": 2, "I": 4, "R": 8, "r": 8}  # bytes of one value of each TIFF type
_CODES = {"B": 1, "s": 2, "H": 3, "I": 4, "R": 5, "r": 10}
_Tag = tuple[int, str, Sequence[Any]]


def dng_bytes(sensor: Sensor) -> bytes:
    """The DNG of these values, packed without loss in one strip."""
    import imagecodecs

    values, space = _in_components(sensor.values)
    packed = bytes(
        imagecodecs.jpeg8_encode(values, lossless=True, bitspersample=16, colorspace=space, outcolorspace=space)
    )
    tags = sorted((*_layout_tags(sensor, len(packed)), *_camera_tags(sensor)))
    directory_size = 2 + 12 * len(tags) + 4
    behind = sum(_padded(_size(tag)) for tag in tags if _size(tag) > 4)
    strip = 8 + directory_size + behind
    return _directory([(number, kind, (strip,) if number == 273 else told) for number, kind, told in tags]) + packed


def _in_components(values: Pixels) -> tuple[Pixels, str]:
    """The values as the packer takes them: filters by fours, so that each is told from one of its own colour."""
    if values.ndim == 3:
        return np.ascontiguousarray(values), "rgb"
    height, width = values.shape
    if width % 4:
        return np.ascontiguousarray(values), "gray"
    return np.ascontiguousarray(values).reshape(height, width // 4, 4), "cmyk"


def _layout_tags(sensor: Sensor, packed_bytes: int) -> list[_Tag]:
    height, width = sensor.values.shape[:2]
    samples = 1 if sensor.values.ndim == 2 else 3
    pattern: list[_Tag] = [(33421, "H", (2, 2)), (33422, "B", sensor.pattern)] if sensor.pattern else []
    return [
        (254, "I", (0,)),
        (256, "I", (width,)),
        (257, "I", (height,)),
        (258, "H", (16,) * samples),
        (259, "H", (_LOSSLESS_JPEG,)),
        (262, "H", (_MOSAIC if samples == 1 else _COLOUR,)),
        (273, "I", (0,)),
        (274, "H", (sensor.orientation,)),
        (277, "H", (samples,)),
        (278, "I", (height,)),
        (279, "I", (packed_bytes,)),
        (284, "H", (1,)),
        *pattern,
    ]


def _camera_tags(sensor: Sensor) -> list[_Tag]:
    samples = 1 if sensor.values.ndim == 2 else 3
    repeat = (2, 2) if sensor.pattern else (1, 1)
    tags: list[_Tag] = [
        (50706, "B", (1, 4, 0, 0)),
        (50708, "s", b"camera\0"),
        (50713, "H", repeat),
        (50714, "R", sensor.black),
        (50717, "I", (sensor.white,) * samples),
    ]
    if sensor.xyz_to_camera is not None:
        tags += [(50721, "r", tuple(sensor.xyz_to_camera.ravel())), (50778, "H", (_D65,))]
    if sensor.balance is not None:
        tags.append((50728, "R", tuple(1 / factor for factor in sensor.balance)))
    return tags


def _size(tag: _Tag) -> int:
    return _SIZES[tag[1]] * len(tag[2])


def _padded(size: int) -> int:
    return size + size % 2


def _directory(tags: Sequence[_Tag]) -> bytes:
    """Head and directory, what does not fit into an entry behind it. Layout: TIFF 6.0, section 2."""
    place = 8 + 2 + 12 * len(tags) + 4
    entries, behind = b"", b""
    for number, kind, told in tags:
        content = _packed(kind, told)
        inside = content.ljust(4, b"\0") if len(content) <= 4 else struct.pack("<I", place + len(behind))
        entries += struct.pack("<HHI", number, _CODES[kind], len(told)) + inside
        if len(content) > 4:
            behind += content.ljust(_padded(len(content)), b"\0")
    return b"II*\0" + struct.pack("<IH", 8, len(tags)) + entries + bytes(4) + behind


def _packed(kind: str, told: Sequence[Any]) -> bytes:
    if kind == "s":
        return bytes(told)
    if kind in "Rr":
        pairs = [Fraction(float(value)).limit_denominator(1_000_000) for value in told]
        return struct.pack(
            f"<{2 * len(pairs)}{'I' if kind == 'R' else 'i'}", *(n for p in pairs for n in p.as_integer_ratio())
        )
    return struct.pack(f"<{len(told)}{kind}", *told)
