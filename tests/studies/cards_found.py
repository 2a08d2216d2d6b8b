"""Which marked cards are found, and where: python tests/studies/cards_found.py

Looks for ../shared/charts: real photographs with the places of their patches marked by eye.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from calibration.cards.finding import search_cards
from calibration.cards.geometry import project
from calibration.cards.layouts import grid_places
from calibration.opening import open_photo

CHARTS = Path(__file__).resolve().parents[3] / "shared" / "charts"


def marked_centres(marks: dict[str, list[float]]) -> np.ndarray:
    """Centres of all 24 patches from four marked ones. shape (24, 2)."""
    import cv2

    places = grid_places()[[int(number) - 1 for number in marks]].astype(np.float32)
    to_photo = cv2.getPerspectiveTransform(places, np.array(list(marks.values()), dtype=np.float32))
    return project(to_photo, grid_places())


def main() -> None:
    """Print one line for each photograph: what was found, how far off, how long it took."""
    if not CHARTS.exists():
        print(f"Skipped: there is no folder {CHARTS}.")
        return
    for chart in json.loads((CHARTS / "charts.json").read_text()):
        photo = open_photo((CHARTS / chart["file"]).read_bytes())
        started = time.perf_counter()
        search = search_cards(photo)
        seconds = time.perf_counter() - started
        if not search.sightings:
            what = "part" if search.part is not None else "another card" if search.other is not None else "none"
            print(f"{chart['file']:28} {what:14} {seconds:.2f} s")
            continue
        card, line = search.sightings[0], f"{chart['file']:28} found          {seconds:.2f} s"
        if chart["patch_centres_px"]:
            true = marked_centres(chart["patch_centres_px"])
            pitch = np.median(np.linalg.norm(np.diff(true.reshape(4, 6, 2), axis=1), axis=2))
            off = np.linalg.norm(card.patch_centres_px - true, axis=1).mean() / pitch
            line += f"   {off:.3f} pitches off, hidden {(np.flatnonzero(card.hidden) + 1).tolist()}"
        print(line)


if __name__ == "__main__":
    main()
