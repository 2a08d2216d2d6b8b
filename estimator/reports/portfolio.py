"""A picture for the portfolio: before and after side by side, the hair alone in sight.

Nothing looks for a face. What nobody outlined as hair is hidden, so a face can't slip through. No word on it says whose
hair it is, and the file holds pixels and the sRGB profile, nothing else.
"""

import io
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from estimator.errors import BadInputError
from estimator.reports.document import PhotoReading
from estimator.reports.lettering import FONT_FOLDER
from estimator.reports.pictures import screen_pixels, shrunk, small_mask, srgb_profile
from estimator.zones.outline import Zone

LONGEST_PX = 1280
MARGIN = 0.06  # around the hair, of the longer side of what is shown
EDGE = 0.006  # by so much of the longer side the hair's outline is widened and softened
NEUTRAL = (119, 119, 119)  # sRGB of a grey of L* 50, as around every colour that this program shows
MOSAIC = 28  # tiles across a hidden picture: too few for a face, whatever is done to them
CAPTION_PX = 34
STRAY_SHARE = 0.02  # of the largest piece of hair: smaller pieces do not decide what is shown


class Hiding(StrEnum):
    """What becomes of everything that is not outlined hair."""

    BLUR = "blur"
    CUT = "cut"


@dataclass(frozen=True, eq=False)
class _Shown:
    """One photograph ready to be laid beside the other: its sRGB pixels and how much of each is hair, 0-1."""

    srgb: NDArray[np.uint8]
    hair: NDArray[np.float32]
    places: dict[str, tuple[float, float, float]]


def portfolio_picture(before: PhotoReading, after: PhotoReading | None, hiding: Hiding, demo: bool = False) -> bytes:
    """PNG of the hair before and after: corrected to daylight, the after photograph turned and sized as the one before.

    demo : Invented hair, and the picture says so.

    Raises
    ------
    BadInputError : No hair is outlined in a photograph.
    """
    first = _shown(before, "before")
    sides = [("Before", first)]
    if after is not None:
        sides.append(("After", _laid_as(_shown(after, "after"), first)))
    window = _window([side.hair for _, side in sides])
    tiles = [_captioned(_hidden(side, hiding)[window], word) for word, side in sides]
    return _png(np.hstack(tiles), "Demo: rendered hair" if demo else "")


def numbered_hair_picture(reading: PhotoReading, numbers: Mapping[str, int]) -> bytes:
    """PNG of the hair of one photograph alone, each zone's number on it. Raises BadInputError without outlined hair."""
    shown = _shown(reading, "before")
    rows, columns = _window([shown.hair])
    picture = Image.fromarray(np.ascontiguousarray(_hidden(shown, Hiding.BLUR)[rows, columns]))
    draw, font = ImageDraw.Draw(picture), _font(CAPTION_PX - 4)
    for name, (x, y, size) in shown.places.items():
        if size == 0:
            continue
        x, y = x - columns.start, y - rows.start
        draw.circle((x, y), CAPTION_PX * 0.6, fill=(255, 255, 255), outline=(0, 0, 0), width=2)
        draw.text((x, y), str(numbers[name]), font=font, fill=(0, 0, 0), anchor="mm")
    return _png(np.asarray(picture), "")


def _shown(reading: PhotoReading, word: str) -> _Shown:
    """The photograph at the size of the portfolio, corrected, and where its hair is."""
    if not reading.outlined:
        raise BadInputError(f"No hair is outlined in the photograph {word}, so nothing could be hidden. Outline it.")
    photo, scale = shrunk(reading.corrected.photo, LONGEST_PX)
    srgb, _ = screen_pixels(reading.corrected.correction.xyz_d65(photo, photo.whole, 1))
    masks = {zone.name: _mask(zone, srgb, scale) for zone in reading.outlined}
    hair = np.max(np.stack(list(masks.values())), axis=0)
    places = {name: _place(mask) for name, mask in masks.items()}
    edge_px = max(1.0, EDGE * max(srgb.shape))
    widened = cv2.dilate(hair, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * int(edge_px) + 1,) * 2))
    return _Shown(srgb, np.asarray(cv2.GaussianBlur(widened, (0, 0), edge_px), dtype=np.float32), places)


def _mask(zone: Zone, srgb: NDArray[np.uint8], scale: float) -> NDArray[np.float32]:
    height, width = srgb.shape[:2]
    return small_mask(zone, (height, width), scale).astype(np.float32)


def _place(mask: NDArray[np.float32]) -> tuple[float, float, float]:
    """Middle of a zone and its size. [px]"""
    rows, columns = np.nonzero(mask > 0.5)
    if len(rows) == 0:
        return 0.0, 0.0, 0.0
    return float(columns.mean()), float(rows.mean()), float(np.sqrt(len(rows)))


def _laid_as(shown: _Shown, first: _Shown) -> _Shown:
    """The photograph moved, turned and sized so that its zones lie where those of the first do."""
    height, width = first.srgb.shape[:2]
    matrix = _similarity(shown.places, first.places)
    srgb = cv2.warpAffine(shown.srgb, matrix, (width, height), flags=cv2.INTER_AREA, borderValue=NEUTRAL)
    hair = cv2.warpAffine(shown.hair, matrix, (width, height))
    return _Shown(np.asarray(srgb, dtype=np.uint8), np.asarray(hair, dtype=np.float32), first.places)


def _similarity(places: dict[str, tuple[float, float, float]], wanted: dict[str, tuple[float, float, float]]) -> (
    NDArray[np.float64]
):  # fmt: skip
    """The move, turn and scale that bring zones of one name together. shape (2, 3)."""
    names = [name for name in places if name in wanted and places[name][2] > 0 and wanted[name][2] > 0]
    here, there = (np.array([which[name] for name in names]).reshape(-1, 3) for which in (places, wanted))
    if not names:
        return np.array([[1.0, 0, 0], [0, 1.0, 0]])
    if len(names) == 1:
        turn_and_scale = complex(there[0, 2] / here[0, 2])
    else:
        # A turn and a scale together are one complex number; least squares over the zones' middles.
        from_, to = (points[:, 0] + 1j * points[:, 1] for points in (here, there))
        from_, to = from_ - from_.mean(), to - to.mean()
        turn_and_scale = complex(np.vdot(from_, to) / np.vdot(from_, from_))
    real, imaginary = turn_and_scale.real, turn_and_scale.imag
    turned = np.array([[real, -imaginary], [imaginary, real]])
    move = there[:, :2].mean(axis=0) - turned @ here[:, :2].mean(axis=0)
    return np.column_stack([turned, move])


def _window(hair: list[NDArray[np.float32]]) -> tuple[slice, slice]:
    """The part that is shown: all hair of both photographs with a margin."""
    both = (np.max(np.stack(hair), axis=0) > 0.5).astype(np.uint8)
    _, pieces, about, _ = cv2.connectedComponentsWithStats(both)
    areas = np.asarray(about[:, cv2.CC_STAT_AREA], dtype=np.float64)
    areas[0] = 0.0  # all that is not hair
    # A stray tuft far off would only push what matters to the side.
    rows, columns = np.nonzero(np.isin(pieces, np.flatnonzero(areas > STRAY_SHARE * areas.max())))
    margin = round(MARGIN * max(np.ptp(rows), np.ptp(columns)))
    top, left = max(int(rows.min()) - margin, 0), max(int(columns.min()) - margin, 0)
    return slice(top, int(rows.max()) + margin + 1), slice(left, int(columns.max()) + margin + 1)


def _hidden(shown: _Shown, hiding: Hiding) -> NDArray[np.uint8]:
    """The picture with everything but the hair hidden."""
    height, width = shown.srgb.shape[:2]
    around = np.full_like(shown.srgb, NEUTRAL)
    if hiding is Hiding.BLUR:
        tiles = (MOSAIC, max(1, round(MOSAIC * height / width)))
        small = cv2.resize(shown.srgb, tiles, interpolation=cv2.INTER_AREA)
        around = np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
    share = shown.hair[..., None]
    return np.rint(share * shown.srgb + (1 - share) * around).astype(np.uint8)


def _captioned(srgb: NDArray[np.uint8], word: str) -> NDArray[np.uint8]:
    height, width = srgb.shape[:2]
    sheet = Image.new("RGB", (width + 16, height + 2 * CAPTION_PX), NEUTRAL)
    sheet.paste(Image.fromarray(np.ascontiguousarray(srgb)), (8, 8))
    draw = ImageDraw.Draw(sheet)
    draw.text((12, height + 8 + CAPTION_PX // 4), word, font=_font(CAPTION_PX - 6), fill=(0, 0, 0))
    return np.asarray(sheet)


def _png(srgb: NDArray[np.uint8], mark: str) -> bytes:
    picture = Image.fromarray(srgb)
    if mark:
        draw, font = ImageDraw.Draw(picture), _font(CAPTION_PX - 10)
        left = picture.width - draw.textlength(mark, font=font) - 12
        draw.text((left, picture.height - CAPTION_PX - 8), mark, font=font, fill=(0, 0, 0))
    stream = io.BytesIO()
    picture.save(stream, "PNG", icc_profile=srgb_profile())
    return stream.getvalue()


def _font(size_px: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(io.BytesIO(FONT_FOLDER.joinpath("SourceSansPro-Semibold.ttf").read_bytes()), size_px)
