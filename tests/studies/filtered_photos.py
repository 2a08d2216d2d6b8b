"""How vivid and how even in hue a card looks in untouched photographs, and with filters over them.

    python -m tests.studies.filtered_photos

Needs the folder `../shared` with photographs of cards and renders.
"""

import sys
from pathlib import Path

import cv2
import numpy as np

from calibration.cards.finding import search_cards
from calibration.cards.patches import measure_patches
from calibration.errors import PhotoRefusedError
from calibration.opening import open_photo
from estimator.remote.filters import MOST_GREY_DRIFT, MOST_VIVID, filter_measures

SHARED = Path(__file__).resolve().parents[3] / "shared"


def main() -> None:
    if not SHARED.is_dir():
        sys.exit(f"There is no folder {SHARED}: nothing was measured.")
    photos = [
        *sorted(SHARED.glob("truth/scene*/*-clean.jpg"))[::6],
        *sorted(SHARED.glob("truth/scene*/*-phone.jpg"))[::4],
    ]
    photos += [path for path in sorted(SHARED.glob("charts/*")) if path.suffix in (".jpg", ".png")]
    print(f"suspected beyond {MOST_VIVID} times as vivid, or a drift of the greys beyond {MOST_GREY_DRIFT:.0f}")
    for name, change in FILTERS.items():
        found = [measures for path in photos if (measures := _measured(path, change)) is not None]
        vivid, drift = np.array(found).T
        suspected = np.mean((vivid > MOST_VIVID) | (drift > MOST_GREY_DRIFT))
        print(f"{name:16} {len(found)} cards; vivid {np.median(vivid):.2f} (most {vivid.max():.2f}), "
              f"drift {np.median(drift):.1f} (most {drift.max():.1f}); suspected {100 * suspected:.0f} %")  # fmt: skip


def _measured(path: Path, change) -> tuple[float, float] | None:
    try:
        photo = open_photo(change(path.read_bytes()))
    except PhotoRefusedError:
        return None
    sightings = search_cards(photo).sightings
    return filter_measures(measure_patches(photo, sightings[0]), photo.encoding) if sightings else None


def _vivid(share: float):
    def change(photo_bytes: bytes) -> bytes:
        hsv = cv2.cvtColor(_pixels(photo_bytes), cv2.COLOR_BGR2HSV).astype(np.float32)
        hsv[..., 1] = np.clip(share * hsv[..., 1], 0, 255)
        return _jpeg(cv2.cvtColor(hsv.astype(np.uint8), cv2.COLOR_HSV2BGR))

    return change


def _warm_lights_cool_shadows(photo_bytes: bytes) -> bytes:
    share = _pixels(photo_bytes).astype(np.float32) / 255
    tone = 2 * (share.mean(axis=-1, keepdims=True) - 0.5)
    tinted = share + share * (1 - share) * tone * np.array([-0.5, 0.0, 0.5])
    return _jpeg((255 * np.clip(tinted, 0, 1)).astype(np.uint8))


def _pixels(photo_bytes: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(photo_bytes, np.uint8), cv2.IMREAD_COLOR)


def _jpeg(bgr: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, 85])[1].tobytes()


FILTERS = {
    "untouched": lambda photo_bytes: photo_bytes,
    "vivid 1.3": _vivid(1.3),
    "vivid 1.6": _vivid(1.6),
    "vivid 2.0": _vivid(2.0),
    "two-tone": _warm_lights_cool_shadows,
}

if __name__ == "__main__":
    main()
