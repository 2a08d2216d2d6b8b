"""A scene of known linear light, and the bytes of picture files that hold it: the reverse of opening.

Writers are general libraries (Pillow, tifffile, OpenCV), so that opening is checked against files it had no part in.
"""

import io
import struct
import zlib
from collections.abc import Callable
from fractions import Fraction

import cv2
import imagecodecs
import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

FloatArray = NDArray[np.float64]
PATCH_PX, ROWS, COLUMNS = 24, 4, 6

SRGB_XY = (0.64, 0.33, 0.30, 0.60, 0.15, 0.06)  # IEC 61966-2-1
DISPLAY_P3_XY = (0.680, 0.320, 0.265, 0.690, 0.150, 0.060)  # SMPTE EG 432-1
ADOBE_RGB_XY = (0.64, 0.33, 0.21, 0.71, 0.15, 0.06)  # Adobe RGB (1998)
D65_XY = (0.3127, 0.3290)
SEEDED_SERIAL, SEEDED_OWNER = "SN-7731-SEED", "OWNER-SEED"


def patch_colours() -> FloatArray:
    """Linear RGB of 24 patches, from near black to near white. shape (4, 6, 3)."""
    colours = np.random.default_rng(24).uniform(0.02, 0.9, (ROWS, COLUMNS, 3))
    colours[3] = np.array([0.9, 0.6, 0.36, 0.19, 0.09, 0.02])[:, None]
    return colours


def patch_scene(patch_px: int = PATCH_PX) -> FloatArray:
    """The patches side by side, linear light. shape (4 * patch_px, 6 * patch_px, 3)."""
    return np.kron(patch_colours(), np.ones((patch_px, patch_px, 1)))


def patch_means(picture: NDArray[np.floating]) -> FloatArray:
    """Mean of the inner half of each patch. shape (4, 6, channels)."""
    high, wide = picture.shape[0] // ROWS, picture.shape[1] // COLUMNS
    inner = picture.reshape(ROWS, high, COLUMNS, wide, -1)[:, high // 4 : -(high // 4), :, wide // 4 : -(wide // 4)]
    return np.asarray(inner.mean(axis=(1, 3)), dtype=np.float64)


def srgb_stored(linear: FloatArray) -> FloatArray:
    """sRGB values of linear light, both 0-1. Source: IEC 61966-2-1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def codes8(stored: FloatArray) -> NDArray[np.uint8]:
    """8-bit code values of values 0-1."""
    return np.rint(255 * stored).astype(np.uint8)


def codes16(stored: FloatArray) -> NDArray[np.uint16]:
    """16-bit code values of values 0-1."""
    return np.rint(65535 * stored).astype(np.uint16)


def hair_like(height_px: int = 192, width_px: int = 256) -> NDArray[np.uint8]:
    """An 8-bit picture with fine detail, as a photograph of hair has. shape (rows, columns, 3)."""
    noise = np.random.default_rng(7).normal(0, 1, (height_px, width_px, 3))
    strands = cv2.GaussianBlur(noise, (0, 0), sigmaX=0.8, sigmaY=6)
    return np.clip(110 + 160 * strands + np.array([30, 0, -30]), 0, 255).astype(np.uint8)


def icc_profile(primaries_xy: tuple[float, ...], gamma: float | None = None) -> bytes:
    """A profile of these corners with D65 and sRGB's curve, or a power, made by the colour engine lcms."""
    choice = {"transferfunction": _srgb_curve()} if gamma is None else {"gamma": gamma}
    return bytes(imagecodecs.cms_profile("rgb", whitepoint=list(D65_XY), primaries=list(primaries_xy), **choice))


def _srgb_curve() -> NDArray[np.float32]:
    stored = np.linspace(0, 1, 1024)
    return np.where(stored <= 0.04045, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4).astype(np.float32)


def exif_block(orientation: int = 1, colour_space: int | None = None, private: bool = False) -> bytes:
    """An EXIF block as Pillow writes it, without the prefix of JPEG; `private` seeds names, numbers and a place."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    if colour_space is not None:
        exif.get_ifd(0x8769)[0xA001] = colour_space
    if private:
        exif[0x013B] = SEEDED_OWNER
        exif.get_ifd(0x8769)[0xA431] = SEEDED_SERIAL
        exif.get_ifd(0x8769)[0x927C] = b"MAKERNOTE-SEED"
        exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 34.5), 29: "2031:07:09"})
    return exif.tobytes().removeprefix(b"Exif\0\0")


def pillow_bytes(pixels: NDArray[np.uint8], file_format: str, **options: object) -> bytes:
    """An 8-bit picture file by Pillow; options are Pillow's (icc_profile, exif, quality ...)."""
    stream = io.BytesIO()
    if isinstance(options.get("exif"), bytes) and file_format != "TIFF":
        options["exif"] = b"Exif\0\0" + options["exif"]
    Image.fromarray(pixels).save(stream, file_format, **options)
    return stream.getvalue()


def png_bytes(pixels: NDArray[np.generic], **chunks: bytes) -> bytes:
    """A PNG of 8 or 16 bits by OpenCV, with further chunks (iCCP, gAMA, cICP ...) put after its head."""
    flip = [2, 1, 0, 3][: pixels.shape[2]]
    plain = cv2.imencode(".png", np.ascontiguousarray(pixels[..., flip]))[1].tobytes()
    head_end = 8 + 25
    extra = b"".join(png_chunk(name.encode(), payload) for name, payload in chunks.items())
    return plain[:head_end] + extra + plain[head_end:]


def png_chunk(name: bytes, payload: bytes) -> bytes:
    """One PNG chunk with length and check sum."""
    return struct.pack(">I", len(payload)) + name + payload + struct.pack(">I", zlib.crc32(name + payload))


def png_icc(profile: bytes) -> bytes:
    """Payload of an iCCP chunk."""
    return b"profile\0\0" + zlib.compress(profile)


def tiff_bytes(pixels: NDArray[np.generic], **options: object) -> bytes:
    """A TIFF by tifffile; options are tifffile's (compression, rowsperstrip, iccprofile, extratags ...)."""
    stream = io.BytesIO()
    tifffile.imwrite(stream, pixels, **{"photometric": "rgb", "metadata": None, "software": False, **options})
    return stream.getvalue()


# A made-up camera: CIE XYZ to its own channels, and the light of a white wall under the lamp of the shot.
XYZ_TO_CAMERA: FloatArray = np.array([[0.7, -0.1, -0.05], [-0.4, 1.2, 0.15], [-0.08, 0.2, 0.6]])
CAMERA_NEUTRAL = (0.5, 1.0, 0.6)
SENSOR_WHITE = 16000


def dng_bytes(linear_camera: FloatArray, orientation: int = 1) -> bytes:
    """A DNG (version 1.4, RGGB mosaic) of white-balanced linear camera colour 0-1."""
    sensor = linear_camera * np.array(CAMERA_NEUTRAL) * SENSOR_WHITE
    mosaic = np.empty(sensor.shape[:2])
    for row, column, channel in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        mosaic[row::2, column::2] = sensor[row::2, column::2, channel]
    tags = [
        *_camera_tags(channels=1),
        (33421, "H", 2, (2, 2), True),
        (33422, "B", 4, (0, 1, 1, 2), True),
        (274, "H", 1, orientation, True),
    ]
    return tiff_bytes(np.rint(mosaic).astype(np.uint16), photometric=32803, extratags=tags)


def linear_dng_bytes(linear_camera: FloatArray) -> bytes:
    """A DNG that holds white-balanced linear camera colour as three values a pixel, as some phones write it."""
    sensor = np.rint(linear_camera * np.array(CAMERA_NEUTRAL) * SENSOR_WHITE)
    return tiff_bytes(sensor.astype(np.uint16), photometric=34892, extratags=_camera_tags(channels=3))


def _camera_tags(channels: int) -> list[tuple[object, ...]]:
    """What a DNG says of its camera: version, black, white, colour matrix, neutral, name (DNG 1.4, tag numbers)."""
    return [
        (50706, "B", 4, (1, 4, 0, 0), True),
        (50714, "H", channels, (0,) * channels, True),
        (50717, "H", channels, (SENSOR_WHITE,) * channels, True),
        (50721, 10, 9, _fractions(XYZ_TO_CAMERA.ravel()), True),
        (50728, 5, 3, _fractions(np.array(CAMERA_NEUTRAL)), True),
        (50708, "s", 0, "Made-up camera", True),
    ]


def _fractions(values: FloatArray) -> list[int]:
    pairs = [Fraction(float(value)).limit_denominator(10_000) for value in values]
    return [part for pair in pairs for part in (pair.numerator, pair.denominator)]


def huge_png(width_px: int, height_px: int) -> bytes:
    """A sound PNG of one bit a pixel that swells to its full size only when decoded."""
    head = struct.pack(">IIBBBBB", width_px, height_px, 8, 2, 0, 0, 0)
    packing = zlib.compressobj(9)
    row = bytes(1 + 3 * width_px)
    body = b"".join(packing.compress(row) for _ in range(height_px // 50)) + packing.flush()
    return b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", head) + png_chunk(b"IDAT", body) + png_chunk(b"IEND", b"")


def adobe_exif_block() -> bytes:
    """An EXIF block of a camera set to Adobe RGB: "uncalibrated", and R03 in the interoperability directory."""
    exif = Image.Exif()
    camera = exif.get_ifd(0x8769)
    camera[0xA001] = 0xFFFF
    camera[0xA005] = {1: "R03"}
    return exif.tobytes().removeprefix(b"Exif\0\0")


def cube_profile(to_lab_like: Callable[[FloatArray], FloatArray], points: int = 17) -> bytes:
    """An ICC v2 input profile whose only content is a look-up cube (lut16, PCS XYZ). Layout: ICC.1:2001-04, 6.5.7.

    to_lab_like : From stored values 0-1 to CIE XYZ of the connection space, shapes (..., 3).
    """
    axis = np.linspace(0, 1, points)
    grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    cube = np.clip(np.rint(to_lab_like(grid) * 32768), 0, 65535).astype(">u2")  # XYZ in u1Fixed15
    ramp = np.array([0, 65535], dtype=">u2").tobytes()
    matrix = struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    lut = b"mft2\0\0\0\0" + bytes((3, 3, points, 0)) + matrix + struct.pack(">2H", 2, 2) + 3 * ramp
    lut += cube.tobytes() + 3 * ramp
    tags = {b"A2B0": lut, b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3i", 63190, 65536, 54061)}
    tags[b"desc"] = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"cube\0" + bytes(78)
    tags[b"cprt"] = b"text\0\0\0\0none\0"
    return _profile_of(tags)


def _profile_of(tags: dict[bytes, bytes]) -> bytes:
    place = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, payload in tags.items():
        padded = payload + bytes(-len(payload) % 4)
        table += name + struct.pack(">II", place + len(body), len(payload))
        body += padded
    white = struct.pack(">3i", 63190, 65536, 54061)
    head = struct.pack(">I4sI4s4s4s", place + len(body), b"lcms", 0x02400000, b"scnr", b"RGB ", b"XYZ ")
    head += bytes(12) + b"acsp" + bytes(28) + white
    return head.ljust(128, b"\0") + table + body


def profile_head(colour_space: bytes) -> bytes:
    """The head of a profile for pictures of another kind: "GRAY" or "CMYK"."""
    whole = cube_profile(lambda rgb: rgb, points=2)
    return whole[:16] + colour_space + whole[20:]
