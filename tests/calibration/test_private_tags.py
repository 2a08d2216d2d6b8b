"""A clean copy carries no place, number, name or hidden picture, and shows the same picture in the same colours."""

import io
import struct
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.opening import open_photo
from calibration.private_tags import clean_copy
from calibration.transfer import linear_light
from tests.synthetic import encoded_files as files

PICTURE = files.hair_like()
ICC = files.icc_profile(files.DISPLAY_P3_XY, 2.2)
HEIC = Path(__file__).parents[1] / "synthetic" / "heic" / "patches_8bit_turned.heic"

# Every seed that the files below are salted with, as bytes to be searched for. 48 deg 12' 34.5" is stored as fractions.
SEEDS = (
    files.SEEDED_SERIAL.encode(),
    files.SEEDED_OWNER.encode(),
    b"MAKERNOTE-SEED",
    b"2031:07:09",
    b"COMMENT-SEED",
    b"XMP-SEED",
    b"TAIL-SEED",
    b"IPTC-SEED",
    struct.pack(">6I", 48, 1, 12, 1, 69, 2),
    struct.pack("<6I", 48, 1, 12, 1, 69, 2),
)


def segment(marker: int, payload: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, 2 + len(payload)) + payload


def salted_jpeg(turn: int = 6, **options: object) -> bytes:
    exif = files.exif_block(turn, private=True)
    plain = files.pillow_bytes(PICTURE, "JPEG", quality=90, exif=exif, comment=b"COMMENT-SEED", **options)
    hidden = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x>XMP-SEED</x>") + segment(
        0xED, b"Photoshop 3.0\0IPTC-SEED"
    )
    hidden += segment(0xE2, b"MPF\0TAIL-SEED") + segment(0xE7, b"IPTC-SEED")
    # A JFIF head with a picture of 3 x 1 pixels inside, as JFIF 1.02 allows.
    jfif = segment(0xE0, b"JFIF\0\1\2\0\0\1\0\1\3\1" + b"TAIL-SEED")
    return plain[:2] + jfif + hidden + plain[20:] + b"TAIL-SEED" + plain


def salted_png() -> bytes:
    chunks = {"iCCP": files.png_icc(ICC), "eXIf": files.exif_block(8, private=True)}
    return files.png_bytes(PICTURE, tEXt=b"Author\0OWNER-SEED", zTXt=b"c\0COMMENT-SEED", **chunks) + b"TAIL-SEED"


def salted_webp() -> bytes:
    options = {"icc_profile": ICC, "exif": files.exif_block(3, private=True), "xmp": b"XMP-SEED"}
    return files.pillow_bytes(PICTURE, "WEBP", quality=90, **options) + b"TAIL-SEED"


def salted_tiff() -> bytes:
    tags = [(0x0112, "H", 1, 5, True), (0x013B, "s", 0, files.SEEDED_OWNER, True), (0x02BC, "B", 8, b"XMP-SEED", True)]
    sixteen = PICTURE.astype(np.uint16) * 257
    return files.tiff_bytes(
        sixteen, iccprofile=ICC, extratags=tags, description="COMMENT-SEED", datetime="2031:07:09 10:00:00"
    )


SALTED = {
    "JPEG": salted_jpeg,
    "JPEG with profile": lambda: salted_jpeg(icc_profile=ICC),
    "JPEG in layers": lambda: salted_jpeg(progressive=True),
    "PNG": salted_png,
    "WebP": salted_webp,
    "TIFF": salted_tiff,
}


@pytest.mark.parametrize("name", SALTED)
def test_nothing_private_is_left_and_the_picture_is_the_same(name: str) -> None:
    salted = SALTED[name]()
    assert any(seed in salted for seed in SEEDS)
    clean = clean_copy(salted)
    assert [seed for seed in SEEDS if seed in clean] == []
    before, after = open_photo(salted), open_photo(clean)
    assert np.array_equal(before.encoded_rgb, after.encoded_rgb)
    assert np.array_equal(before.encoding.tables, after.encoding.tables)
    assert np.array_equal(before.encoding.to_xyz_d65, after.encoding.to_xyz_d65)
    assert before.findings == after.findings


@pytest.mark.parametrize("name", SALTED)
def test_pillow_finds_no_tags_but_those_of_viewing(name: str) -> None:
    with Image.open(io.BytesIO(clean_copy(SALTED[name]()))) as picture:
        exif = picture.getexif()
        assert set(exif.get_ifd(0x8825)) == set()
        assert set(exif.get_ifd(0x8769)) <= {0xA001, 0xA005}
        private = set(exif) - {0x0112, 0x8769}
        # A TIFF's own structure is tags too.
        assert private == set() or (name == "TIFF" and private <= {254, *range(256, 285), 296, 317, 339, 34675})


def test_packed_pixels_of_a_jpeg_are_kept_byte_for_byte() -> None:
    salted = salted_jpeg()
    scan = salted[salted.index(b"\xff\xda") : salted.index(b"\xff\xd9TAIL-SEED")]
    assert scan in clean_copy(salted)


@pytest.mark.parametrize("block", [files.exif_block(6, colour_space=1), files.adobe_exif_block()])
def test_the_colour_space_that_a_camera_states_survives(block: bytes) -> None:
    photo_bytes = files.pillow_bytes(PICTURE, "JPEG", exif=block)
    before, after = open_photo(photo_bytes), open_photo(clean_copy(photo_bytes))
    assert (after.encoding.name, after.encoding.assumed) == (before.encoding.name, False)
    assert after.encoded_rgb.shape == before.encoded_rgb.shape


@pytest.mark.slow
def test_heic_becomes_a_png_of_the_same_colours() -> None:
    photo_bytes = HEIC.read_bytes()
    clean = clean_copy(photo_bytes)
    before, after = open_photo(photo_bytes), open_photo(clean)
    assert after.file_format == "PNG"
    assert np.array_equal(before.encoded_rgb, after.encoded_rgb)
    # The profile is made by lcms from the stated corners and a sampled curve.
    assert after.encoding.to_xyz_d65 == pytest.approx(before.encoding.to_xyz_d65, abs=1e-4)
    assert np.asarray(linear_light(after)) == pytest.approx(np.asarray(linear_light(before)), abs=1e-4)


def test_cleaning_twice_changes_nothing_more() -> None:
    for make in SALTED.values():
        once = clean_copy(make())
        assert clean_copy(once) == once
