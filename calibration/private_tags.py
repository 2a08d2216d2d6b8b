"""A copy of a photograph without anything private: no place, serial numbers, names, maker's notes or hidden pictures.

What says how the picture is to be seen stays: colour profile, colour space, orientation.
"""

import io
import struct

import imagecodecs
import numpy as np

from calibration.formats import heic, jpeg, png, raw, raw_copy, tiff, webp
from calibration.formats import jpeg_segments as parts_of_jpeg
from calibration.formats.header import Header, Pixels, refusal
from calibration.formats.tags import ADOBE_RGB, SRGB
from calibration.opening import MOST_BYTES, check_bytes, check_header
from calibration.profiles import icc_from_declared
from calibration.sniffing import FileKind, kind_of


def clean_copy(photo_bytes: bytes) -> bytes:
    """The same picture as a file without private tags.

    JPEG, PNG and WebP keep their packed pixels byte for byte; TIFF is written anew with the same pixel values; HEIC,
    which can't be cleaned in place, becomes a PNG of the same pixel values, and RAW a DNG of the same sensor values.

    Raises
    ------
    PhotoRefusedError : The bytes are no whole photograph, or a RAW file of which no copy reads as it does.
    """
    check_bytes(photo_bytes)
    return _CLEANERS[kind_of(photo_bytes)](photo_bytes)


def _clean_jpeg(photo_bytes: bytes) -> bytes:
    header = jpeg.read_header(photo_bytes)
    check_header(header)
    kept = [b"\xff\xd8"]
    for part in parts_of_jpeg.segments(photo_bytes):
        if _jpeg_part_stays(part, photo_bytes):
            kept.append(photo_bytes[part.start : part.end])
    # After the JFIF head, where there is one: it has to come first.
    jfif = len(kept) > 1 and kept[1][1] == parts_of_jpeg.APP0
    kept.insert(2 if jfif else 1, _jpeg_exif(header))
    return b"".join(kept)


def _jpeg_part_stays(part: parts_of_jpeg.Segment, photo_bytes: bytes) -> bool:
    if part.marker == parts_of_jpeg.COM:
        return False
    if not parts_of_jpeg.APP0 <= part.marker <= 0xEF:
        return True
    start = photo_bytes[part.start + 4 : part.start + 10]
    # A JFIF head may carry a small picture; only the bare one of 16 bytes stays.
    jfif = part.marker == parts_of_jpeg.APP0 and start.startswith(b"JFIF\0") and part.end - part.start == 18
    return jfif or jpeg.is_icc(part, photo_bytes) or (part.marker == parts_of_jpeg.APP14 and start.startswith(b"Adobe"))


def _jpeg_exif(header: Header) -> bytes:
    block = viewing_tags(header)
    if not block:
        return b""
    payload = parts_of_jpeg.EXIF_START + block
    return struct.pack(">BBH", 0xFF, parts_of_jpeg.APP1, 2 + len(payload)) + payload


def viewing_tags(header: Header) -> bytes:
    """An EXIF block that says only how to see the picture; b"" where the defaults say it already."""
    declared = header.declared if header.icc is None else None
    if header.orientation == 1 and declared not in (SRGB, ADOBE_RGB):
        return b""
    main = [struct.pack("<HHIHH", 0x0112, 3, 1, header.orientation, 0)]
    # Main directory at 8 with two entries, camera directory at 38 with two, interoperability directory at 68 with one.
    main.append(struct.pack("<HHII", 0x8769, 4, 1, 38))
    camera = [struct.pack("<HHIHH", 0xA001, 3, 1, 1 if declared == SRGB else 0xFFFF, 0)]
    camera.append(struct.pack("<HHII", 0xA005, 4, 1, 68))
    index = b"R03\0" if declared == ADOBE_RGB else b"R98\0"
    interop = [struct.pack("<HHI", 0x0001, 2, 4) + index]
    return b"II*\0" + struct.pack("<I", 8) + b"".join(_directory(entries) for entries in (main, camera, interop))


def _directory(entries: list[bytes]) -> bytes:
    return struct.pack("<H", len(entries)) + b"".join(entries) + bytes(4)


_PNG_STAYS = frozenset(
    (b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"sBIT", b"iCCP", b"sRGB", b"gAMA", b"cHRM", b"cICP")
)


def _clean_png(photo_bytes: bytes) -> bytes:
    header = png.read_header(photo_bytes)
    check_header(header)
    kept = [png.SIGNATURE]
    for part in png.chunks(photo_bytes):
        if part.name in _PNG_STAYS:
            kept.append(photo_bytes[part.start : part.end])
    if header.orientation != 1:
        kept.insert(2, png.chunk_bytes(b"eXIf", viewing_tags(header)))
    return b"".join(kept)


def _clean_webp(photo_bytes: bytes) -> bytes:
    header = webp.read_header(photo_bytes)
    check_header(header)
    parts: dict[bytes, bytes] = {}
    for part in webp.chunks(photo_bytes):
        parts.setdefault(part.name, part.payload)
    exif = viewing_tags(header)
    kept: list[tuple[bytes, bytes]] = [
        (name, parts[name]) for name in (b"ICCP", b"ALPH", b"VP8 ", b"VP8L") if name in parts
    ]
    if exif:
        kept.append((b"EXIF", exif))
    if len(kept) > 1:
        kept.insert(0, (b"VP8X", _webp_features(header, parts, bool(exif))))
    body = b"".join(webp.chunk_bytes(name, payload) for name, payload in kept)
    return b"RIFF" + struct.pack("<I", 4 + len(body)) + b"WEBP" + body


def _webp_features(header: Header, parts: dict[bytes, bytes], exif: bool) -> bytes:
    alpha = parts.get(b"VP8X", b"\0")[0] & webp.ALPHA_BIT
    features = alpha | (webp.ICC_BIT if b"ICCP" in parts else 0) | (webp.EXIF_BIT if exif else 0)
    width, height = (header.width_px - 1).to_bytes(3, "little"), (header.height_px - 1).to_bytes(3, "little")
    return bytes((features, 0, 0, 0)) + width + height


def _clean_tiff(photo_bytes: bytes) -> bytes:
    import tifffile  # only to write

    header = tiff.read_header(photo_bytes)
    check_header(header)
    pixels = tiff.decode(photo_bytes, header)
    stream = io.BytesIO()
    tifffile.imwrite(
        stream,
        pixels,
        photometric="rgb",
        compression="zlib",
        predictor=True,
        metadata=None,
        software=False,
        iccprofile=header.icc or icc_from_declared(header.declared),
        extrasamples=None if pixels.shape[2] == 3 else ("unassalpha",),
        extratags=[(0x0112, "H", 1, header.orientation, True)],
    )
    return stream.getvalue()


def _clean_heic(photo_bytes: bytes) -> bytes:
    header = heic.read_header(photo_bytes)
    check_header(header)
    pixels = heic.decode(photo_bytes, header)
    profile = header.icc or icc_from_declared(header.declared)
    plain = _png_of(pixels)
    if profile is None:
        return plain
    head_end = len(png.SIGNATURE) + 25
    return plain[:head_end] + png.chunk_bytes(b"iCCP", png.packed_profile(profile)) + plain[head_end:]


def _clean_raw(photo_bytes: bytes) -> bytes:
    check_header(raw.read_header(photo_bytes))
    copy = raw_copy.clean_raw(photo_bytes, MOST_BYTES)
    if copy is None:
        raise refusal(
            "raw_not_cleaned",
            "This RAW file can't be freed of its serial numbers and place: no copy of it reads as it does.",
            "Keep it to yourself, and pass on a JPEG or TIFF made from it.",
        )
    return copy


def _png_of(pixels: Pixels) -> bytes:
    return bytes(imagecodecs.png_encode(np.ascontiguousarray(pixels), level=3))


_CLEANERS = {
    FileKind.JPEG: _clean_jpeg,
    FileKind.PNG: _clean_png,
    FileKind.WEBP: _clean_webp,
    FileKind.TIFF: _clean_tiff,
    FileKind.HEIC: _clean_heic,
    FileKind.RAW: _clean_raw,
}
