"""A picture for the portfolio: before and after side by side, the hair alone in sight.

Nothing looks for a face. What nobody outlined as hair is hidden, so a face can't slip through. No word on it says whose
hair it is, and the file holds pixels and the sRGB profile, nothing else.
"""

import io
from collections.abc import Mapping
from enum import StrEnum

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from estimator.reports.aligning import NEUTRAL, Shown, hair_shown, laid_as, window_of
from estimator.reports.document import PhotoReading
from estimator.reports.lettering import FONT_FOLDER
from estimator.reports.pictures import srgb_profile

MOSAIC = 28  # tiles across a hidden picture: too few for a face, whatever is done to them
CAPTION_PX = 34


class Hiding(StrEnum):
    """What becomes of everything that is not outlined hair."""

    BLUR = "blur"
    CUT = "cut"


def portfolio_picture(before: PhotoReading, after: PhotoReading | None, hiding: Hiding, demo: bool = False) -> bytes:
    """PNG of the hair before and after: corrected to daylight, the after photograph turned and sized as the one before.

    demo : Invented hair, and the picture says so.

    Raises
    ------
    BadInputError : No hair is outlined in a photograph.
    """
    first = hair_shown(before, "before")
    sides = [("Before", first)]
    if after is not None:
        sides.append(("After", laid_as(hair_shown(after, "after"), first)))
    window = window_of([side.hair for _, side in sides])
    tiles = [_captioned(_hidden(side, hiding)[window], word) for word, side in sides]
    return _png(np.hstack(tiles), "Demo: rendered hair" if demo else "")


def numbered_hair_picture(reading: PhotoReading, numbers: Mapping[str, int]) -> bytes:
    """PNG of the hair of one photograph alone, each zone's number on it. Raises BadInputError without outlined hair."""
    shown = hair_shown(reading, "before")
    rows, columns = window_of([shown.hair])
    picture = Image.fromarray(np.ascontiguousarray(_hidden(shown, Hiding.BLUR)[rows, columns]))
    draw, font = ImageDraw.Draw(picture), _font(CAPTION_PX - 4)
    for name, (x, y, size) in shown.places.items():
        if size == 0:
            continue
        x, y = x - columns.start, y - rows.start
        draw.circle((x, y), CAPTION_PX * 0.6, fill=(255, 255, 255), outline=(0, 0, 0), width=2)
        draw.text((x, y), str(numbers[name]), font=font, fill=(0, 0, 0), anchor="mm")
    return _png(np.asarray(picture), "")


def _hidden(shown: Shown, hiding: Hiding) -> NDArray[np.uint8]:
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
