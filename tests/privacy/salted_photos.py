"""Photographs with something private in every place of a file that can hold it, and a search through every layer.

Places: EXIF 2.32 (CIPA DC-008), XMP part 3 (ISO 16684), IPTC IIM in Photoshop's block, JFIF 1.02, PNG 1.2, WebP's RIFF,
TIFF 6.0, DNG 1.4 and ISO/IEC 14496-12 (boxes of HEIC), each from memory.
"""

import base64
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from PIL import Image

from tests.synthetic import encoded_files as files

ROOT = Path(__file__).parents[2]
HEIC = ROOT / "tests" / "synthetic" / "heic" / "patches_8bit_turned.heic"
MOST_LAYERS = 4


@dataclass(frozen=True)
class Salted:
    """A photograph and the private values in it, by the place that holds each."""

    content: bytes
    seeds: Mapping[str, bytes]


# --- the places


def _seed(kind: str, place: str) -> bytes:
    """A value that stands nowhere else: 20 letters that no packing shortens."""
    return f"Zq{zlib.crc32(f'{kind} {place}'.encode()):08x}Xv{place.upper()[:8]:_<8}".encode()


# 48 deg 12' 34.5'' and 16 deg 22' 11.25'' as fractions: how EXIF stores a place, in either byte order.
LATITUDE, LONGITUDE = (48, 1, 12, 1, 69, 2), (16, 1, 22, 1, 45, 4)
GPS = {f"gps {order}": struct.pack(f"{order}6I", *LATITUDE) for order in "<>"} | {
    f"gps longitude {order}": struct.pack(f"{order}6I", *LONGITUDE) for order in "<>"
}


def _exif(kind: str, thumbnail: bytes = b"") -> bytes:
    """An EXIF block of little-endian order with a place, numbers, names, a maker's note and a small picture."""
    text = {
        0x010E: "describe", 0x010F: "make", 0x0110: "model", 0x0131: "software", 0x013B: "artist", 0x8298: "copyrigh",
    }  # fmt: skip
    camera = {0xA430: "owner", 0xA431: "serial", 0xA435: "lens", 0xA420: "unique"}
    main = [(tag, 2, _seed(kind, place) + b"\0") for tag, place in text.items()]
    main.append((0x9C9F, 1, "Zq subject of a window".encode("utf-16-le")))  # a name as one system's own tags hold it
    own = [(tag, 2, _seed(kind, place) + b"\0") for tag, place in camera.items()]
    own.append((0x927C, 7, _seed(kind, "maker")))
    own.append((0x9286, 7, b"ASCII\0\0\0" + _seed(kind, "comment")))
    gps = [(1, 2, b"N\0"), (2, 5, GPS["gps <"]), (3, 2, b"E\0"), (4, 5, GPS["gps longitude <"])]
    gps.append((0x1D, 2, b"2031:07:09\0"))
    return _tag_block([(*entry,) for entry in main], {0x8769: own, 0x8825: gps}, thumbnail)


def _tag_block(main: list[tuple], below: Mapping[int, list[tuple]], thumbnail: bytes) -> bytes:
    """Directories one after the other: the main one, those below it, and one for the small picture."""
    block = bytearray(b"II*\0" + struct.pack("<I", 8))
    places: dict[int, int] = {}
    main = sorted([*main, *((tag, 4, b"\0\0\0\0") for tag in below)])
    _directory(block, main, places)
    for tag, entries in below.items():
        struct.pack_into("<I", block, places[tag] + 8, len(block))
        _directory(block, sorted(entries), {})
    next_link = 8 + 2 + 12 * len(main)
    if thumbnail:
        struct.pack_into("<I", block, next_link, len(block))
        small: dict[int, int] = {}
        entries = [(0x0103, 3, struct.pack("<H", 6)), (0x0201, 4, b"\0" * 4),
                   (0x0202, 4, struct.pack("<I", len(thumbnail)))]  # fmt: skip
        _directory(block, entries, small)
        struct.pack_into("<I", block, small[0x0201] + 8, len(block))
        block += thumbnail
    return bytes(block)


def _directory(block: bytearray, entries: list[tuple], places: dict[int, int]) -> None:
    sizes = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1}
    start = len(block)
    block += struct.pack("<H", len(entries)) + bytes(12 * len(entries) + 4)
    for number, (tag, kind, value) in enumerate(entries):
        at = start + 2 + 12 * number
        places[tag] = at
        struct.pack_into("<HHI", block, at, tag, kind, len(value) // sizes[kind])
        if len(value) <= 4:
            block[at + 8 : at + 8 + len(value)] = value
        else:
            struct.pack_into("<I", block, at + 8, len(block))
            block += value + b"\0" * (len(value) % 2)


def _exif_seeds(kind: str) -> dict[str, bytes]:
    places = (
        *("describe", "make", "model", "software", "artist", "copyrigh", "owner", "serial", "lens", "unique"),
        *("maker", "comment"),
    )  # fmt: skip
    told = {place: _seed(kind, place) for place in places}
    return told | GPS | {"gps day": b"2031:07:09", "subject": b"Zq subject of a window"}


def _xmp(kind: str) -> bytes:
    place = b"<exif:GPSLatitude>" + _seed(kind, "xmp") + b"</exif:GPSLatitude>"
    return b'<x:xmpmeta xmlns:x="adobe:ns:meta/">' + place + b"</x:xmpmeta>"


def _iptc(kind: str) -> bytes:
    value = _seed(kind, "iptc")
    record = b"\x1c\x02\x5a" + struct.pack(">H", len(value)) + value  # 2:90, the city
    return b"Photoshop 3.0\08BIM\x04\x04\0\0" + struct.pack(">I", len(record)) + record


# --- the files


def _segment(marker: int, payload: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, 2 + len(payload)) + payload


def _small_picture(kind: str) -> bytes:
    """A JPEG that tells in a comment of its own whose picture it is a small copy of."""
    return files.pillow_bytes(np.full((16, 24, 3), 90, np.uint8), "JPEG", comment=_seed(kind, "thumb"))


def salted_jpeg(pixels: np.ndarray) -> Salted:
    kind = "jpeg"
    plain = files.pillow_bytes(pixels, "JPEG", quality=95, comment=_seed(kind, "com"))
    hidden = _segment(0xE1, b"Exif\0\0" + _exif(kind, _small_picture(kind)))
    hidden += _segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + _xmp(kind))
    hidden += _segment(0xE1, b"http://ns.adobe.com/xmp/extension/\0" + _seed(kind, "xmpmore"))
    hidden += _segment(0xED, _iptc(kind)) + _segment(0xE2, b"MPF\0" + _seed(kind, "mpf"))
    own = {f"app{marker:x}": marker for marker in range(0xE3, 0xED)}
    hidden += b"".join(_segment(marker, _seed(kind, place)) for place, marker in own.items())
    places = ("xmp", "xmpmore", "iptc", "mpf", "com", "thumb", *own)
    seeds = _exif_seeds(kind) | {place: _seed(kind, place) for place in places}
    tail = _seed(kind, "tail")
    return Salted(plain[:2] + hidden + plain[2:] + tail + _small_picture(kind), seeds | {"tail": tail})


def salted_png(pixels: np.ndarray) -> Salted:
    kind = "png"
    packed = zlib.compress(_seed(kind, "ztxt"))
    itxt = b"XML:com.adobe.xmp\0\0\0\0\0" + _xmp(kind)
    chunks = {"eXIf": _exif(kind), "tEXt": b"Author\0" + _seed(kind, "text"), "zTXt": b"Comment\0\0" + packed,
              "iTXt": itxt, "tIME": b"\x07\xef\x07\x09\x0a\x00\x00", "prVt": _seed(kind, "chunk")}  # fmt: skip
    tail = _seed(kind, "tail")
    seeds = _exif_seeds(kind) | {place: _seed(kind, place) for place in ("text", "ztxt", "xmp", "chunk")}
    return Salted(files.png_bytes(pixels, **chunks) + tail, seeds | {"tail": tail})


def salted_webp(pixels: np.ndarray) -> Salted:
    kind, stream = "webp", io.BytesIO()
    options = {"exif": _exif(kind), "xmp": _xmp(kind)}
    Image.fromarray(pixels).save(stream, "WEBP", quality=95, **options)
    tail = _seed(kind, "tail")
    return Salted(stream.getvalue() + tail, _exif_seeds(kind) | {"xmp": _seed(kind, "xmp"), "tail": tail})


def salted_tiff(pixels: np.ndarray) -> Salted:
    kind = "tiff"
    texts = {315: "artist", 271: "make", 272: "model", 33432: "copyrigh", 316: "host"}
    tags = [(tag, "s", 0, _seed(kind, place).decode(), True) for tag, place in texts.items()]
    tags += [(700, "B", len(_xmp(kind)), _xmp(kind), True), (33723, "B", len(_iptc(kind)), _iptc(kind), True)]
    tags += [(50000, "B", 20, _seed(kind, "private")[:20], True)]
    content = files.tiff_bytes(pixels, extratags=tags, description=_seed(kind, "describe").decode(),
                               datetime="2031:07:09 10:00:00")  # fmt: skip
    tail = _seed(kind, "tail")
    seeds = {place: _seed(kind, place) for place in (*texts.values(), "describe", "xmp", "iptc")}
    return Salted(content + tail, seeds | {"private": _seed(kind, "private")[:20], "day": b"2031:07:09", "tail": tail})


def salted_heic() -> Salted:
    """The synthetic HEIC with boxes that a reader skips: a free one, and one of its own kind with XMP."""
    kind = "heic"
    boxes, uuid = b"", b"\xbe" * 16 + _xmp(kind)
    for name, value in (("free", _seed(kind, "free")), ("uuid", uuid), ("skip", _seed(kind, "skip"))):
        boxes += struct.pack(">I", 8 + len(value)) + name.encode() + value
    seeds = {place: _seed(kind, place) for place in ("free", "xmp", "skip")}
    return Salted(HEIC.read_bytes() + boxes, seeds)


def salted_dng(pixels: np.ndarray) -> Salted:
    kind = "dng"
    texts = {315: "artist", 271: "make", 33432: "copyrigh", 50735: "serial", 50827: "rawname"}
    tags = [(tag, "s", 0, _seed(kind, place).decode(), True) for tag, place in texts.items()]
    tags += [(700, "B", len(_xmp(kind)), _xmp(kind), True), (50740, "B", 20, _seed(kind, "maker"), True)]
    linear = (pixels / 255.0) ** 2.2
    sensor = np.rint(linear * np.array(files.CAMERA_NEUTRAL) * files.SENSOR_WHITE).astype(np.uint16)
    content = files.tiff_bytes(sensor, photometric=34892, extratags=[*files._camera_tags(channels=3), *tags])
    seeds = {place: _seed(kind, place) for place in (*texts.values(), "xmp", "maker")}
    return Salted(content, seeds)


WITH_PIXELS: Mapping[str, Callable[[np.ndarray], Salted]] = {
    "jpg": salted_jpeg, "png": salted_png, "webp": salted_webp, "tif": salted_tiff, "dng": salted_dng,
}  # fmt: skip


@cache
def sample_pixels(name: str) -> np.ndarray:
    return np.asarray(Image.open(ROOT / "sample_images" / name).convert("RGB"))


# --- the search

_ZLIB = re.compile(rb"\x78[\x01\x5e\x9c\xda]")
_BASE64 = re.compile(rb"[A-Za-z0-9+/]{64,}={0,2}")


def layers(content: bytes, deep: int = 0) -> Iterator[bytes]:
    """The content, and all that is packed in it: members of zips, deflated streams, base64; theirs too."""
    yield content
    if deep == MOST_LAYERS:
        return
    for inner in _inner(content):
        yield from layers(inner, deep + 1)


def _inner(content: bytes) -> Iterator[bytes]:
    if content[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            yield from (archive.read(name) for name in archive.namelist())
        return
    for found in _ZLIB.finditer(content):
        unpacking = zlib.decompressobj()
        try:
            unpacked = unpacking.decompress(content[found.start() :], 8_000_000)
        except zlib.error:
            continue
        if unpacked:
            yield unpacked
    for found in _BASE64.finditer(content):
        try:
            yield base64.b64decode(found.group() + b"=" * (-len(found.group()) % 4))
        except ValueError:
            continue


def spellings(seed: bytes) -> tuple[bytes, ...]:
    """The ways in which a value may stand in a file: as it is, in two bytes a letter, in hexadecimal, in base64."""
    wide = [b"".join(bytes((letter, 0)) for letter in seed), b"".join(bytes((0, letter)) for letter in seed)]
    coded = [base64.b64encode(b"\0" * shift + seed)[4 if shift else 0 : -4] for shift in range(3)]
    return (seed, *wide, seed.hex().encode(), seed.hex().upper().encode(), *coded)


def found_seeds(content: bytes, seeds: Mapping[str, bytes]) -> list[str]:
    """The places whose value stands anywhere in the content."""
    every = list(layers(content))
    return [place for place, seed in seeds.items() if any(s in layer for layer in every for s in spellings(seed))]
