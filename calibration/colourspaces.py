"""CIE XYZ, CIELAB and LCh at D65, and CIEDE2000: the arithmetic that runs on many pixels at once.

colour-science is the reference in the tests; it takes seconds to import, so it stays off the path from photo to table.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Floating = TypeVar("Floating", np.float32, np.float64)

# Four digits, as the sRGB standard prints them (IEC 61966-2-1); its matrices assume these.
WHITE_D65_XY = (0.3127, 0.3290)
WHITE_D65_XYZ: FloatArray = np.array(
    [WHITE_D65_XY[0] / WHITE_D65_XY[1], 1.0, (1 - sum(WHITE_D65_XY)) / WHITE_D65_XY[1]]
)
WHITE_D65_XYZ.setflags(write=False)

# CIE 15:2018: the exact fractions, not their old roundings.
CIE_EPSILON = 216 / 24389
CIE_KAPPA = 24389 / 27

# IEC 61966-2-1, the inverse of its printed matrix is derived from the primaries, not typed.
SRGB_TO_XYZ_D65: FloatArray = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
SRGB_TO_XYZ_D65.setflags(write=False)


def xyz_to_lab(xyz_d65: NDArray[Floating]) -> NDArray[Floating]:
    """CIELAB D65 2° of CIE XYZ (white Y = 1). Any shape (..., 3); L* 0-100.

    Tiny negative XYZ, as a fitted matrix makes of black, follow the straight part of the CIE curve.
    """
    ratio = xyz_d65 / WHITE_D65_XYZ.astype(xyz_d65.dtype)
    root = np.cbrt(ratio)
    curve = np.where(ratio > CIE_EPSILON, root, (CIE_KAPPA * ratio + 16) / 116)
    lightness = 116 * curve[..., 1] - 16
    red_green = 500 * (curve[..., 0] - curve[..., 1])
    yellow_blue = 200 * (curve[..., 1] - curve[..., 2])
    return np.stack([lightness, red_green, yellow_blue], axis=-1).astype(xyz_d65.dtype)


def lab_to_xyz(lab_d65: FloatArray) -> FloatArray:
    """CIE XYZ (white Y = 1) of CIELAB D65 2°. Any shape (..., 3)."""
    lab_d65 = np.asarray(lab_d65, dtype=np.float64)
    middle = (lab_d65[..., 0] + 16) / 116
    curve = np.stack([middle + lab_d65[..., 1] / 500, middle, middle - lab_d65[..., 2] / 200], axis=-1)
    cube = curve**3
    ratio = np.where(cube > CIE_EPSILON, cube, (116 * curve - 16) / CIE_KAPPA)
    return ratio * WHITE_D65_XYZ


def lab_jacobian(xyz_d65: FloatArray) -> FloatArray:
    """Derivative of CIELAB by CIE XYZ at one colour. shape (3, 3): rows L*, a*, b*."""
    ratio = np.asarray(xyz_d65, dtype=np.float64) / WHITE_D65_XYZ
    safe = np.maximum(ratio, CIE_EPSILON)
    slope = np.where(ratio > CIE_EPSILON, safe ** (-2 / 3) / 3, CIE_KAPPA / 116) / WHITE_D65_XYZ
    return np.array(
        [
            [0.0, 116 * slope[1], 0.0],
            [500 * slope[0], -500 * slope[1], 0.0],
            [0.0, 200 * slope[1], -200 * slope[2]],
        ]
    )


def lab_to_lch(lab_d65: FloatArray) -> FloatArray:
    """L*, C*, hue angle [degrees, 0-360) of CIELAB. Any shape (..., 3)."""
    lab_d65 = np.asarray(lab_d65, dtype=np.float64)
    chroma = np.hypot(lab_d65[..., 1], lab_d65[..., 2])
    hue_deg = np.degrees(np.arctan2(lab_d65[..., 2], lab_d65[..., 1])) % 360
    return np.stack([lab_d65[..., 0], chroma, hue_deg], axis=-1)


def xyz_to_srgb8(xyz_d65: NDArray[Floating]) -> NDArray[np.uint8]:
    """8-bit sRGB for a screen, clipped to its gamut. Any shape (..., 3)."""
    to_srgb = np.linalg.inv(SRGB_TO_XYZ_D65).astype(xyz_d65.dtype)
    linear = np.clip(xyz_d65 @ to_srgb.T, 0, 1)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    codes: NDArray[np.uint8] = np.rint(255 * encoded).astype(np.uint8)
    return codes


def in_srgb(xyz_d65: FloatArray) -> bool:
    """Whether a screen of the sRGB kind can show this colour."""
    linear = np.linalg.inv(SRGB_TO_XYZ_D65) @ np.asarray(xyz_d65, dtype=np.float64)
    return bool(np.all(linear >= -1e-4) and np.all(linear <= 1 + 1e-4))


_CHUNK = 8192  # pairs that fit the cache: chunks are worth more than a compiler here


def delta_e_2000(lab_1: NDArray[Floating], lab_2: NDArray[Floating]) -> NDArray[Floating]:
    """CIEDE2000 colour difference, kL = kC = kH = 1. Shapes (..., 3), broadcast against each other.

    Source: Sharma, Wu, Dalal, Color Res. Appl. 30(1):21-30, 2005; equation numbers below are theirs.
    """
    first, second = np.broadcast_arrays(lab_1, lab_2)
    shape = first.shape[:-1]
    first, second = first.reshape(-1, 3), second.reshape(-1, 3)
    out = np.empty(len(first), dtype=first.dtype)
    for start in range(0, len(first), _CHUNK):
        part = slice(start, start + _CHUNK)
        out[part] = _delta_e_2000_chunk(first[part].T, second[part].T)
    return out.reshape(shape)


def _delta_e_2000_chunk(first: NDArray[Floating], second: NDArray[Floating]) -> NDArray[Floating]:
    l_1, a_1, b_1 = first
    l_2, a_2, b_2 = second
    c_mean_7 = ((np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2) ** 7  # Eq. (3)
    stretch = 1 + (1 - np.sqrt(c_mean_7 / (c_mean_7 + 25.0**7))) / 2  # Eq. (4), (5)
    a_1, a_2 = a_1 * stretch, a_2 * stretch
    c_1, c_2 = np.hypot(a_1, b_1), np.hypot(a_2, b_2)  # Eq. (6)
    h_1 = np.arctan2(b_1, a_1) % (2 * np.pi)  # Eq. (7)
    h_2 = np.arctan2(b_2, a_2) % (2 * np.pi)
    coloured = c_1 * c_2 != 0
    turn = h_2 - h_1
    turn = np.where(turn > np.pi, turn - 2 * np.pi, np.where(turn < -np.pi, turn + 2 * np.pi, turn))  # Eq. (10)
    d_hue = 2 * np.sqrt(c_1 * c_2) * np.sin(np.where(coloured, turn, 0) / 2)  # Eq. (11)
    h_sum = h_1 + h_2
    far = np.abs(h_1 - h_2) > np.pi
    h_mean = np.where(far, np.where(h_sum < 2 * np.pi, h_sum / 2 + np.pi, h_sum / 2 - np.pi), h_sum / 2)
    h_mean = np.where(coloured, h_mean, h_sum)  # Eq. (14)
    l_mean_50 = ((l_1 + l_2) / 2 - 50) ** 2
    c_mean = (c_1 + c_2) / 2
    weave = (
        1
        - 0.17 * np.cos(h_mean - np.pi / 6)
        + 0.24 * np.cos(2 * h_mean)
        + 0.32 * np.cos(3 * h_mean + np.pi / 30)
        - 0.20 * np.cos(4 * h_mean - 63 * np.pi / 180)
    )  # Eq. (15)
    lightness = (l_2 - l_1) / (1 + 0.015 * l_mean_50 / np.sqrt(20 + l_mean_50))  # Eq. (8), (19)
    chroma = (c_2 - c_1) / (1 + 0.045 * c_mean)  # Eq. (9), (20)
    hue = d_hue / (1 + 0.015 * c_mean * weave)  # Eq. (21)
    c_mean_7 = c_mean**7
    blue = np.exp(-(((np.degrees(h_mean) - 275) / 25) ** 2))  # Eq. (16)
    turn_term = -2 * np.sqrt(c_mean_7 / (c_mean_7 + 25.0**7)) * np.sin(np.pi / 3 * blue)  # Eq. (17), (21)
    squared = lightness**2 + chroma**2 + hue**2 + turn_term * chroma * hue  # Eq. (22)
    difference: NDArray[Floating] = np.sqrt(np.maximum(squared, 0))
    return difference
