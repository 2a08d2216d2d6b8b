"""How far off the colours are when a grey card of known reflectance is pointed at: python tests/studies/grey_card.py

As neutral_reference.py, with the reflectance of the grey patch told. Patch 22 (about 0.19) stands for the grey card.
Prints the spread of the misses and the share inside the stated nine-in-ten intervals. Looks for ../shared.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.cards.finding import find_cards
from calibration.cards.layouts import classic24_editions
from calibration.colourspaces import xyz_to_lab
from calibration.correcting.grey_card import GREY_LAB_SD, GreyCardPoint, correct_by_grey_card
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.errors import CorrectionError
from calibration.opening import open_photo
from calibration.photo import Box

SHARED = Path(__file__).resolve().parents[3] / "shared"
GREY = 21  # patch 22
NEAR_HAIR = (0, 1, 19, 20, 22, 23)
NINE_IN_TEN = 1.6449


def misses(path: Path) -> np.ndarray:
    """Lab read minus Lab of the card for each brown or grey. shape (n, 3)."""
    photo = open_photo(path.read_bytes())
    cards = find_cards(photo)
    if not cards:
        return np.zeros((0, 3))
    quads = cards[0].patch_quads_px
    edition = classic24_editions()[0]
    radius = max(2.0, 0.35 * float(np.linalg.norm(quads[GREY][1] - quads[GREY][0])))
    x, y = quads[GREY].mean(axis=0)
    try:
        point = GreyCardPoint(NeutralPoint(float(x), float(y), radius), float(edition.xyz_d65[GREY, 1]))
        correction = correct_by_grey_card(photo, point)
    except CorrectionError:
        return np.zeros((0, 3))
    found = []
    for patch in NEAR_HAIR:
        x, y = quads[patch].mean(axis=0).astype(int)
        reach = max(1, int(radius))
        box = Box(max(y - reach, 0), max(x - reach, 0), y + reach, x + reach)
        xyz = correction.xyz_d65(photo, box, 1).reshape(-1, 3).mean(axis=0).astype(np.float64)
        found.append(xyz_to_lab(xyz) - edition.lab_d65[patch])
    return np.array(found)


def main() -> None:
    """Print spread and coverage over rendered and real photographs."""
    groups = {
        "renders": sorted(path for path in SHARED.glob("truth/scene*/*.jpg") if "bad" not in path.name),
        "real cards": sorted([*SHARED.glob("charts/*.jpg"), *SHARED.glob("charts/*.png")]),
    }
    if not groups["renders"]:
        print(f"Skipped: there are no photographs in {SHARED}.")
        return
    for name, paths in groups.items():
        missed = np.concatenate([misses(path) for path in paths])
        inside = (np.abs(missed) <= NINE_IN_TEN * np.array(GREY_LAB_SD)).mean(axis=0)
        print(f"{name}: {len(missed)} readings of L*, a*, b*: bias {missed.mean(axis=0).round(1)}")
        print(f"  root mean square {np.sqrt(np.square(missed).mean(axis=0)).round(1)}")
        print(f"  90th percentile {np.percentile(np.abs(missed), 90, axis=0).round(1)}, inside {inside.round(3)}")


if __name__ == "__main__":
    main()
