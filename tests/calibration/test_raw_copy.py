"""A RAW file without private tags: the same numbers when it is read again, and nothing else of the original in it."""

import io
import struct

import numpy as np
import pytest
import tifffile

from calibration.errors import PhotoRefusedError
from calibration.formats import raw_copy
from calibration.formats.raw_copy import clean_raw
from calibration.opening import open_photo
from calibration.private_tags import clean_copy
from tests.synthetic import encoded_files as files

SIXTY_MB = 60_000_000
SEEDS = (b"SERIAL-SEED", b"OWNER-SEED", b"MAKER-SEED", b"MODEL-SEED", b"2031:07:09", b"XMP-SEED", b"LENS-SEED")
# What a DNG of ours may hold: TIFF 6.0 and DNG 1.4, by number.
OURS = {254, 256, 257, 258, 259, 262, 273, 274, 277, 278, 279, 284, 33421, 33422, 50706, 50708, 50713, 50714, 50717}
OURS |= {50721, 50728, 50778}
PRIVATE = [
    (271, "s", 0, "MAKER-SEED", True), (272, "s", 0, "MODEL-SEED", True), (306, "s", 0, "2031:07:09 10:00:00", True),
    (315, "s", 0, "OWNER-SEED", True), (700, "B", 8, b"XMP-SEED", True), (50735, "s", 0, "SERIAL-SEED", True),
    (50827, "B", 8, b"file.raw", True), (50736, 5, 4, (24, 1, 70, 1, 28, 10, 40, 10), True),
    (42036, "s", 0, "LENS-SEED", True),
]  # fmt: skip


def noisy_sensor(seed: int = 3, height: int = 96, width: int = 144) -> np.ndarray:
    """Sensor counts with noise, some black and some at the limit."""
    counts = np.random.default_rng(seed).normal(5000, 3000, (height, width))
    counts[:8, :8], counts[-8:, -8:] = 0, 16000
    return np.clip(counts, 0, 16000).astype(np.uint16)


def dng(pattern=(0, 1, 1, 2), black=(0, 0, 0, 0), described=True, balanced=True, turn=1, width=144) -> bytes:
    """A DNG by tifffile, salted with private tags."""
    tags = [
        (50706, "B", 4, (1, 4, 0, 0), True), (33421, "H", 2, (2, 2), True), (33422, "B", 4, pattern, True),
        (50713, "H", 2, (2, 2), True), (50714, "H", 4, black, True), (50717, "H", 1, 16000, True),
        (274, "H", 1, turn, True), (50708, "s", 0, "MODEL-SEED", True), *PRIVATE,
    ]  # fmt: skip
    if described:
        tags.append((50721, 10, 9, files._fractions(files.XYZ_TO_CAMERA.ravel()), True))
    if balanced:
        tags.append((50728, 5, 3, files._fractions(np.array(files.CAMERA_NEUTRAL)), True))
    return files.tiff_bytes(noisy_sensor(width=width), photometric=32803, extratags=tags)


KINDS = {
    "as usual": dng,
    "filters the other way round": lambda: dng(pattern=(2, 1, 1, 0)),
    "green first": lambda: dng(pattern=(1, 0, 2, 1)),
    "black above nought": lambda: dng(black=(512, 512, 512, 512)),
    "black of each filter": lambda: dng(black=(500, 508, 512, 530)),
    "on its side": lambda: dng(turn=6),
    "upside down": lambda: dng(turn=3),
    "of no known camera": lambda: dng(described=False),
    "without a balance": lambda: dng(balanced=False),
    "of an odd width": lambda: dng(width=146),
    "three values a pixel": lambda: files.linear_dng_bytes(files.patch_scene()),
}
USUAL = ("as usual", "three values a pixel")


@pytest.mark.parametrize("name", KINDS)
def test_the_copy_gives_the_numbers_of_the_original(name: str) -> None:
    original = KINDS[name]()
    before, after = open_photo(original), open_photo(clean_copy(original))
    assert after.file_format == before.file_format == "RAW"
    off = np.abs(after.encoded_rgb.astype(int) - before.encoded_rgb)
    # Factors are written as fractions to a millionth: of 65535 that is less than a tenth of one code, so rounding.
    assert off.max() <= 1
    assert after.encoding.to_xyz_d65 == pytest.approx(before.encoding.to_xyz_d65, abs=1e-5)
    assert (after.encoding.linear, after.encoding.assumed) == (True, before.encoding.assumed)
    assert after.findings == before.findings


@pytest.mark.parametrize(
    "name", [name if name in USUAL else pytest.param(name, marks=pytest.mark.slow) for name in KINDS]
)
def test_nothing_private_is_left(name: str) -> None:
    original = KINDS[name]()
    if name != "three values a pixel":
        assert all(seed in original for seed in SEEDS)
    clean = clean_copy(original)
    assert [seed for seed in SEEDS if seed in clean] == []
    with tifffile.TiffFile(io.BytesIO(clean)) as opened:
        (page,) = opened.pages
        assert {tag.code for tag in page.tags} <= OURS
        assert page.tags[50708].value == "camera"
        assert page.photometric == (34892 if name == "three values a pixel" else 32803)
    assert len(clean) < len(original)


def test_cleaning_twice_changes_nothing_more() -> None:
    once = clean_copy(dng())
    assert clean_copy(once) == once


def test_a_place_in_the_file_is_not_taken_along() -> None:
    # 48 degrees 12' 34.5", as fractions; behind the end, where no reader looks.
    place = struct.pack("<6I", 48, 1, 12, 1, 69, 2)
    assert place not in clean_copy(dng() + place)


def test_a_copy_that_would_be_too_large_or_would_read_otherwise_is_not_made(monkeypatch) -> None:
    assert clean_raw(dng(), SIXTY_MB) is not None
    assert clean_raw(dng(), 2_000) is None
    honest = raw_copy._balance
    monkeypatch.setattr(raw_copy, "_balance", lambda told: tuple(1.01 * np.array(honest(told)) * (1, 1, 1.01)))
    monkeypatch.setattr(raw_copy, "_colour", lambda photo, pixels: None)
    assert clean_raw(dng(), SIXTY_MB) is None
    with pytest.raises(PhotoRefusedError) as caught:
        clean_copy(dng())
    assert caught.value.finding.code == "raw_not_cleaned"
    assert "JPEG or TIFF" in caught.value.finding.remedy


def test_where_the_sensor_can_t_be_told_its_colour_is_kept(monkeypatch) -> None:
    monkeypatch.setattr(raw_copy, "_mosaic", lambda photo: None)
    original = dng(turn=6)
    before, after = open_photo(original), open_photo(clean_copy(original))
    assert np.abs(after.encoded_rgb.astype(int) - before.encoded_rgb).max() <= 1
    assert after.encoding.to_xyz_d65 == pytest.approx(before.encoding.to_xyz_d65, abs=1e-5)
