"""What a neutral thing is worth where there is no card: the card is painted over but for one grey patch.

    python -m tests.studies.neutral_scenes [--patch 21]

The patch left is pointed at. Printed for each setting: error, share of the truth inside the nine-in-ten intervals,
width of the L* interval over the mean error, and how many photographs were called usable (none may be). The model is
the shipped one. The scenes are looked for in ../shared/truth; without them the study says so and stops.
"""

import argparse
import json
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from calibration.cards.finding import find_cards
from calibration.colourspaces import delta_e_2000
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.findings import Verdict
from calibration.opening import open_photo
from calibration.photo import EncodedRgb, Photo
from calibration.pipeline import correct_photo
from calibration.references import References
from estimator.reading.zone_colour import read_zones
from estimator.zones.inputs import load_zone_spec, zones_of

SCENES = Path(__file__).resolve().parents[3] / "shared" / "truth"
MIN_PIXELS = 800
NINE_IN_TEN = 1.6449


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--patch", type=int, default=21, help="the grey patch that is left, 19 white to 24 black")
    patch = arguments.parse_args().patch
    if not SCENES.exists():
        sys.exit(f"No scenes in {SCENES}: nothing was measured.")
    misses, sds, verdicts = defaultdict(list), defaultdict(list), Counter()
    for folder, photo, truth in photos():
        painted, neutral = without_card(photo, patch)
        corrected = correct_photo(painted, References(neutral=neutral))
        verdicts[str(corrected.verdict.verdict)] += 1
        if corrected.verdict.verdict is Verdict.RETAKE:
            continue
        zones = zones_of(load_zone_spec(folder / "zones.png"), corrected)
        for reading in read_zones(corrected, zones).readings:
            if truth[reading.zone]["pixels"] >= MIN_PIXELS:
                misses[reading.setting].append((reading.lab_d65, truth[reading.zone]["lab_d65"]))
                sds[reading.setting].append(reading.lab_sd)
    for setting, pairs in misses.items():
        read_lab, true_lab = np.array(pairs).transpose(1, 0, 2)
        off, sd = read_lab - true_lab, np.array(sds[setting])
        inside = (np.abs(off) <= NINE_IN_TEN * sd).mean(axis=0).round(2)
        width = 2 * NINE_IN_TEN * sd[:, 0].mean() / np.abs(off[:, 0]).mean()
        error = delta_e_2000(read_lab, true_lab).mean()
        print(f"{setting:6} {len(off)} readings  ΔE2000 {error:.1f}  bias {off.mean(axis=0).round(1)}")
        print(f"       inside L*, a*, b* {inside}  width/|error| {width:.1f}")
    print(f"verdicts: {dict(verdicts)}")


def photos() -> Iterator[tuple[Path, Photo, dict]]:
    """Every photograph without a fault and with a whole card, and the truth of its zones."""
    for folder in sorted(SCENES.glob("scene*")):
        document = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        for shot in document["photos"]:
            if shot["condition"] not in ("bad", "hard"):
                which = "truth_after" if shot["condition"].startswith("after") else "truth"
                yield folder, open_photo((folder / shot["file"]).read_bytes()), document[which]


def without_card(photo: Photo, patch: int) -> tuple[Photo, NeutralPoint]:
    """The photograph with its card painted over in the colour around it, but for one patch; and that patch."""
    card = find_cards(photo)[0]
    quad = card.patch_quads_px[patch - 1]
    painted = photo.encoded_rgb.copy()
    middle = card.corners_px.mean(axis=0)
    outline = np.round(middle + 1.25 * (card.corners_px - middle)).astype(np.int32)
    cover, kept = (np.zeros(painted.shape[:2], np.uint8) for _ in range(2))
    cv2.fillPoly(cover, [outline], 1)
    cv2.fillPoly(kept, [np.round(quad).astype(np.int32)], 1)
    rim = cv2.dilate(cover, np.ones((9, 9), np.uint8)).astype(bool) & ~cover.astype(bool)
    painted[cover.astype(bool) & ~kept.astype(bool)] = np.median(painted[rim], axis=0)
    x_px, y_px = quad.mean(axis=0)
    radius_px = max(2.0, 0.35 * float(np.linalg.norm(quad[1] - quad[0])))
    return replace(photo, encoded_rgb=EncodedRgb(painted)), NeutralPoint(float(x_px), float(y_px), radius_px)


if __name__ == "__main__":
    main()
