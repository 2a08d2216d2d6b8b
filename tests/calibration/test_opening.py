"""A scene of known light, written in every format and depth, must come back as that light."""

import hashlib
from pathlib import Path

import numpy as np
import pytest

from calibration.opening import open_photo
from calibration.photo import Photo
from calibration.transfer import clipped, linear_light
from tests.synthetic import encoded_files as files

HEIC_FOLDER = Path(__file__).parents[1] / "synthetic" / "heic"

# Half a code value at the brightest patch, where sRGB is steepest: 0.5 / 255 x slope 2.15, and the same for 16 bits.
HALF_CODE_8 = 0.5 / 255 * 2.15
HALF_CODE_16 = 0.5 / 65535 * 2.15 + 1e-6  # and float32
# JPEG and HEIC round once more, in luma and chroma, and again when turned back into RGB: some two code values.
LOSSY_8 = 5 * HALF_CODE_8

STORED = files.srgb_stored(files.patch_scene())
EIGHT, SIXTEEN = files.codes8(STORED), files.codes16(STORED)

WRITERS = {
    "JPEG": (lambda: files.pillow_bytes(EIGHT, "JPEG", quality=98), "JPEG", 8, LOSSY_8),
    "JPEG with halved chroma": (
        lambda: files.pillow_bytes(EIGHT, "JPEG", quality=98, subsampling=2),
        "JPEG",
        8,
        LOSSY_8,
    ),
    "JPEG in layers": (lambda: files.pillow_bytes(EIGHT, "JPEG", quality=98, progressive=True), "JPEG", 8, LOSSY_8),
    "PNG 8": (lambda: files.png_bytes(EIGHT), "PNG", 8, HALF_CODE_8),
    "PNG 16": (lambda: files.png_bytes(SIXTEEN), "PNG", 16, HALF_CODE_16),
    "TIFF 8": (lambda: files.tiff_bytes(EIGHT), "TIFF", 8, HALF_CODE_8),
    "TIFF 16": (lambda: files.tiff_bytes(SIXTEEN), "TIFF", 16, HALF_CODE_16),
    "TIFF 16 strips": (lambda: files.tiff_bytes(SIXTEEN, rowsperstrip=7), "TIFF", 16, HALF_CODE_16),
    "TIFF 16 tiles": (lambda: files.tiff_bytes(SIXTEEN, tile=(64, 32), compression="zlib"), "TIFF", 16, HALF_CODE_16),
    "TIFF 16 LZW": (
        lambda: files.tiff_bytes(SIXTEEN, compression="lzw", predictor=True, rowsperstrip=9),
        "TIFF",
        16,
        HALF_CODE_16,
    ),
    "TIFF 16 other byte order": (lambda: files.tiff_bytes(SIXTEEN, byteorder=">"), "TIFF", 16, HALF_CODE_16),
    "TIFF 16 planes apart": (
        lambda: files.tiff_bytes(np.moveaxis(SIXTEEN, 2, 0), planarconfig="separate", compression="packbits"),
        "TIFF",
        16,
        HALF_CODE_16,
    ),
    "TIFF 8 by Pillow": (lambda: files.pillow_bytes(EIGHT, "TIFF", compression="tiff_lzw"), "TIFF", 8, HALF_CODE_8),
    "WebP": (lambda: files.pillow_bytes(EIGHT, "WEBP", lossless=True), "WebP", 8, HALF_CODE_8),
    "WebP lossy": (lambda: files.pillow_bytes(EIGHT, "WEBP", quality=100), "WebP", 8, 2 * LOSSY_8),
    "HEIC 8": (lambda: (HEIC_FOLDER / "patches_8bit_turned.heic").read_bytes(), "HEIC", 8, LOSSY_8),
    # 10 bits with exponent 2.2: slope 2.2 at white; two roundings of the coder.
    "HEIC 10": (lambda: (HEIC_FOLDER / "patches_10bit.heic").read_bytes(), "HEIC", 10, 5 * 0.5 / 1023 * 2.2),
}


@pytest.mark.parametrize("name", WRITERS)
def test_every_format_and_depth_gives_back_the_light_of_the_scene(name: str) -> None:
    write, file_format, bits, tolerance = WRITERS[name]
    photo = open_photo(write())
    assert (photo.file_format, photo.bits) == (file_format, bits)
    assert photo.encoded_rgb.dtype == (np.uint8 if bits == 8 else np.uint16)
    measured = files.patch_means(linear_light(photo))
    assert np.max(np.abs(measured - files.patch_colours())) < tolerance


def test_ten_bits_of_heic_reach_the_top_of_the_range() -> None:
    # 1023 x 64 = 65472 is white to the decoder (pi-heif's documentation); read as it stands, light would be 0.1 % low.
    from calibration.formats import heic

    photo_bytes = WRITERS["HEIC 10"][0]()
    pixels = heic.decode(photo_bytes, heic.read_header(photo_bytes))
    stored = pixels.astype(np.int64)
    tens = stored >> 6
    assert np.max(np.abs(stored / 65535 - tens / 1023)) < 1.5 / 65535
    assert len(np.unique(tens % 4)) == 4  # the lowest two bits are in use: nothing was cut to 8 bits


def test_the_photo_is_named_by_the_hash_of_its_bytes_and_its_pixels_are_sealed() -> None:
    photo_bytes = files.png_bytes(EIGHT)
    photo = open_photo(photo_bytes)
    assert photo.sha256 == hashlib.sha256(photo_bytes).hexdigest()
    with pytest.raises(ValueError, match="read-only"):
        photo.encoded_rgb[0, 0, 0] = 1


# EXIF 2.32 (CIPA DC-008), tag 0x0112: where the stored picture's first row and first column belong in what is seen.
# Each entry undoes it: from the upright scene to what a camera held that way stores. Written from the tag's table.
STORED_FROM_SEEN = {
    1: lambda seen: seen,  # row 0 is top, column 0 is left
    2: lambda seen: seen[:, ::-1],  # top, right
    3: lambda seen: seen[::-1, ::-1],  # bottom, right
    4: lambda seen: seen[::-1],  # bottom, left
    5: lambda seen: seen.transpose(1, 0, 2),  # left, top
    6: lambda seen: seen.transpose(1, 0, 2)[::-1],  # right, top
    7: lambda seen: seen.transpose(1, 0, 2)[::-1, ::-1],  # right, bottom
    8: lambda seen: seen.transpose(1, 0, 2)[:, ::-1],  # left, bottom
}
CARRIERS = {
    "JPEG": lambda pixels, turn: files.pillow_bytes(pixels, "JPEG", quality=98, exif=files.exif_block(turn)),
    "PNG": lambda pixels, turn: files.png_bytes(pixels, eXIf=files.exif_block(turn)),
    "WebP": lambda pixels, turn: files.pillow_bytes(pixels, "WEBP", lossless=True, exif=files.exif_block(turn)),
    "TIFF": lambda pixels, turn: files.tiff_bytes(pixels, extratags=[(0x0112, "H", 1, turn, True)]),
}


@pytest.mark.parametrize("carrier", CARRIERS)
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_stands_upright_however_the_camera_was_held(carrier: str, orientation: int) -> None:
    stored = np.ascontiguousarray(STORED_FROM_SEEN[orientation](EIGHT))
    photo = open_photo(CARRIERS[carrier](stored, orientation))
    assert np.max(np.abs(files.patch_means(linear_light(photo)) - files.patch_colours())) < LOSSY_8
    assert ("turn_upright" in [step.name for step in photo.steps]) == (orientation != 1)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turning_agrees_with_pillow(orientation: int) -> None:
    # Pillow's ImageOps.exif_transpose is the authority here.
    import io

    from PIL import Image, ImageOps

    photo_bytes = files.pillow_bytes(EIGHT, "PNG", exif=files.exif_block(orientation))
    upright = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(photo_bytes))))
    assert np.array_equal(open_photo(photo_bytes).encoded_rgb, upright)


def test_an_orientation_that_exif_does_not_know_is_left_alone() -> None:
    assert open_photo(files.png_bytes(EIGHT, eXIf=files.exif_block(99))).height_px == EIGHT.shape[0]


@pytest.mark.parametrize("tail", [b"\0" * 5000, b"ftypmp42" * 900, files.pillow_bytes(EIGHT, "JPEG")])
def test_a_jpeg_with_a_film_or_second_picture_behind_it_still_opens(tail: bytes) -> None:
    photo_bytes = WRITERS["JPEG"][0]()
    alone, followed = open_photo(photo_bytes), open_photo(photo_bytes + tail)
    assert np.array_equal(alone.encoded_rgb, followed.encoded_rgb)


def test_a_jpeg_whose_parts_are_padded_still_opens() -> None:
    # ITU-T T.81, B.1.1.2: any marker may be preceded by fill bytes FF.
    photo_bytes = WRITERS["JPEG"][0]()
    padded = photo_bytes[:2] + b"\xff\xff\xff" + photo_bytes[2:-2] + b"\xff" + photo_bytes[-2:]
    assert np.array_equal(open_photo(padded).encoded_rgb, open_photo(photo_bytes).encoded_rgb)


def test_see_through_parts_lie_on_grey_and_are_told() -> None:
    whole = np.dstack([EIGHT, np.full(EIGHT.shape[:2], 255, np.uint8)])
    assert np.array_equal(open_photo(files.png_bytes(whole)).encoded_rgb, EIGHT)
    whole[:24, :, 3] = 0
    photo = open_photo(files.png_bytes(whole))
    assert "see_through" in [finding.code for finding in photo.findings]
    assert np.array_equal(np.unique(photo.encoded_rgb[:24]), [119])  # what was cut out stays unseen
    assert np.array_equal(photo.encoded_rgb[24:], EIGHT[24:])


# --- RAW ---------------------------------------------------------------------------------------------------------


def raw_scene() -> np.ndarray:
    """Linear camera colour with patches wide enough for the mosaic."""
    return files.patch_scene(patch_px=48)


def test_a_dng_gives_back_the_linear_light_of_its_sensor() -> None:
    photo = open_photo(files.dng_bytes(raw_scene()))
    assert (photo.file_format, photo.bits, photo.encoding.linear) == ("RAW", 16, True)
    measured = files.patch_means(linear_light(photo))
    # White balance in the file has four digits (1/0.6 = 1.6667); the sensor counts to 16000.
    assert np.max(np.abs(measured - files.patch_colours())) < 3e-4
    assert photo.findings == ()


def test_the_colour_of_a_dng_agrees_with_the_decoders_own_way_to_xyz() -> None:
    # LibRaw's own XYZ output is the authority, for colours that it does not clip (Z up to 1).
    import io

    import rawpy

    photo_bytes = files.dng_bytes(0.8 * raw_scene())
    with rawpy.imread(io.BytesIO(photo_bytes)) as raw:
        xyz = raw.postprocess(
            output_bps=16,
            gamma=(1, 1),
            no_auto_bright=True,
            use_camera_wb=True,
            output_color=rawpy.ColorSpace.XYZ,
            adjust_maximum_thr=0.0,
        )
    theirs = files.patch_means(xyz / 65535)
    photo = open_photo(photo_bytes)
    ours = files.patch_means(linear_light(photo)) @ photo.encoding.to_xyz_d65.T
    inside = (theirs > 1e-3) & (theirs < 0.999)
    assert inside.sum() > 60
    assert np.max(np.abs(ours - theirs)[inside]) < 4e-4


def test_a_white_wall_in_a_dng_is_the_white_of_daylight() -> None:
    # Camera white times the matrix must be D65 (0.9505, 1, 1.0890; IEC 61966-2-1), which 16 bits of XYZ can't hold.
    photo = open_photo(files.dng_bytes(raw_scene()))
    assert photo.encoding.to_xyz_d65.sum(axis=1) == pytest.approx([0.9505, 1.0, 1.0890], abs=2e-4)


def test_white_of_a_dng_does_not_move_with_the_brightest_thing_in_the_picture() -> None:
    dim = open_photo(files.dng_bytes(0.5 * raw_scene()))
    assert files.patch_means(linear_light(dim)) == pytest.approx(0.5 * files.patch_colours(), abs=3e-4)


def test_a_dng_that_holds_three_colours_a_pixel_opens_too() -> None:
    photo = open_photo(files.linear_dng_bytes(raw_scene()))
    assert files.patch_means(linear_light(photo)) == pytest.approx(files.patch_colours(), abs=3e-4)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_a_dng_stands_upright(orientation: int) -> None:
    stored = np.ascontiguousarray(STORED_FROM_SEEN[orientation](raw_scene()))
    photo = open_photo(files.dng_bytes(stored, orientation))
    assert files.patch_means(linear_light(photo)) == pytest.approx(files.patch_colours(), abs=3e-4)


# --- speed -------------------------------------------------------------------------------------------------------


def test_opening_makes_no_frame_of_floats() -> None:
    photo: Photo = open_photo(files.png_bytes(SIXTEEN))
    assert photo.encoded_rgb.nbytes == SIXTEEN.nbytes


@pytest.mark.parametrize("pixels", [EIGHT, SIXTEEN])
def test_clipped_is_where_any_channel_is_within_two_codes_of_the_top(pixels: np.ndarray) -> None:
    top = np.iinfo(pixels.dtype).max
    spoilt = pixels.copy()
    spoilt[10:20, 30:40, 2] = top
    spoilt[40:50, 60:70, 0] = round(0.9921 * top)
    spoilt[60:70, 60:70, 1] = round(0.989 * top)
    over = clipped(open_photo(files.png_bytes(spoilt)))
    assert over[10:20, 30:40].all()
    assert over[40:50, 60:70].all()
    assert over.sum() == 200
