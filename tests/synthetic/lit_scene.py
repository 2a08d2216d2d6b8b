"""Cards, a grey card and flat swatches under light that changes over the frame, and a white sheet in the same light."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.synthetic.card_scene import (
    FILL,
    FRAME_REFLECTANCE,
    GREY_BOARD,
    CardScene,
    Development,
    Layout,
    Light,
    Photographed,
    _balanced,
    _developed,
    _paint,
    _places,
    _project,
    _seen,
    card_map,
)
from tests.synthetic.spectra import WAVELENGTHS_NM, FloatArray, card_reflectances

K = 2  # supersampling
_OUTLINE = np.array([[-0.7, -0.7], [5.7, -0.7], [5.7, 3.7], [-0.7, 3.7]])
_SQUARE = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * FILL / 2
GREY, FIRST_SWATCH = 26, 27


@dataclass(frozen=True, eq=False)
class LitScene:
    """A board in changing light.

    lamp, second_lamp : CIE illuminants; the second one's share of the light runs from shares[0] at the left edge to
        shares[1] at the right edge, by an S rather than a straight line, as two lamps side by side give it.
    slope : Change of the light's logarithm over the whole width and the whole height.
    cards : Middles of the cards, shares of width and height; the first is the larger one.
    grey_at : Middle of a grey card of reflectance 0.18, or None.
    swatches : Reflectances of flat swatches in a row across the upper part. shape (n, wavelengths).
    """

    lamp: str = "D65"
    second_lamp: str | None = None
    shares: tuple[float, float] = (0.0, 0.7)
    slope: tuple[float, float] = (0.0, 0.0)
    development: Development = field(default_factory=Development)
    cards: tuple[tuple[float, float], ...] = ((0.78, 0.72),)
    grey_at: tuple[float, float] | None = None
    swatches: FloatArray = field(default_factory=lambda: np.zeros((0, len(WAVELENGTHS_NM))))
    size_px: tuple[int, int] = (960, 640)
    seed: int = 1


def photograph_lit(scene: LitScene) -> Photographed:
    """The scene as an 8-bit photograph that has been through one JPEG; `centres_px` are those of the first card."""
    picture, boxes, grid = _surfaces(scene)
    frame = np.full(len(WAVELENGTHS_NM), FRAME_REFLECTANCE)
    grey = np.full(len(WAVELENGTHS_NM), 0.18)
    reflectances = np.vstack([GREY_BOARD, frame, card_reflectances(), grey, scene.swatches])
    return Photographed(_taken(scene, picture, reflectances), _project(grid, _places()), boxes)


def photograph_sheet(scene: LitScene, exposure: float = 0.9, pattern: float = 0.0) -> Photographed:
    """A white sheet over the whole frame in the same light, taken with another exposure.

    pattern : How much darker every second square of a checked sheet is. [0-1]
    """
    width, height = scene.size_px
    y, x = np.mgrid[0 : height * K, 0 : width * K] // (24 * K)
    picture = ((x + y) % 2).astype(np.uint8)
    white = np.full(len(WAVELENGTHS_NM), 0.86)
    stored = _taken(scene, picture, np.vstack([white, white * (1 - pattern)]), exposure)
    return Photographed(stored, np.zeros((0, 2)), np.zeros((0, 4), dtype=np.int64))


def _taken(
    scene: LitScene, picture: NDArray[np.uint8], reflectances: FloatArray, exposure: float = 1.0
) -> NDArray[np.uint8]:
    base = CardScene(Light(scene.lamp), scene.development, Layout(*scene.size_px), seed=scene.seed)
    width, height = scene.size_px
    across, down = np.linspace(0, 1, width), np.linspace(0, 1, height)
    first = _balanced(base, scene.lamp, reflectances)[picture].astype(np.float32)
    light = cv2.resize(first, scene.size_px, interpolation=cv2.INTER_AREA)
    if scene.second_lamp is not None:
        other = _balanced(base, scene.second_lamp, reflectances)[picture].astype(np.float32)
        other = cv2.resize(other, scene.size_px, interpolation=cv2.INTER_AREA)
        smooth = across * across * (3 - 2 * across)
        share = (scene.shares[0] + (scene.shares[1] - scene.shares[0]) * (0.5 * across + 0.5 * smooth))[None, :, None]
        light = light * (1 - share) + other * share
    fall = np.exp(scene.slope[0] * across[None, :] + scene.slope[1] * down[:, None])
    sensor = _seen(base, light * (exposure * fall / fall.max())[..., None])
    encoded = np.ascontiguousarray(_developed(base, sensor)[:, :, ::-1])
    quality = [cv2.IMWRITE_JPEG_QUALITY, scene.development.jpeg_quality]
    return np.ascontiguousarray(cv2.imdecode(cv2.imencode(".jpg", encoded, quality)[1], 1)[:, :, ::-1])


def _surfaces(scene: LitScene) -> tuple[NDArray[np.uint8], NDArray[np.int64], FloatArray]:
    width, height = scene.size_px
    picture = np.zeros((height * K, width * K), dtype=np.uint8)
    grids = [
        card_map(Layout(width, height, centre, 0.34 - 0.03 * number, 3.0 - 5 * number, 0.02))
        for number, centre in enumerate(scene.cards)
    ]
    for grid in grids:
        _paint(picture, grid, _OUTLINE, 1)
        for patch, place in enumerate(_places()):
            _paint(picture, grid, place + _SQUARE, 2 + patch)
    if scene.grey_at is not None:
        middle = np.array(scene.grey_at) * scene.size_px
        _paint(picture, np.eye(3), middle + 60 * np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]), GREY)
    boxes = np.zeros((len(scene.swatches), 4), dtype=np.int64)
    step = width / max(len(scene.swatches), 1)
    for number in range(len(scene.swatches)):
        left, right = int((number + 0.15) * step), int((number + 0.85) * step)
        top, bottom = int(0.08 * height), int(0.34 * height)
        picture[top * K : bottom * K, left * K : right * K] = FIRST_SWATCH + number
        boxes[number] = left + 12, top + 12, right - 12, bottom - 12
    return picture, boxes, grids[0]
