"""How far a file's colours are mixed before they reach the card's: python -m tests.studies.matrix_prior

For every published camera under every CIE lamp, developed with more or less saturation: the 3x3 that takes the file's
colours to the card's, on light balanced to neutral greys. Its elements off the diagonal, root mean square over all, are
the least that `calibration/correcting/matrix_prior.py` must allow. It allows two to six times as much: cameras turn
hues one by one and have a look of their own, and under a lamp that they don't balance they mix before the gains.
"""

import numpy as np

from calibration.colourspaces import SRGB_TO_XYZ_D65
from calibration.correcting.matrix_prior import MIXING_SD
from calibration.photo import FloatArray
from tests.synthetic.spectra import camera, camera_names, card_reflectances, lamp, table, xyz_d65

SATURATIONS = (0.9, 1.0, 1.1, 1.25)
LUMINANCE = SRGB_TO_XYZ_D65[1]
GREYS = slice(18, 24)


def mixing(camera_name: str, lamp_name: str, saturation: float) -> FloatArray:
    """The 3x3 from one camera's developed light to the card's linear sRGB, rows summing to 1."""
    true = xyz_d65(card_reflectances()) @ np.linalg.inv(SRGB_TO_XYZ_D65).T
    own = _seen(camera_name, "D65")
    to_srgb = np.linalg.lstsq(own, true, rcond=None)[0]
    file = _seen(camera_name, lamp_name) @ to_srgb
    grey = file @ LUMINANCE
    file = grey[:, None] + saturation * (file - grey[:, None])
    file = file * (true[GREYS] / file[GREYS]).mean(axis=0)
    say = 1 / np.sqrt(np.maximum(xyz_d65(card_reflectances())[:, 1:2], 0.02))
    fitted = np.linalg.lstsq(say * file, say * true, rcond=None)[0].T
    rows: FloatArray = fitted / fitted.sum(axis=1, keepdims=True)
    return rows


def _seen(camera_name: str, lamp_name: str) -> FloatArray:
    """The card as the sensor sees it, balanced on a perfect white."""
    weighted = camera(camera_name) * lamp(lamp_name)
    seen: FloatArray = card_reflectances() @ weighted.T / weighted.sum(axis=1)
    return seen


def main() -> None:
    """Print mean and root mean square of the mixing, and the prior."""
    lamps = list(table("lamps_cie"))
    found = np.array([mixing(one, lit, much) for one in camera_names() for lit in lamps for much in SATURATIONS])
    print(f"{len(found)} mixings: {len(camera_names())} cameras, {len(lamps)} lamps, {len(SATURATIONS)} saturations")
    print("mean", found.mean(axis=0).round(3).tolist())
    print("root mean square from none", np.sqrt(np.square(found - np.eye(3)).mean(axis=0)).round(3).tolist())
    print("largest", np.abs(found - np.eye(3)).max(axis=0).round(2).tolist())
    print("expected by the prior", np.array(MIXING_SD).tolist())


if __name__ == "__main__":
    main()
