"""What a file's colour numbers mean: profiles and stated colour spaces, reduced to three tables and a matrix."""

import hashlib
from functools import lru_cache

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from calibration.colourspaces import SRGB_TO_XYZ_D65, WHITE_D65_XYZ
from calibration.findings import Finding, Severity
from calibration.formats.header import DECODER_TROUBLE, DeclaredColour, Header, Pixels, refusal
from calibration.formats.tags import SRGB
from calibration.photo import Encoding, FloatArray
from calibration.transfer import bt709_to_linear, gamma_to_linear, srgb_to_linear

# The white of the profile connection space, ICC.1:2022 (header, PCS illuminant).
PCS_WHITE_XYZ: FloatArray = np.array([0.9642, 1.0, 0.8249])

# Linear Bradford: Lam 1985, as printed in ICC.1:2022 (chromatic adaptation).
BRADFORD: FloatArray = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

# Misfit in XYZ (white Y = 1) up to which three curves and a matrix stand for a profile. Profiles of that kind come out
# below 1e-4, those made of a look-up cube far above.
MATRIX_RESIDUAL_LIMIT = 5e-4
_RELATIVE_COLORIMETRIC = 1

# Stored white must come out as the white of the connection space. Our assumption: makers' rounding stays far below.
WHITE_TOLERANCE = 0.01


def adaptation_matrix(from_white_xyz: FloatArray, to_white_xyz: FloatArray) -> FloatArray:
    """Matrix that moves CIE XYZ from one white to another (linear Bradford). shape (3, 3)."""
    gains = (BRADFORD @ to_white_xyz) / (BRADFORD @ from_white_xyz)
    moved: FloatArray = np.linalg.inv(BRADFORD) @ np.diag(gains) @ BRADFORD
    return moved


PCS_TO_D65: FloatArray = adaptation_matrix(PCS_WHITE_XYZ, WHITE_D65_XYZ)


def encoding_of(header: Header, pixels: Pixels) -> tuple[Pixels, Encoding, tuple[Finding, ...]]:
    """The pixels with their meaning, and what is to be said about it.

    Pixels come back as they were, unless the profile is no set of curves and a matrix: then they are converted once,
    to 16 bits of a wide space. Raises PhotoRefusedError for a profile of a grey or a printing picture.
    """
    codes = 256 if pixels.dtype == np.uint8 else 65536
    if header.file_format == "RAW":
        return pixels, camera_encoding(header.camera_to_xyz_d65), _camera_findings(header)
    if header.icc is not None:
        _check_profile_kind(header.icc)
        try:
            encoding = encoding_from_profile(header.icc, codes)
            doubts = profile_doubts(header.icc)
            if encoding is not None:
                return pixels, encoding, doubts
            wide = to_wide_rgb(pixels, header.icc)
            return wide, encoding_from_profile_or_fail(wide_profile(), 65536), doubts
        except DECODER_TROUBLE:
            return pixels, srgb_encoding(codes, assumed=True), (_broken_profile(),)
    if header.declared is not None:
        return pixels, encoding_from_declared(header.declared, codes), ()
    return pixels, srgb_encoding(codes, assumed=True), (_no_profile(),)


def _check_profile_kind(icc: bytes) -> None:
    # ICC.1:2022, profile header: bytes 16 to 19 name the colour space of the pixels.
    if icc[16:20] == b"GRAY":
        raise refusal(
            "grey",
            "The embedded profile is that of a grey picture: there is no colour to read.",
            "Take a colour photo; switch black-and-white modes off.",
        )
    if icc[16:20] == b"CMYK":
        raise refusal(
            "cmyk",
            "The embedded profile is that of a printing press (CMYK).",
            "Send the photo as the camera made it, not one prepared for print.",
        )


@lru_cache(maxsize=16)
def profile_doubts(icc: bytes) -> tuple[Finding, ...]:
    """What makes a readable profile doubtful: its own check sum does not fit, or its white is not white."""
    white = profile_to_xyz(np.full((1, 1, 3), 255, dtype=np.uint8), icc)[0, 0]
    if _check_sum_fits(icc) and np.max(np.abs(white - PCS_WHITE_XYZ)) < WHITE_TOLERANCE:
        return ()
    finding = Finding(
        "profile_doubtful",
        Severity.CARE,
        "The colour profile in the file has been changed or damaged, and its colours may be wrong.",
        "Send the original file from the camera or phone.",
    )
    return (finding,)


def _check_sum_fits(icc: bytes) -> bool:
    # ICC.1:2022, profile ID: MD5 of the profile with flags, intent and the ID itself at zero; all zero is none given.
    stated = icc[84:100]
    if icc[8] < 4 or not any(stated):
        return True
    counted = icc[:44] + bytes(4) + icc[48:64] + bytes(4) + icc[68:84] + bytes(16) + icc[100:]
    return hashlib.md5(counted, usedforsecurity=False).digest() == stated


@lru_cache(maxsize=16)
def encoding_from_profile(icc: bytes, codes: int) -> Encoding | None:
    """Tables and matrix of an ICC profile; None where three curves and a matrix can't stand for it.

    The colour engine is asked for a ramp of each channel, then for 512 mixed colours to check the reduction.
    Raises RuntimeError for a broken profile.
    """
    ramps = np.zeros((3, codes, 3), dtype=np.uint8 if codes == 256 else np.uint16)
    for channel in range(3):
        ramps[channel, :, channel] = np.arange(codes)
    ramps_xyz = profile_to_xyz(ramps, icc)
    columns = ramps_xyz[:, -1] - ramps_xyz[:, 0]
    lengths = np.sum(columns**2, axis=1)
    if not np.all(np.isfinite(ramps_xyz)) or np.min(lengths) < 1e-8:
        raise ValueError("a channel of the profile carries no light")
    tables = np.einsum("cvk,ck->cv", ramps_xyz - ramps_xyz[:, :1], columns) / lengths[:, None]
    mixed = np.random.default_rng(0).integers(0, codes, (1, 512, 3)).astype(ramps.dtype)
    linear = np.stack([tables[channel][mixed[0, :, channel]] for channel in range(3)], axis=-1)
    residual = np.max(np.abs(linear @ columns - profile_to_xyz(mixed, icc)[0]))
    if residual > MATRIX_RESIDUAL_LIMIT:
        return None
    return Encoding(np.clip(tables, 0, 1).astype(np.float32), PCS_TO_D65 @ columns.T, profile_name(icc))


def encoding_from_profile_or_fail(icc: bytes, codes: int) -> Encoding:
    """Tables and matrix of a profile that is known to have them."""
    encoding = encoding_from_profile(icc, codes)
    if encoding is None:
        raise ValueError("the profile is no set of curves and a matrix")
    return encoding


def profile_to_xyz(encoded_rgb: Pixels, icc: bytes) -> FloatArray:
    """CIE XYZ at the profile's D50 of stored values, by the colour engine. float64, shape of the input."""
    xyz = imagecodecs.cms_transform(
        encoded_rgb,
        icc,
        imagecodecs.cms_profile("xyz"),
        colorspace="rgb",
        outcolorspace="xyz",
        outdtype="float32",
        intent=_RELATIVE_COLORIMETRIC,
    )
    return np.asarray(xyz, dtype=np.float64)


@lru_cache(maxsize=1)
def wide_profile() -> bytes:
    """A profile wide enough for any camera: BT.2020 primaries, D65, exponent 1.8 so that 16 bits never step visibly."""
    primaries = [0.708, 0.292, 0.170, 0.797, 0.131, 0.046]
    profile: bytes = imagecodecs.cms_profile("rgb", whitepoint=[0.3127, 0.3290], primaries=primaries, gamma=1.8)
    return profile


def to_wide_rgb(encoded_rgb: Pixels, icc: bytes) -> Pixels:
    """Stored values of any RGB profile as 16-bit values of the wide profile. Raises RuntimeError if it is broken."""
    wide: NDArray[np.uint16] = imagecodecs.cms_transform(
        encoded_rgb,
        icc,
        wide_profile(),
        colorspace="rgb",
        outcolorspace="rgb",
        outdtype="uint16",
        intent=_RELATIVE_COLORIMETRIC,
    )
    return wide


def profile_name(icc: bytes) -> str:
    """The profile's own description, at most 60 plain characters; "embedded profile" where it has none."""
    count = int.from_bytes(icc[128:132], "big")
    for at in range(132, 132 + 12 * min(count, 100), 12):
        if icc[at : at + 4] == b"desc":
            place = int.from_bytes(icc[at + 4 : at + 8], "big")
            return _description(icc[place : place + 400]) or "embedded profile"
    return "embedded profile"


def _description(tag: bytes) -> str:
    if tag.startswith(b"mluc"):
        length, offset = int.from_bytes(tag[20:24], "big"), int.from_bytes(tag[24:28], "big")
        text = tag[offset : offset + length].decode("utf-16-be", errors="ignore")
    else:
        text = tag[12 : 12 + int.from_bytes(tag[8:12], "big")].decode("ascii", errors="ignore")
    return "".join(letter for letter in text if letter.isprintable())[:60].strip()


@lru_cache(maxsize=4)
def srgb_encoding(codes: int, assumed: bool = False) -> Encoding:
    """sRGB as its standard prints it. `assumed` says that the file itself is silent."""
    stored = np.linspace(0.0, 1.0, codes)
    tables = np.repeat(srgb_to_linear(stored)[None], 3, axis=0).astype(np.float32)
    return Encoding(tables, SRGB_TO_XYZ_D65.copy(), "sRGB", assumed)


@lru_cache(maxsize=16)
def encoding_from_declared(declared: DeclaredColour, codes: int) -> Encoding:
    """Tables and matrix of a colour space that the file states without a profile."""
    if declared == SRGB:
        return srgb_encoding(codes)
    stored = np.linspace(0.0, 1.0, codes)
    if declared.curve == "srgb":
        linear = srgb_to_linear(stored)
    elif declared.curve == "bt709":
        linear = bt709_to_linear(stored)
    else:
        linear = gamma_to_linear(stored, float(declared.curve))
    tables = np.repeat(linear[None], 3, axis=0).astype(np.float32)
    return Encoding(tables, primaries_to_xyz_d65(declared.primaries_xy, declared.white_xy), declared.name)


def icc_from_declared(declared: DeclaredColour | None) -> bytes | None:
    """An ICC profile that says what the declared colour space says; None for none."""
    if declared is None:
        return None
    curve = encoding_from_declared(declared, 65536).tables[0, ::15]  # 4370 samples, both ends among them
    corners = [value for xy in declared.primaries_xy for value in xy]
    profile: bytes = imagecodecs.cms_profile(
        "rgb", whitepoint=list(declared.white_xy), primaries=corners, transferfunction=np.ascontiguousarray(curve)
    )
    return profile


def camera_encoding(camera_to_xyz_d65: tuple[tuple[float, ...], ...] | None) -> Encoding:
    """Linear camera colour of 16 bits; a camera that is not described is taken to see as sRGB does."""
    linear = np.linspace(0.0, 1.0, 65536, dtype=np.float32)
    matrix = SRGB_TO_XYZ_D65.copy() if camera_to_xyz_d65 is None else np.array(camera_to_xyz_d65)
    return Encoding(np.repeat(linear[None], 3, axis=0), matrix, "linear RAW", camera_to_xyz_d65 is None, linear=True)


def primaries_to_xyz_d65(primaries_xy: tuple[tuple[float, float], ...], white_xy: tuple[float, float]) -> FloatArray:
    """Matrix from linear RGB to CIE XYZ D65 of a space with these corners and white. shape (3, 3).

    Source: SMPTE RP 177:1993; another white than D65 is adapted by linear Bradford.
    """
    corners = np.array([_xyz_of(xy) for xy in primaries_xy]).T
    white = _xyz_of(white_xy)
    native = corners * np.linalg.solve(corners, white)
    matrix: FloatArray = adaptation_matrix(white, WHITE_D65_XYZ) @ native
    return matrix


def _xyz_of(xy: tuple[float, float]) -> FloatArray:
    return np.array([xy[0] / xy[1], 1.0, (1 - xy[0] - xy[1]) / xy[1]])


def _no_profile() -> Finding:
    return Finding(
        "no_profile",
        Severity.NOTE,
        "The file names no colour profile, so its colours are read as sRGB.",
        "Send the original file from the camera or phone; copies made by chat programs lose the profile.",
    )


def _camera_findings(header: Header) -> tuple[Finding, ...]:
    if header.camera_to_xyz_d65 is not None:
        return ()
    finding = Finding(
        "camera_unknown",
        Severity.CARE,
        "The RAW file does not describe how its camera sees colour, so only the card can tell.",
        "Keep the card in the photo, or save the file as DNG with the camera maker's converter.",
    )
    return (finding,)


def _broken_profile() -> Finding:
    return Finding(
        "profile_broken",
        Severity.CARE,
        "The colour profile in the file is broken, so its colours are read as sRGB.",
        "Send the original file from the camera or phone.",
    )
