"""One 12-megapixel JPEG with twelve zones: the whole reading against the floor, and a new process against its goal.

The floor is what the fastest decoder, the chart finder on a 1500-pixel copy, one look-up and one matrix in strips and
plain trimmed statistics of every seventh row cost, without any of the checks.
"""

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
import simplejpeg

from calibration.colourspaces import SRGB_TO_XYZ_D65
from tests.benchmarks.scenes import photo_jpeg, zone_polygons
from tests.benchmarks.timing import median_seconds

# The command, and then the process's own peak: asked from outside, the peak would be that of the process it came from.
_READ = """
import sys
from estimator.cli import app
app(standalone_mode=False)
print(*(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")), file=sys.stderr)
"""


def main() -> None:
    from estimator import visit
    from estimator.zones.inputs import zone_spec_from_json

    jpeg = photo_jpeg()
    document = json.dumps({"setting": "board", "zones": zone_polygons()})
    spec = zone_spec_from_json(document)
    floor = median_seconds(lambda: _floor(jpeg), repeats=9)
    ours = median_seconds(lambda: visit.read_photo(jpeg, spec), repeats=9)
    print(f"12 megapixels, 12 zones, warm: {1000 * ours:.0f} ms, floor {1000 * floor:.0f} ms, ratio {ours / floor:.2f}")
    few = json.loads(document) | {"zones": dict(list(zone_polygons().items())[:1])}
    one = median_seconds(lambda: visit.read_photo(jpeg, zone_spec_from_json(json.dumps(few))), repeats=5)
    print(f"each further zone: {1000 * (ours - one) / 11:.1f} ms")
    many = zone_spec_from_json(json.dumps({"setting": "board", "zones": zone_polygons(24)}))
    twice = median_seconds(lambda: visit.read_photo(jpeg, many), repeats=5)
    print(f"24 zones: {1000 * twice:.0f} ms, {twice / ours:.2f} times 12")
    seconds, megabytes = _new_process(jpeg, document)
    print(f"from the command to the numbers, new process: {seconds:.2f} s (median of 3), peak {megabytes:.0f} MB")


def _floor(jpeg: bytes) -> list[tuple[np.ndarray, np.ndarray]]:
    rgb8 = simplejpeg.decode_jpeg(jpeg, colorspace="RGB")
    small = cv2.resize(rgb8, (1500, 1125), interpolation=cv2.INTER_AREA)
    detector = cv2.mcc.CCheckerDetector_create()
    detector.setColorChartType(cv2.mcc.MCC24)
    detector.process(cv2.cvtColor(small, cv2.COLOR_RGB2BGR), 2)
    codes = np.arange(256) / 255
    curve = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4).astype(np.float32)
    table, matrix = np.repeat(curve[:, None], 3, 1).reshape(1, 256, 3), SRGB_TO_XYZ_D65.astype(np.float32)
    xyz = np.empty(rgb8.shape, np.float32)
    for top in range(0, len(rgb8), 100):
        cv2.transform(cv2.LUT(rgb8[top : top + 100], table), matrix, xyz[top : top + 100])
    return [_trimmed_statistics(xyz, np.array(polygon)) for polygon in zone_polygons().values()]


def _trimmed_statistics(xyz: np.ndarray, polygon: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    (left, top), (right, bottom) = polygon.min(0), polygon.max(0)
    mask = np.zeros((bottom - top, right - left), np.uint8)
    cv2.fillPoly(mask, [polygon - (left, top)], 1)
    pixels = xyz[top:bottom, left:right][::7][mask[::7].astype(bool)]
    tenth = len(pixels) // 10
    low, high = np.partition(pixels[:, 1], [tenth, len(pixels) - tenth])[[tenth, len(pixels) - tenth]]
    kept = pixels[(pixels[:, 1] >= low) & (pixels[:, 1] <= high)]
    centred = kept - kept.mean(0)
    return kept.mean(0), centred.T @ centred


def _new_process(jpeg: bytes, document: str) -> tuple[float, float]:
    """Seconds from the command to its output, and the peak memory of that process. [s, MB]"""
    with tempfile.TemporaryDirectory() as folder:
        photo, zones = Path(folder, "photo.jpg"), Path(folder, "zones.json")
        photo.write_bytes(jpeg)
        zones.write_text(document, encoding="utf-8")
        command = [sys.executable, "-c", _READ, "read", str(photo), "--zones", str(zones), "--json"]
        taken = []
        for _ in range(3):
            start = time.perf_counter()
            ran = subprocess.run(command, check=True, capture_output=True, text=True)
            taken.append(time.perf_counter() - start)
    return sorted(taken)[1], float(ran.stderr.split()[-1]) / 1000
