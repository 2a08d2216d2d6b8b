"""What is not one whole colour photograph gets one clear sentence, a remedy and a code of its own."""

import io
import struct
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from calibration.errors import PhotoRefusedError
from calibration.findings import Finding, Severity
from calibration.opening import open_photo
from tests.synthetic import encoded_files as files

ROOT = Path(__file__).parents[2]
EIGHT = files.codes8(files.srgb_stored(files.patch_scene()))
JPEG = files.pillow_bytes(EIGHT, "JPEG", quality=95)
GREY = EIGHT[..., 1]
CLEAR = np.dstack([EIGHT, GREY])


def refused(photo_bytes: bytes) -> Finding:
    """The finding with which the bytes are refused."""
    with pytest.raises(PhotoRefusedError) as caught:
        open_photo(photo_bytes)
    return caught.value.finding


def saved(picture: Image.Image, file_format: str, **options: object) -> bytes:
    stream = io.BytesIO()
    picture.save(stream, file_format, **options)
    return stream.getvalue()


def pillow(mode: str) -> Image.Image:
    return Image.fromarray(EIGHT).convert(mode)


def animated(file_format: str) -> bytes:
    frames = [pillow("RGB"), pillow("RGB").rotate(180)]
    return saved(frames[0], file_format, save_all=True, append_images=frames[1:], duration=100)


def boxed(brand: bytes, others: bytes = b"") -> bytes:
    return struct.pack(">I", 16 + len(others)) + b"ftyp" + brand + bytes(4) + others + bytes(200)


BAD = {
    "nothing": (lambda: b"", "empty"),
    "a text named .jpg": (lambda: b"Dear colourist,\nthe photo follows.\n" * 20, "text"),
    "a text in another alphabet": (lambda: "Здравствуйте, снимок будет позже. ".encode() * 20, "text"),
    "a PDF": (lambda: b"%PDF-1.7\n" + bytes(range(256)) * 4, "pdf"),
    "an office document": (lambda: b"PK\x03\x04" + bytes(400), "not_a_photo"),
    "a program": (lambda: b"\x7fELF" + bytes(range(256)), "not_a_photo"),
    "three bytes": (lambda: b"\xff\xd8\xff", "damaged"),
    "a GIF": (lambda: saved(pillow("P"), "GIF"), "gif"),
    "an animated GIF": (lambda: animated("GIF"), "animated"),
    "an animated PNG": (lambda: animated("PNG"), "animated"),
    "an animated WebP": (lambda: animated("WEBP"), "animated"),
    "a TIFF of two pages": (lambda: animated("TIFF"), "animated"),
    "a HEIC sequence": (lambda: boxed(b"hevc"), "animated"),
    "a film": (lambda: boxed(b"isom", b"mp42"), "film"),
    "an AVIF": (lambda: boxed(b"avif", b"mif1"), "not_a_photo"),
    "a BMP": (lambda: saved(pillow("RGB"), "BMP"), "not_a_photo"),
    "a printing JPEG": (lambda: saved(pillow("CMYK"), "JPEG"), "cmyk"),
    "a printing TIFF": (lambda: saved(pillow("CMYK"), "TIFF"), "cmyk"),
    "a grey JPEG": (lambda: saved(pillow("L"), "JPEG"), "grey"),
    "a grey PNG": (lambda: saved(pillow("L"), "PNG"), "grey"),
    "a grey PNG of 16 bits": (lambda: saved(Image.fromarray(GREY.astype(np.uint16) * 257), "PNG"), "grey"),
    "a grey PNG with alpha": (lambda: saved(pillow("LA"), "PNG"), "grey"),
    "a grey TIFF": (lambda: saved(pillow("L"), "TIFF"), "grey"),
    "a grey picture in a colour JPEG": (lambda: saved(pillow("L").convert("RGB"), "JPEG"), "grey"),
    "a grey picture in a PNG of 16 bits": (
        lambda: files.png_bytes(np.dstack([GREY] * 3).astype(np.uint16) * 257),
        "grey",
    ),
    "a palette PNG": (lambda: saved(pillow("P"), "PNG"), "palette"),
    "a palette TIFF": (lambda: saved(pillow("P"), "TIFF"), "palette"),
    "a grey profile": (lambda: files.png_bytes(EIGHT, iCCP=files.png_icc(files.profile_head(b"GRAY"))), "grey"),
    "a printing profile": (lambda: files.png_bytes(EIGHT, iCCP=files.png_icc(files.profile_head(b"CMYK"))), "cmyk"),
    "an HDR picture": (lambda: files.png_bytes(EIGHT, cICP=bytes((9, 16, 0, 1))), "hdr"),
    "a Lab TIFF": (lambda: saved(pillow("LAB"), "TIFF"), "unsupported"),
    "a floating TIFF": (lambda: files.tiff_bytes(files.patch_scene().astype(np.float32)), "unsupported"),
    "a TIFF holding a JPEG": (lambda: saved(pillow("RGB"), "TIFF", compression="jpeg"), "unsupported"),
    "one pixel": (lambda: files.pillow_bytes(EIGHT[:1, :1], "JPEG"), "too_few_pixels"),
    "one pixel, PNG": (lambda: files.png_bytes(EIGHT[:1, :1]), "too_few_pixels"),
    "a line of pixels": (lambda: files.png_bytes(np.repeat(EIGHT[:1], 2, axis=1)), "too_few_pixels"),
    "a JPEG without its end mark": (lambda: JPEG[:-2], "damaged"),
    "half a JPEG": (lambda: JPEG[: len(JPEG) // 2], "damaged"),
    "half a JPEG with an end mark": (lambda: JPEG[: len(JPEG) // 2] + b"\xff\xd9", "damaged"),
    "a JPEG of two pictures in one": (lambda: JPEG[:-2] + JPEG[2:], "damaged"),
    "half a PNG": (lambda: files.png_bytes(files.hair_like())[:3000], "damaged"),
    "half a TIFF": (lambda: files.tiff_bytes(EIGHT)[:9000], "damaged"),
    "half a WebP": (lambda: files.pillow_bytes(files.hair_like(), "WEBP")[:2000], "damaged"),
    "half a DNG": (lambda: files.dng_bytes(files.patch_scene())[:9000], "damaged"),
    "half a HEIC": (lambda: (ROOT / "tests/synthetic/heic/patches_8bit_turned.heic").read_bytes()[:900], "damaged"),
    "a TIFF that bites its tail": (lambda: endless_tiff(), "animated"),
    "a JPEG of nothing but segments": (lambda: b"\xff\xd8" + b"\xff\xe5\0\2" * 50_000, "unsupported"),
}


def endless_tiff() -> bytes:
    photo_bytes = files.tiff_bytes(EIGHT)
    (offset,) = struct.unpack_from("<I", photo_bytes, 4)
    (entries,) = struct.unpack_from("<H", photo_bytes, offset)
    end = offset + 2 + 12 * entries
    return photo_bytes[:end] + struct.pack("<I", offset) + photo_bytes[end + 4 :]


@pytest.mark.slow
@pytest.mark.parametrize("name", BAD)
def test_what_is_no_photograph_is_refused_with_one_clear_sentence(name: str) -> None:
    make, code = BAD[name]
    finding = refused(make())
    assert finding.code == code
    assert finding.severity is Severity.RETAKE
    for text in (finding.message, finding.remedy):
        assert text.endswith(".")
        assert 15 < len(text) < 160
        assert not any(word in text for word in ("Error", "None", "0x", "b'", "Traceback", "invalid"))


def test_grey_sketch_profiles_do_not_need_a_whole_profile_to_be_known() -> None:
    assert refused(BAD["a grey profile"][0]()).remedy.startswith("Take a colour photo")


def test_the_message_states_the_size_and_the_limit() -> None:
    assert "1 x 1 pixels" in refused(BAD["one pixel"][0]()).message
    assert "200 MB; up to 60 MB" in refused(b"\xff\xd8\xff" + bytes(200_000_000)).message


# --- bombs -------------------------------------------------------------------------------------------------------


def jpeg_of_size(width_px: int, height_px: int) -> bytes:
    at = JPEG.index(b"\xff\xc0")
    return JPEG[: at + 5] + struct.pack(">HH", height_px, width_px) + JPEG[at + 9 :]


def tiff_of_size(width_px: int, height_px: int) -> bytes:
    photo_bytes = bytearray(files.tiff_bytes(EIGHT))
    (offset,) = struct.unpack_from("<I", photo_bytes, 4)
    (entries,) = struct.unpack_from("<H", photo_bytes, offset)
    for place in range(offset + 2, offset + 2 + 12 * entries, 12):
        tag, kind = struct.unpack_from("<HH", photo_bytes, place)
        if tag in (256, 257):
            size = width_px if tag == 256 else height_px
            struct.pack_into("<HHII", photo_bytes, place, tag, 4 if kind != 4 else kind, 1, size)
    return bytes(photo_bytes)


def webp_of_size(width_px: int, height_px: int) -> bytes:
    photo_bytes = bytearray(files.pillow_bytes(EIGHT, "WEBP", quality=80))
    at = photo_bytes.index(b"\x9d\x01\x2a") + 3
    struct.pack_into("<HH", photo_bytes, at, width_px, height_px)
    return bytes(photo_bytes)


def dng_of_size(width_px: int, height_px: int) -> bytes:
    photo_bytes = bytearray(files.dng_bytes(files.patch_scene()))
    (offset,) = struct.unpack_from("<I", photo_bytes, 4)
    (entries,) = struct.unpack_from("<H", photo_bytes, offset)
    for place in range(offset + 2, offset + 2 + 12 * entries, 12):
        tag, _ = struct.unpack_from("<HH", photo_bytes, place)
        if tag in (256, 257, 278):
            struct.pack_into("<HHII", photo_bytes, place, tag, 4, 1, width_px if tag == 256 else height_px)
    return bytes(photo_bytes)


BOMBS = {
    "JPEG": lambda: jpeg_of_size(20_000, 15_000),
    "PNG": lambda: files.huge_png(20_000, 15_000),
    "TIFF": lambda: tiff_of_size(20_000, 15_000),
    "WebP": lambda: webp_of_size(16_000, 16_000),
    "DNG": lambda: dng_of_size(20_000, 15_000),
    "HEIC": lambda: heic_of_size(20_000, 15_000),
}


def heic_of_size(width_px: int, height_px: int) -> bytes:
    photo_bytes = (ROOT / "tests/synthetic/heic/patches_10bit.heic").read_bytes()
    at = photo_bytes.index(b"ispe") + 8
    return photo_bytes[:at] + struct.pack(">II", width_px, height_px) + photo_bytes[at + 8 :]


@pytest.mark.parametrize("file_format", BOMBS)
def test_a_picture_of_300_megapixels_is_refused_before_anything_is_decoded(file_format: str) -> None:
    photo_bytes = BOMBS[file_format]()
    start = time.process_time()
    finding = refused(photo_bytes)
    assert time.process_time() - start < 0.5
    assert finding.code == "too_large"
    assert "megapixels" in finding.message


@pytest.mark.slow
@pytest.mark.parametrize("file_format", ["JPEG", "PNG", "DNG"])
def test_a_bomb_is_refused_in_a_hundred_megabytes(file_format: str, tmp_path: Path) -> None:
    bomb = tmp_path / "photo"
    bomb.write_bytes(BOMBS[file_format]())
    program = """
        import resource, sys
        from pathlib import Path
        from calibration.errors import PhotoRefusedError
        from calibration.opening import open_photo
        photo_bytes = Path(sys.argv[1]).read_bytes()
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        try:
            open_photo(photo_bytes)
        except PhotoRefusedError as refusal:
            print(refusal.finding.code, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
    """
    command = [sys.executable, "-c", textwrap.dedent(program), str(bomb)]
    code, kilobytes = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    assert code == "too_large"
    assert int(kilobytes) < 100_000


@pytest.mark.slow
def test_the_largest_size_allowed_is_64_megapixels() -> None:
    assert refused(jpeg_of_size(8001, 8000)).code == "too_large"
    assert refused(jpeg_of_size(8000, 8000)).code == "damaged"  # the size passes; the pixels are not there


@pytest.mark.parametrize("code", [0, 128, 255])
def test_a_black_a_blank_and_a_white_picture_open_for_the_checks_of_exposure(code: int) -> None:
    photo = open_photo(files.png_bytes(np.full((80, 90, 3), code, np.uint8)))
    assert np.all(photo.encoded_rgb == code)


@pytest.mark.slow
def test_every_photograph_at_hand_has_colour() -> None:
    for folder in ("charts", "charts/print28", "truth/scene00", "truth/scene41"):
        place = ROOT.parent / "shared" / folder
        if not place.exists():
            pytest.skip(f"{folder} is not here")
        for path in sorted(place.glob("*.jpg")):
            open_photo(path.read_bytes())
