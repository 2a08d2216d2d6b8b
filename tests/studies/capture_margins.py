"""How far good and faulty photographs lie from each threshold: python tests/studies/capture_margins.py

Looks for ../shared: rendered photographs whose faults are known, and real ones. Names and faults are only printed and
grouped by; nothing here feeds a threshold by itself.
"""

import json
import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration import judging
from calibration.cards.layouts import GREY_ROW
from calibration.cards.sharpness import card_edge_width_px
from calibration.findings import Verdict
from calibration.opening import open_photo
from calibration.pipeline import correct_photo
from calibration.thresholds import thresholds

SHARED = Path(__file__).resolve().parents[3] / "shared"


def photographs() -> list[tuple[Path, str]]:
    """Every photograph and its group: good, the fault's code, or real."""
    found = []
    for truth in sorted(SHARED.glob("truth/scene*/truth.json")):
        for photo in json.loads(truth.read_text())["photos"]:
            group = photo["fault"] or ("hard" if photo["condition"] == "hard" else "good")
            found.append((truth.parent / photo["file"], group))
    charts = SHARED / "charts" / "charts.json"
    if charts.exists():
        for chart in json.loads(charts.read_text()):
            found.append((SHARED / "charts" / chart["file"], "print" if "print28" in chart["file"] else "real"))
    return found


def measures(path: Path) -> dict[str, float]:
    """What the checks of one photograph measure, by code; empty where no card is found."""
    photo = open_photo(path.read_bytes())
    corrected = correct_photo(photo)
    if corrected.sighting is None or corrected.patches is None:
        return {}
    patches, sighting = corrected.patches, corrected.sighting
    greys_over = 0
    for patch in GREY_ROW:
        if patches.why_not[patch] != "clipped":
            break
        greys_over += 1
    values = {
        "overexposed": float(greys_over),
        "underexposed": float(patches.linear_rgb[GREY_ROW[0]].max()),
        "motion_blur": 1000 * card_edge_width_px(photo, sighting) / max(photo.width_px, photo.height_px),
        "too_small": judging.patch_pitch_px(sighting),
        "card_covered": float(sum(why in judging.HIDDEN for why in patches.why_not)),
        "glare": float(sum(why == "glare" for why in patches.why_not)),
    }
    if corrected.verified:
        values["poor_match"] = corrected.correction.held_out_de2000
    return values


def main() -> None:
    """Print, for each check and group, the range of its measure, and how often each group is refused."""
    if not SHARED.exists():
        print(f"Skipped: there is no folder {SHARED}.")
        return
    ranges: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    refused: dict[str, list[bool]] = defaultdict(list)
    for path, group in photographs():
        photo = open_photo(path.read_bytes())
        refused[group].append(correct_photo(photo).verdict.verdict is Verdict.RETAKE)
        for code, value in measures(path).items():
            ranges[code][group].append(value)
    for code, groups in ranges.items():
        row = thresholds()[code]
        print(f"{code} [{row.unit}]: care {row.care:g}, retake {row.retake:g}")
        for group, values in sorted(groups.items()):
            low, middle, high = np.min(values), np.median(values), np.max(values)
            print(f"    {group:14} {len(values):4d} photos   {low:8.2f} {middle:8.2f} {high:8.2f}")
    for group, verdicts in sorted(refused.items()):
        print(f"refused of {group:14} {sum(verdicts)} of {len(verdicts)}")


if __name__ == "__main__":
    main()
