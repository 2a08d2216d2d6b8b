"""The coordinates in which hair is modelled: logarithms of three sharpened channels, so that light multiplies away.

`hair_u` is (log green, log red/green, log blue/green): doubling the light moves the first alone.
"""

import numpy as np

from calibration.colourspaces import CIE_EPSILON, CIE_KAPPA, WHITE_D65_XYZ, lab_to_xyz, xyz_to_lab
from calibration.photo import FloatArray

# Sharpened cone responses (the linear Bradford matrix, as ICC profiles use it; from memory, and checked against
# colour-science in the tests), scaled so that the D65 white is 1, 1, 1.
_CONES: FloatArray = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
SHARPEN: FloatArray = np.array([row / float(row @ WHITE_D65_XYZ) for row in _CONES])
_SOFTEN: FloatArray = np.linalg.inv(SHARPEN).astype(np.float64)
SHARPEN.setflags(write=False)
# CIELAB as a linear map of the curve's three values: CIE 15:2018.
_LAB_OF_CURVE = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])

# Saturated dyes and noise can push a channel to nothing; below this share of green nothing is told apart.
LEAST_SHARE_OF_GREEN = 0.02
LEAST_GREEN = 1e-4


def hair_u_of_xyz(xyz_d65: FloatArray) -> FloatArray:
    """hair_u of CIE XYZ D65 (white Y = 1). Any shape (..., 3)."""
    sharp = np.asarray(xyz_d65, dtype=np.float64) @ SHARPEN.T
    green = np.maximum(sharp[..., 1], LEAST_GREEN)
    red, blue = (np.maximum(sharp[..., channel], LEAST_SHARE_OF_GREEN * green) for channel in (0, 2))
    return np.stack([np.log(green), np.log(red / green), np.log(blue / green)], axis=-1)


def xyz_of_hair_u(hair_u: FloatArray) -> FloatArray:
    """CIE XYZ D65 of hair_u. Any shape (..., 3)."""
    green = np.exp(hair_u[..., 0])
    sharp = np.stack([green * np.exp(hair_u[..., 1]), green, green * np.exp(hair_u[..., 2])], axis=-1)
    xyz: FloatArray = sharp @ _SOFTEN.T
    return xyz


def hair_u_of_lab(lab_d65: FloatArray) -> FloatArray:
    """hair_u of CIELAB D65. Any shape (..., 3)."""
    return hair_u_of_xyz(lab_to_xyz(lab_d65))


def lab_of_hair_u(hair_u: FloatArray) -> FloatArray:
    """CIELAB D65 of hair_u. Any shape (..., 3)."""
    return xyz_to_lab(xyz_of_hair_u(hair_u))


def lab_by_hair_u(hair_u: FloatArray) -> FloatArray:
    """Derivative of CIELAB by hair_u. shape (..., 3 of Lab, 3 of hair_u)."""
    green = np.exp(hair_u[..., 0])
    red, blue = green * np.exp(hair_u[..., 1]), green * np.exp(hair_u[..., 2])
    none = np.zeros_like(green)
    rows = [[red, red, none], [green, none, none], [blue, none, blue]]
    sharp_by_u = np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)
    curve = _curve_slope(xyz_of_hair_u(hair_u))
    derivative: FloatArray = (_LAB_OF_CURVE * curve[..., None, :]) @ (_SOFTEN @ sharp_by_u)
    return derivative


def _curve_slope(xyz_d65: FloatArray) -> FloatArray:
    """Derivative of CIELAB's cube-root curve by XYZ. The shape of the input."""
    ratio = xyz_d65 / WHITE_D65_XYZ
    root = np.cbrt(np.maximum(ratio, CIE_EPSILON))
    slope: FloatArray = np.where(ratio > CIE_EPSILON, 1 / (3 * root * root), CIE_KAPPA / 116) / WHITE_D65_XYZ
    return slope
