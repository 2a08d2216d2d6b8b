"""Whether a JPEG looks like the small copy that a messenger makes of a photograph."""

import numpy as np

from calibration.findings import Finding, Severity
from calibration.formats.header import Header
from calibration.formats.jpeg_segments import DQT, Segment

# The first luminance table of ITU-T T.81, annex K.1, in the zigzag order of its figure A.6, as files store it. Encoders
# scale it: at their quality of 70 to 0.6 of it, at 82 to 0.36, and phones write photographs at 0.2 and less.
_K1_ZIGZAG = np.array(
    [16, 11, 12, 14, 12, 10, 16, 14, 13, 14, 18, 17, 16, 19, 24, 40, 26, 24, 22, 22, 24, 49, 35, 37, 29, 40, 58, 51, 61,
     60, 57, 51, 56, 55, 64, 72, 92, 78, 64, 68, 87, 69, 55, 56, 80, 109, 81, 87, 95, 98, 103, 104, 103, 62, 77, 113,
     121, 112, 100, 120, 92, 101, 103, 99], dtype=np.float64)  # fmt: skip
COARSE_FROM = 0.36
LONGEST_SIDE_PX = 2100  # our assumption: messengers send 1280 to 2048 pixels, cameras keep 3000 and more


def messenger_copy(header: Header, parts: tuple[Segment, ...], photo_bytes: bytes, has_exif: bool) -> Finding | None:
    """A note where the file has lost its tags and its profile, is small and coarsely stored; None else."""
    if has_exif or header.icc is not None or max(header.width_px, header.height_px) > LONGEST_SIDE_PX:
        return None
    if _coarseness(parts, photo_bytes) < COARSE_FROM:
        return None
    return Finding(
        "messenger_copy",
        Severity.NOTE,
        "The photo looks as if it had passed through a messenger: small, coarsely stored, its tags gone.",
        "Send the photo as a file, not through the messenger: the original keeps its profile and finer colour.",
    )


def _coarseness(parts: tuple[Segment, ...], photo_bytes: bytes) -> float:
    """Scale of the file's first quantisation table over the standard's, 0 where it has none of 8 bits."""
    for part in parts:
        payload = part.payload(photo_bytes) if part.marker == DQT else b""
        if len(payload) >= 65 and payload[0] == 0:
            return float(np.median(np.frombuffer(payload[1:65], np.uint8) / _K1_ZIGZAG))
    return 0.0
