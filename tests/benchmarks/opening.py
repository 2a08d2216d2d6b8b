"""A 12-megapixel JPEG opened, beside its bare decoder and hash."""

import hashlib

import simplejpeg

from calibration.opening import open_photo
from tests.benchmarks.scenes import photo_jpeg
from tests.benchmarks.timing import median_seconds


def main() -> None:
    jpeg = photo_jpeg()
    floor = median_seconds(lambda: (simplejpeg.decode_jpeg(jpeg), hashlib.sha256(jpeg)), 9)
    ours = median_seconds(lambda: open_photo(jpeg), 9)
    print(f"12 megapixels: decoder and hash {1000 * floor:.0f} ms, opened {1000 * ours:.0f} ms: {ours / floor:.2f}")
