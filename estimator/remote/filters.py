"""A filter suspected from the card: colours far more vivid than cameras make them, or greys that change their hue.

Smoothing of skin was tried as well: in the photographs at hand the share of fine texture runs from 0.3 to 5 without any
filter and falls to 0.3 with one, so nothing can be said from it, and nothing is.
"""

import numpy as np

from calibration.cards.layouts import GREY_ROW, classic24_editions
from calibration.cards.sighting import PatchColours
from calibration.colourspaces import xyz_to_lab
from calibration.photo import Encoding

# Untouched photographs of cards at hand, from phones, cameras and the renderer: chroma 0.8 to 1.44 times the card's
# own; a* and b* of the greys drift by 2 to 16. Beyond the worst of them a filter is suspected.
# tests/studies/filtered_photos.py prints them.
MOST_VIVID = 1.5
MOST_GREY_DRIFT = 18.0
FEWEST_GREYS, FEWEST_COLOURS = 4, 8


def filter_suspected(patches: PatchColours, encoding: Encoding) -> str:
    """Why a filter is suspected, in one sentence; "" where nothing speaks for one, or too few patches are seen."""
    measures = filter_measures(patches, encoding)
    if measures is None:
        return ""
    vivid, drift = measures
    if vivid > MOST_VIVID:
        return f"The card's colours are {vivid:.1f} times as vivid as they are: a filter may be on."
    if drift > MOST_GREY_DRIFT:
        return "The card's greys change their hue from light to dark: a filter may be on, or two lamps."
    return ""


def filter_measures(patches: PatchColours, encoding: Encoding) -> tuple[float, float] | None:
    """Chroma against the card's own, and the range of a* and b* along the greys, white balanced; None if few serve."""
    edition = classic24_editions()[-1]
    greys = [patch for patch in GREY_ROW if patches.usable[patch]]
    colours = [patch for patch in range(18) if patches.usable[patch]]
    if len(greys) < FEWEST_GREYS or len(colours) < FEWEST_COLOURS:
        return None
    wanted = edition.xyz_d65 @ np.linalg.inv(encoding.to_xyz_d65).T
    gains = np.median(wanted[greys] / patches.linear_rgb[greys], axis=0)
    lab = xyz_to_lab((patches.linear_rgb * gains) @ encoding.to_xyz_d65.T)
    chroma, own = (np.hypot(which[colours, 1], which[colours, 2]) for which in (lab, edition.lab_d65))
    drift = np.hypot(*np.ptp(lab[greys, 1:], axis=0))
    return float(np.median(chroma / own)), float(drift)
