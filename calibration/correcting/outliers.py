"""Patches that the correction itself shows to be wrong: something shines on them or lies over them."""

from dataclasses import replace

import numpy as np

from calibration.cards.sighting import PatchColours
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.choosing import ChosenCorrection
from calibration.photo import FloatArray

# A patch that sends back this much more than the card says shines. [our assumption]
SHINES_RATIO, SHINES_PLUS = 1.4, 0.03
UNEVEN_SHINES_RATIO = 1.1  # of a patch that is uneven anyway
# A patch that misses by this much, and by this many times the usual, is not the patch. [our assumption]
WRONG_DE2000, WRONG_TIMES = 15.0, 4.0
# A patch that seemed hidden but comes out this well is there: dark greys vanish in their dark frame. [our assumption]
THERE_DE2000, THERE_TIMES = 10.0, 2.5


def with_outliers_named(patches: PatchColours, chosen: ChosenCorrection) -> PatchColours:
    """The same patches, judged by their corrected colours.

    Those that shine are called "glare", those of a wholly other colour "covered"; those that were only thought hidden
    serve again.
    """
    xyz = _corrected(patches, chosen)
    seen = np.asarray(np.isfinite(xyz).all(axis=1))
    lab = xyz_to_lab(np.where(seen[:, None], xyz, 0))
    missed = np.where(seen, delta_e_2000(lab, chosen.edition.lab_d65), np.inf)
    usual = float(np.median(missed[patches.usable]))
    wrong = missed > max(WRONG_DE2000, WRONG_TIMES * usual)
    there = missed < max(THERE_DE2000, THERE_TIMES * usual)
    uneven = np.array([why == "uneven" for why in patches.why_not])
    ratio = np.where(uneven, UNEVEN_SHINES_RATIO, SHINES_RATIO)
    shines = seen & (xyz[:, 1] > ratio * chosen.edition.xyz_d65[:, 1] + SHINES_PLUS)
    why_not = tuple(
        _renamed(why, bool(wrong[place]), bool(there[place]), bool(shines[place]))
        for place, why in enumerate(patches.why_not)
    )
    return replace(patches, usable=np.array([not why for why in why_not]), why_not=why_not)


def _renamed(why: str, wrong: bool, there: bool, shines: bool) -> str:
    if shines and (why in ("clipped", "uneven") or (not why and wrong)):
        return "glare"
    if not why and wrong:
        return "covered"
    return "" if why == "covered" and there else why


def _corrected(patches: PatchColours, chosen: ChosenCorrection) -> FloatArray:
    """XYZ of every patch as corrected; nan where its light was not measured. shape (24, 3)."""
    measured = np.asarray(np.isfinite(patches.linear_rgb).all(axis=1))[:, None]
    xyz = chosen.patches_xyz(np.where(measured, patches.linear_rgb, 0.1 * chosen.reference_light))
    return np.where(measured, xyz, np.nan)
