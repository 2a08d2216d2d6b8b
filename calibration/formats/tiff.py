"""TIFF files: directories, header and pixels. Source of the structure: TIFF 6.0 (1992).

The strips are unpacked here, one by one, because a reader that fills up a strip that ends early would pass off a
damaged file as whole.
"""

import math
from dataclasses import dataclass

import imagecodecs
import numpy as np

from calibration.formats.header import DECODER_TROUBLE, Channels, Header, Pixels, damaged, unsupported
from calibration.formats.tags import (
    BrokenTagsError,
    Directory,
    byte_order,
    camera_tags,
    first_offset,
    read_directory,
    upright_value,
)

NAME = "TIFF"
WIDTH, HEIGHT, BITS, COMPRESSION, PHOTOMETRIC, SAMPLES, PLANAR = 256, 257, 258, 259, 262, 277, 284
STRIP_PLACES, STRIP_ROWS, STRIP_SIZES, PREDICTOR, SAMPLE_FORMAT, SUBFILE = 273, 278, 279, 317, 339, 254
TILE_WIDTH, TILE_HEIGHT, TILE_PLACES, TILE_SIZES, SUB_DIRECTORIES, ICC, EXIF = 322, 323, 324, 325, 330, 34675, 34665
MOST_DIRECTORIES = 64
_CHANNELS = {0: Channels.GREY, 1: Channels.GREY, 2: Channels.RGB, 3: Channels.PALETTE, 5: Channels.CMYK}
_UNCOMPRESSED = 1
_UNPACK = {
    5: imagecodecs.lzw_decode,
    8: imagecodecs.zlib_decode,
    32946: imagecodecs.zlib_decode,
    32773: imagecodecs.packbits_decode,
}


def directories(photo_bytes: bytes) -> tuple[Directory, ...]:
    """The chain of directories, the main picture's first. Raises PhotoRefusedError where it is broken."""
    found: list[Directory] = []
    try:
        offset = first_offset(photo_bytes)
        while offset and len(found) < MOST_DIRECTORIES:
            found.append(read_directory(photo_bytes, offset))
            offset = found[-1].next_offset
    except BrokenTagsError:
        raise damaged(NAME, "its list of contents reaches past its end") from None
    if not found:
        raise damaged(NAME, "it holds no picture")
    return tuple(found)


def all_directories(photo_bytes: bytes) -> tuple[Directory, ...]:
    """The chain and the directories below it that can be read; () for a file that is no TIFF."""
    found: list[Directory] = []
    try:
        waiting = [first_offset(photo_bytes)]
        while waiting and len(found) < MOST_DIRECTORIES:
            if offset := waiting.pop(0):
                found.append(read_directory(photo_bytes, offset))
                waiting += [found[-1].next_offset, *found[-1].numbers(SUB_DIRECTORIES)[:MOST_DIRECTORIES]]
    except BrokenTagsError:
        pass  # the RAW decoder judges
    return tuple(found)


def read_header(photo_bytes: bytes) -> Header:
    """Size, depth, colour and orientation. Raises PhotoRefusedError for damage and for rare kinds."""
    chain = directories(photo_bytes)
    main = chain[0]
    bits = set(main.numbers(BITS)) or {1}
    channels = _CHANNELS.get(main.number(PHOTOMETRIC, -1), Channels.OTHER)
    tags = camera_tags(photo_bytes)
    return Header(
        NAME,
        main.number(WIDTH, 0),
        main.number(HEIGHT, 0),
        max(bits),
        channels,
        upright_value(tags.orientation),
        main.opaque(ICC),
        tags.declared,
        sum(1 for directory in chain if not directory.number(SUBFILE, 0) & 1),
    )


@dataclass(frozen=True)
class _Layout:
    """How the pixels lie in the file: blocks (strips or tiles) of rows x columns, each of `samples` values."""

    dtype: np.dtype[np.uint8] | np.dtype[np.uint16]
    samples: int
    planes: int
    block_rows: int
    block_columns: int
    places: tuple[int, ...]
    sizes: tuple[int, ...]
    compression: int
    predicted: bool


def _layout(main: Directory, header: Header, order: str) -> _Layout:
    samples = main.number(SAMPLES, 1)
    compression = main.number(COMPRESSION, _UNCOMPRESSED)
    predictor = main.number(PREDICTOR, 1)
    if set(main.numbers(BITS)) not in ({8}, {16}) or samples not in (3, 4):
        raise unsupported(NAME, f"holds {samples} values of {header.bits} bits for each pixel")
    if set(main.numbers(SAMPLE_FORMAT)) - {1}:
        raise unsupported(NAME, "holds floating or signed numbers")
    if compression not in (_UNCOMPRESSED, *_UNPACK) or predictor not in (1, 2):
        raise unsupported(NAME, f"is compressed in a rare way (code {compression})")
    apart = main.number(PLANAR, 1) == 2
    tiled = TILE_PLACES in main.tags
    return _Layout(
        np.dtype(f"{order}u{header.bits // 8}"),
        1 if apart else samples,
        samples if apart else 1,
        main.number(TILE_HEIGHT, 0) if tiled else min(main.number(STRIP_ROWS, header.height_px), header.height_px),
        main.number(TILE_WIDTH, 0) if tiled else header.width_px,
        main.numbers(TILE_PLACES if tiled else STRIP_PLACES),
        main.numbers(TILE_SIZES if tiled else STRIP_SIZES),
        compression,
        predictor == 2,
    )


def decode(photo_bytes: bytes, header: Header) -> Pixels:
    """The pixels in their own depth. uint8 or uint16, shape (rows, columns, 3 or 4). Raises PhotoRefusedError."""
    layout = _layout(directories(photo_bytes)[0], header, byte_order(photo_bytes))
    _check_blocks(photo_bytes, header, layout)
    across = math.ceil(header.width_px / layout.block_columns)
    down = math.ceil(header.height_px / layout.block_rows)
    samples = layout.samples * layout.planes
    pixels: Pixels = np.empty((header.height_px, header.width_px, samples), dtype=layout.dtype.newbyteorder("="))
    for number in range(down * across * layout.planes):
        plane, within = divmod(number, down * across)
        top, left = within // across * layout.block_rows, within % across * layout.block_columns
        rows = min(layout.block_rows, header.height_px - top)
        block = _block(photo_bytes, layout, number, rows if across == 1 else layout.block_rows)
        target = pixels[top : top + layout.block_rows, left : left + layout.block_columns]
        target[..., plane : plane + layout.samples] = block[: target.shape[0], : target.shape[1]]
    return pixels


def _check_blocks(photo_bytes: bytes, header: Header, layout: _Layout) -> None:
    """Every strip must be there and lie inside the file, before room for the picture is made."""
    if min(layout.block_rows, layout.block_columns) < 1 or layout.block_rows * layout.block_columns > 64_000_000:
        raise damaged(NAME, "its strips have no sensible size")
    needed = math.ceil(header.width_px / layout.block_columns) * math.ceil(header.height_px / layout.block_rows)
    if not len(layout.places) == len(layout.sizes) == needed * layout.planes:
        raise damaged(NAME, f"it lists {len(layout.places)} strips where {needed * layout.planes} are needed")
    pairs = zip(layout.places, layout.sizes, strict=True)
    if any(size == 0 or place + size > len(photo_bytes) for place, size in pairs):
        raise damaged(NAME, "a strip of the picture lies past the end of the file")


def _block(photo_bytes: bytes, layout: _Layout, number: int, rows: int) -> Pixels:
    place, size = layout.places[number], layout.sizes[number]
    shape = (rows, layout.block_columns, layout.samples)
    needed = math.prod(shape) * layout.dtype.itemsize
    packed = photo_bytes[place : place + size]
    try:
        unpack = _UNPACK.get(layout.compression)
        # Room is given beforehand, so a strip can't swell beyond what its place in the picture holds.
        plain = packed if unpack is None else unpack(packed, out=needed)
        block: Pixels = np.frombuffer(plain, dtype=layout.dtype, count=math.prod(shape)).reshape(shape)
    except DECODER_TROUBLE:
        raise damaged(NAME, "a strip of the picture is cut short") from None
    native = block.astype(layout.dtype.newbyteorder("="), copy=False)
    # Predictor 2 stores each value as the step from its left neighbour, in whole code values that wrap around.
    return np.cumsum(native, axis=1, dtype=native.dtype) if layout.predicted else native
