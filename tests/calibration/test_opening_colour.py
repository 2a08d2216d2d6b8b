"""What a file says of its colours changes what is read; standards, lcms and colour-science are the authorities."""

import hashlib
import struct
import tracemalloc
from pathlib import Path

import imagecodecs
import numpy as np
import pytest

from calibration.colourspaces import WHITE_D65_XYZ, delta_e_2000, xyz_to_lab
from calibration.findings import Severity
from calibration.opening import open_photo
from calibration.photo import Encoding
from calibration.profiles import (
    PCS_TO_D65,
    adaptation_matrix,
    encoding_from_profile,
    primaries_to_xyz_d65,
    profile_to_xyz,
    srgb_encoding,
)
from calibration.transfer import linear_light
from tests.synthetic import encoded_files as files

CHARTS = Path(__file__).parents[3] / "shared" / "charts"
EIGHT = files.codes8(files.srgb_stored(files.patch_scene()))
SIXTEEN = files.codes16(files.srgb_stored(files.patch_scene()))

# Rows as printed: IEC 61966-2-1:1999 (four digits); Display P3 from its primaries (SMPTE EG 432-1) and D65, as
# colour-science 0.4.7 prints it; Adobe RGB (1998), from memory and equal to colour-science (five digits both).
PRINTED = {
    "sRGB": (files.SRGB_XY, None, 1e-4, "0.4124 0.3576 0.1805 0.2126 0.7152 0.0722 0.0193 0.1192 0.9505"),
    "Display P3": (
        files.DISPLAY_P3_XY,
        None,
        5e-5,
        "0.48657 0.26567 0.19822 0.22897 0.69174 0.07929 0.00000 0.04511 1.04394",
    ),
    "Adobe RGB": (
        files.ADOBE_RGB_XY,
        563 / 256,
        5e-5,
        "0.57667 0.18556 0.18823 0.29734 0.62736 0.07529 0.02703 0.07069 0.99134",
    ),
}


@pytest.mark.parametrize("space", PRINTED)
@pytest.mark.parametrize("codes", [256, 65536])
def test_a_profile_comes_out_as_the_matrix_its_standard_prints(space: str, codes: int) -> None:
    corners, gamma, tolerance, printed = PRINTED[space]
    encoding = encoding_from_profile(files.icc_profile(corners, gamma), codes)
    assert encoding is not None
    # Half the last printed digit, and the sixteenths of 2^-12 that an ICC profile rounds its corners to.
    assert encoding.to_xyz_d65 == pytest.approx(np.array(printed.split(), float).reshape(3, 3), abs=tolerance)


@pytest.mark.parametrize("space", PRINTED)
def test_primaries_alone_give_the_same_matrix(space: str) -> None:
    corners, _, tolerance, printed = PRINTED[space]
    matrix = primaries_to_xyz_d65((corners[0:2], corners[2:4], corners[4:6]), files.D65_XY)
    assert matrix == pytest.approx(np.array(printed.split(), float).reshape(3, 3), abs=tolerance)


@pytest.mark.parametrize("codes", [256, 65536])
def test_the_curve_of_an_srgb_profile_is_the_standards(codes: int) -> None:
    # IEC 61966-2-1: V <= 0.04045 is V / 12.92, else ((V + 0.055) / 1.055) ^ 2.4. lcms keeps curves of 16 bits.
    encoding = encoding_from_profile(bytes(imagecodecs.cms_profile("srgb")), codes)
    assert encoding is not None
    stored = np.linspace(0, 1, codes)
    standard = np.where(stored <= 0.04045, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4)
    assert np.max(np.abs(encoding.tables - standard)) < 2e-5
    assert np.max(np.abs(srgb_encoding(codes).tables - standard)) < 1e-7


@pytest.mark.parametrize("space", PRINTED)
@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_tables_and_matrix_stand_for_the_whole_colour_engine(space: str, depth: type) -> None:
    corners, gamma, _, _ = PRINTED[space]
    icc = files.icc_profile(corners, gamma)
    top = np.iinfo(depth).max
    stored = np.random.default_rng(3).integers(0, top + 1, (1, 4000, 3)).astype(depth)
    encoding = encoding_from_profile(icc, top + 1)
    assert encoding is not None
    theirs = profile_to_xyz(stored, icc)[0] @ PCS_TO_D65.T
    assert np.max(np.abs(light_of(encoding, stored[0]) @ encoding.to_xyz_d65.T - theirs)) < 5e-5


def light_of(encoding: Encoding, stored: np.ndarray) -> np.ndarray:
    """Linear light of code values, shape (pixels, 3)."""
    return np.stack([encoding.tables[channel][stored[:, channel]] for channel in range(3)], axis=-1)


def test_the_adaptation_is_the_published_bradford() -> None:
    # colour-science 0.4.7, Bradford from xy (0.34567, 0.35850) to (0.3127, 0.3290), six digits.
    d50 = np.array([0.34567 / 0.35850, 1.0, (1 - 0.34567 - 0.35850) / 0.35850])
    printed = "0.955539 -0.023058 0.063224 -0.028312 1.009947 0.021027 0.012310 -0.020503 1.330231"
    moved = adaptation_matrix(d50, WHITE_D65_XYZ)
    assert moved == pytest.approx(np.array(printed.split(), float).reshape(3, 3), abs=2e-5)


@pytest.mark.slow
def test_matrices_and_curves_agree_with_colour_science() -> None:
    import colour

    spaces = {"sRGB": "sRGB", "Display P3": "Display P3", "Adobe RGB": "Adobe RGB (1998)"}
    for space, name in spaces.items():
        corners, gamma, _, _ = PRINTED[space]
        reference = colour.RGB_COLOURSPACES[name]
        encoding = encoding_from_profile(files.icc_profile(corners, gamma), 65536)
        assert encoding is not None
        assert encoding.to_xyz_d65 == pytest.approx(reference.matrix_RGB_to_XYZ, abs=2e-4)
        assert encoding.tables[1] == pytest.approx(reference.cctf_decoding(np.linspace(0, 1, 65536)), abs=5e-5)


# --- files ---------------------------------------------------------------------------------------------------------

SPACES = {
    "JPEG": lambda icc: files.pillow_bytes(EIGHT, "JPEG", quality=98, icc_profile=icc),
    "PNG": lambda icc: files.png_bytes(SIXTEEN, iCCP=files.png_icc(icc)),
    "TIFF": lambda icc: files.tiff_bytes(SIXTEEN, iccprofile=icc),
    "WebP": lambda icc: files.pillow_bytes(EIGHT, "WEBP", lossless=True, icc_profile=icc),
}


@pytest.mark.parametrize("carrier", SPACES)
def test_every_format_carries_its_profile(carrier: str) -> None:
    photo = open_photo(SPACES[carrier](files.icc_profile(files.DISPLAY_P3_XY)))
    assert photo.encoding.to_xyz_d65[0] == pytest.approx([0.48657, 0.26567, 0.19822], abs=5e-5)
    assert not photo.encoding.assumed
    assert photo.findings == ()


def test_a_long_profile_is_put_together_from_its_pieces_in_any_order() -> None:
    # A profile of some 50 kB needs one segment; Pillow splits above 65519 bytes, so it is made longer here.
    icc = files.icc_profile(files.DISPLAY_P3_XY)
    long = icc + bytes(150_000 - len(icc))
    long = struct.pack(">I", len(long)) + long[4:]
    photo_bytes = files.pillow_bytes(EIGHT, "JPEG", icc_profile=long)
    pieces = [part for part in photo_bytes.split(b"\xff\xe2") if part[2:14] == b"ICC_PROFILE\0"]
    assert len(pieces) >= 3
    assert open_photo(photo_bytes).encoding.to_xyz_d65[0, 0] == pytest.approx(0.48657, abs=5e-5)


def test_a_warm_blond_in_display_p3_read_as_srgb_would_be_three_units_off() -> None:
    # Display P3 (200, 150, 90): colour-science gives ΔE2000 3.0 between the two meanings of these numbers.
    pixels = np.full((80, 80, 3), (200, 150, 90), np.uint8)
    p3 = open_photo(files.png_bytes(pixels, iCCP=files.png_icc(files.icc_profile(files.DISPLAY_P3_XY))))
    plain = open_photo(files.png_bytes(pixels))
    labs = [xyz_to_lab(linear_light(photo)[0, :1] @ photo.encoding.to_xyz_d65.T) for photo in (p3, plain)]
    assert float(delta_e_2000(labs[0], labs[1])[0]) == pytest.approx(3.0, abs=0.05)


def test_no_profile_is_read_as_srgb_and_said() -> None:
    photo = open_photo(files.png_bytes(EIGHT))
    assert photo.encoding.assumed
    assert [(finding.code, finding.severity) for finding in photo.findings] == [("no_profile", Severity.NOTE)]


@pytest.mark.parametrize("icc", [b"junk" * 100, bytes(imagecodecs.cms_profile("srgb"))[:300], b"\0" * 128])
@pytest.mark.parametrize("carrier", SPACES)
def test_a_broken_profile_is_read_as_srgb_with_care(carrier: str, icc: bytes) -> None:
    photo = open_photo(SPACES[carrier](icc))
    assert [(finding.code, finding.severity) for finding in photo.findings] == [("profile_broken", Severity.CARE)]
    assert np.array_equal(photo.encoding.to_xyz_d65, srgb_encoding(256).to_xyz_d65)


def test_a_profile_whose_own_check_sum_does_not_fit_is_doubtful() -> None:
    # ICC.1, profile ID: MD5 with the fields at 44, 64 and 84 set to zero.
    icc = bytearray(imagecodecs.cms_profile("srgb"))
    icc[8] = 4
    icc[44:48] = icc[64:68] = bytes(4)
    icc[84:100] = bytes(16)
    icc[84:100] = hashlib.md5(icc).digest()
    assert open_photo(files.png_bytes(EIGHT, iCCP=files.png_icc(bytes(icc)))).findings == ()
    red = icc.index(b"XYZ ", 132 + 12 * 9)
    icc[red + 11] ^= 4  # a corner of the space moves a little
    findings = open_photo(files.png_bytes(EIGHT, iCCP=files.png_icc(bytes(icc)))).findings
    assert [finding.code for finding in findings] == ["profile_doubtful"]


def test_a_profile_whose_white_is_not_white_is_doubtful() -> None:
    icc = files.cube_profile(lambda rgb: rgb * np.array([0.96, 1.0, 0.6]))
    findings = open_photo(files.png_bytes(EIGHT, iCCP=files.png_icc(icc))).findings
    assert [(finding.code, finding.severity) for finding in findings] == [("profile_doubtful", Severity.CARE)]


def test_a_profile_with_a_missing_piece_is_broken() -> None:
    photo_bytes = files.pillow_bytes(EIGHT, "JPEG", icc_profile=files.icc_profile(files.SRGB_XY))
    at = photo_bytes.index(b"ICC_PROFILE\0") + 12
    assert photo_bytes[at : at + 2] == b"\x01\x01"
    spoilt = photo_bytes[: at + 1] + b"\x02" + photo_bytes[at + 2 :]
    assert [finding.code for finding in open_photo(spoilt).findings] == ["profile_broken"]


@pytest.mark.slow
def test_a_packed_profile_that_swells_without_end_is_broken_not_unpacked() -> None:
    photo_bytes = files.png_bytes(EIGHT, iCCP=files.png_icc(bytes(50_000_000)))
    tracemalloc.start()
    photo = open_photo(photo_bytes)
    _, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert [finding.code for finding in photo.findings] == ["profile_broken"]
    assert peak_bytes < 20_000_000


@pytest.mark.parametrize(
    ("chunks", "name", "white_and_red"),
    [
        # PNG, third edition: sRGB; cICP by code numbers of H.273 (12, 13: Display P3; 9, 8: BT.2020, linear).
        ({"sRGB": b"\0"}, "sRGB", 0.4124),
        ({"cICP": bytes((12, 13, 0, 1))}, "Display P3", 0.48657),
        ({"cICP": bytes((9, 8, 0, 1))}, "BT.2020", 0.63696),
        ({"gAMA": struct.pack(">I", 45455)}, "sRGB", 0.4124),
        ({"gAMA": struct.pack(">I", 55556)}, "PNG gamma", 0.4124),
    ],
)
def test_a_png_may_name_its_colours_without_a_profile(chunks: dict, name: str, white_and_red: float) -> None:
    photo = open_photo(files.png_bytes(EIGHT, **chunks))
    assert photo.encoding.name == name
    assert photo.encoding.to_xyz_d65[0, 0] == pytest.approx(white_and_red, abs=1e-4)
    assert photo.findings == ()


def test_code_numbers_stand_above_a_profile() -> None:
    # PNG, third edition: cICP, if read, is to be preferred to iCCP and sRGB.
    chunks = {"cICP": bytes((12, 13, 0, 1)), "iCCP": files.png_icc(files.icc_profile(files.ADOBE_RGB_XY, 563 / 256))}
    assert open_photo(files.png_bytes(EIGHT, **chunks)).encoding.name == "Display P3"


def test_png_figures_for_gamma_and_corners_are_used() -> None:
    # cHRM holds white, red, green, blue in 1/100000; gAMA the exponent of writing, 1/2.2 rounded.
    corners = [round(100_000 * value) for value in (*files.D65_XY, *files.ADOBE_RGB_XY)]
    photo = open_photo(files.png_bytes(EIGHT, gAMA=struct.pack(">I", 45470 + 400), cHRM=struct.pack(">8I", *corners)))
    assert photo.encoding.to_xyz_d65[0] == pytest.approx([0.57667, 0.18556, 0.18823], abs=5e-5)
    assert photo.encoding.tables[0, 128] == pytest.approx((128 / 255) ** (1 / 0.4587), abs=1e-6)


@pytest.mark.parametrize("figures", [(0,) * 8, (31270, 0, 64000, 33000, 30000, 60000, 15000, 6000)])
def test_absurd_png_figures_are_as_good_as_none(figures: tuple[int, ...]) -> None:
    photo = open_photo(files.png_bytes(EIGHT, gAMA=struct.pack(">I", 50000), cHRM=struct.pack(">8I", *figures)))
    assert [finding.code for finding in photo.findings] == ["no_profile"]


def test_a_camera_says_srgb_or_adobe_rgb_in_its_tags() -> None:
    # EXIF 2.32: ColorSpace 1 is sRGB; DCF 2.0: "uncalibrated" with interoperability index R03 is Adobe RGB.
    srgb = open_photo(files.pillow_bytes(EIGHT, "JPEG", exif=files.exif_block(colour_space=1)))
    assert (srgb.encoding.name, srgb.encoding.assumed, srgb.findings) == ("sRGB", False, ())
    adobe = open_photo(files.pillow_bytes(EIGHT, "JPEG", exif=files.adobe_exif_block()))
    assert adobe.encoding.name == "Adobe RGB"
    assert adobe.encoding.to_xyz_d65[0] == pytest.approx([0.57667, 0.18556, 0.18823], abs=5e-5)
    unknown = open_photo(files.pillow_bytes(EIGHT, "JPEG", exif=files.exif_block(colour_space=0xFFFF)))
    assert unknown.encoding.assumed


def test_a_profile_made_of_a_cube_is_honoured_too() -> None:
    # Red and green light the picture more together than the sum of each: no three curves and a matrix can do that.
    icc = files.cube_profile(lambda rgb: 0.3 * rgb + 0.2 * rgb.mean(axis=-1, keepdims=True) + 0.4 * rgb[..., :1] * rgb)
    assert encoding_from_profile(icc, 256) is None
    photo = open_photo(files.png_bytes(EIGHT, iCCP=files.png_icc(icc)))
    assert photo.encoded_rgb.dtype == np.uint16
    ours = linear_light(photo)[::24, ::24] @ photo.encoding.to_xyz_d65.T
    theirs = profile_to_xyz(EIGHT[::24, ::24], icc) @ PCS_TO_D65.T
    codes = photo.encoded_rgb[::24, ::24]
    in_gamut = (codes.min(axis=-1) > 0) & (codes.max(axis=-1) < 65535)
    assert in_gamut.sum() >= 12
    lab_ours, lab_theirs = xyz_to_lab(ours.astype(np.float64)), xyz_to_lab(theirs)
    assert np.max(delta_e_2000(lab_ours, lab_theirs)[in_gamut]) < 0.1  # a tenth of what a trained eye sees


@pytest.mark.slow
@pytest.mark.skipif(not CHARTS.exists(), reason="the folder of real chart photographs is not here")
def test_profiles_of_real_photographs_are_reduced_within_a_hundredth() -> None:
    seen = 0
    for path in sorted(CHARTS.glob("*.*g")):
        photo = open_photo(path.read_bytes())
        if photo.encoding.assumed or photo.encoding.linear:
            continue
        seen += 1
        assert "profile_doubtful" not in [finding.code for finding in photo.findings], path.name
        assert photo.encoding.to_xyz_d65.sum(axis=1) == pytest.approx([0.9505, 1.0, 1.0890], abs=5e-4), path.name
    assert seen >= 5
