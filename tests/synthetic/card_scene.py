"""A photograph of the 24-patch card and of flat swatches, made from spectra: the reverse of what calibration undoes.

Light falls on surfaces (lamp x reflectance, uneven light, glare), a lens and a sensor see them (sensitivities, blur,
noise), a camera develops them (white balance, colour matrix, exposure, tone curve, saturation, 8 bits, JPEG).
"""

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.synthetic.spectra import WAVELENGTHS_NM, FloatArray, camera, card_reflectances, lamp, xyz_d65

FRAME_REFLECTANCE = 0.035
FILL = 0.88  # side of a patch in pitches
SUPERSAMPLING = 2
SRGB_FROM_XYZ = np.linalg.inv(np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]))
GREY_BOARD = np.full(len(WAVELENGTHS_NM), 0.30)


@dataclass(frozen=True)
class Light:
    """What falls on the scene.

    second_lamp : Lights from the right; the first fades from left to right by `second_share`.
    gradient : Light at the right edge over light at the left edge.
    glare_at : Place of a mirror image of the lamp, shares of width and height; strength in perfect whites.
    """

    lamp: str = "D65"
    second_lamp: str | None = None
    second_share: float = 0.6
    gradient: float = 1.0
    glare_at: tuple[float, float] | None = None
    glare: float = 1.5
    stray: float = 0.0


@dataclass(frozen=True)
class Development:
    """What the camera does.

    exposure : Share of the range that perfect white reaches before the tone curve.
    contrast : Strength of an S-shaped tone curve, 0 for none.
    balance : Error of the white balance: gains of red and blue.
    """

    camera: str = "camera 6"
    exposure: float = 0.80
    contrast: float = 0.5
    saturation: float = 1.0
    balance: tuple[float, float] = (1.0, 1.0)
    noise_sd: float = 0.003
    blur_px: float = 0.7
    motion_px: float = 0.0
    jpeg_quality: int = 92
    vignette: float = 0.0


@dataclass(frozen=True)
class Layout:
    """Where things lie in the picture.

    centre : Of the card, shares of width and height. card_width : Share of the picture's width.
    tilt : Perspective: shrink of the far edge.
    order : Which patch lies at each place, counted from 0; another order is another maker's card.
    cover : A hand over the card: share of the card, from its right, that is hidden.
    """

    width_px: int = 640
    height_px: int = 500
    centre: tuple[float, float] = (0.5, 0.66)
    card_width: float = 0.42
    turn_deg: float = 4.0
    tilt: float = 0.04
    mirrored: bool = False
    order: tuple[int, ...] = tuple(range(24))
    cover: float = 0.0
    cards: int = 1


@dataclass(frozen=True, eq=False)
class CardScene:
    """A scene to photograph. swatches : Reflectances of flat swatches in a row above the card. (n, wavelengths)."""

    light: Light = field(default_factory=Light)
    development: Development = field(default_factory=Development)
    layout: Layout = field(default_factory=Layout)
    swatches: FloatArray = field(default_factory=lambda: np.zeros((0, len(WAVELENGTHS_NM))))
    board: FloatArray = field(default_factory=lambda: GREY_BOARD)
    seed: int = 1


@dataclass(frozen=True, eq=False)
class Photographed:
    """The photograph, and where things lie in it.

    encoded_rgb : uint8, shape (rows, columns, 3). centres_px : x, y of the card's patches, shape (24, 2).
    swatch_boxes : left, top, right, bottom of each swatch's middle. shape (n, 4).
    """

    encoded_rgb: NDArray[np.uint8]
    centres_px: FloatArray
    swatch_boxes: NDArray[np.int64]

    def jpeg(self, quality: int = 95) -> bytes:
        """The bytes of a JPEG file without profile or EXIF."""
        return cv2.imencode(".jpg", self.encoded_rgb[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()

    def png(self) -> bytes:
        """The bytes of a PNG file."""
        return cv2.imencode(".png", self.encoded_rgb[:, :, ::-1])[1].tobytes()


def photograph(scene: CardScene) -> Photographed:
    """The scene as an 8-bit photograph that has been through one JPEG."""
    grid = card_map(scene.layout)
    surfaces, reflectances, boxes = _surfaces(scene, grid)
    sensor = _lit(scene, surfaces, reflectances)
    sensor = _seen(scene, sensor)
    encoded = _developed(scene, sensor)
    if scene.layout.mirrored:
        encoded = encoded[:, ::-1]
    quality = [cv2.IMWRITE_JPEG_QUALITY, scene.development.jpeg_quality]
    stored = cv2.imdecode(cv2.imencode(".jpg", np.ascontiguousarray(encoded[:, :, ::-1]), quality)[1], 1)[:, :, ::-1]
    centres = _project(grid, _places())
    if scene.layout.mirrored:
        centres[:, 0] = scene.layout.width_px - 1 - centres[:, 0]
    return Photographed(np.ascontiguousarray(stored), centres, boxes)


def card_map(layout: Layout) -> FloatArray:
    """Homography from the card's grid (patch 1 at 0, 0; pitch 1) to pixels. shape (3, 3)."""
    pitch = layout.card_width * layout.width_px / 6.5
    corners = np.array([[-0.7, -0.7], [5.7, -0.7], [5.7, 3.7], [-0.7, 3.7]])
    turn = np.radians(layout.turn_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([layout.centre[0] * layout.width_px, layout.centre[1] * layout.height_px])
    flat = (corners - [2.5, 1.5]) * pitch
    flat[:2, 0] *= 1 - layout.tilt
    flat[0, 1] += layout.tilt * pitch
    placed = (flat @ rotation.T + middle).astype(np.float32)
    return cv2.getPerspectiveTransform(corners.astype(np.float32), placed).astype(np.float64)


def _places() -> FloatArray:
    return np.array([[place % 6, place // 6] for place in range(24)], dtype=np.float64)


def _project(grid: FloatArray, places: FloatArray) -> FloatArray:
    homogeneous = np.c_[places, np.ones(len(places))] @ grid.T
    return homogeneous[:, :2] / homogeneous[:, 2:]


def _surfaces(scene: CardScene, grid: FloatArray) -> tuple[NDArray[np.uint8], FloatArray, NDArray[np.int64]]:
    """Which surface lies at each supersampled pixel, the surfaces' reflectances, and the swatches' boxes."""
    layout, k = scene.layout, SUPERSAMPLING
    picture = np.zeros((layout.height_px * k, layout.width_px * k), dtype=np.uint8)
    frame = np.full(len(WAVELENGTHS_NM), FRAME_REFLECTANCE)
    hand = np.interp(WAVELENGTHS_NM, [400, 480, 540, 580, 620, 700], [0.12, 0.20, 0.22, 0.25, 0.42, 0.52])
    reflectances = np.vstack([scene.board, frame, card_reflectances(), hand, scene.swatches])
    for copy in range(layout.cards):
        here = grid if copy == 0 else card_map(replace(layout, centre=(0.22, 0.25), card_width=0.3, turn_deg=-8))
        _paint(picture, here, np.array([[-0.7, -0.7], [5.7, -0.7], [5.7, 3.7], [-0.7, 3.7]]), 1)
        square = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * FILL / 2
        for place, patch in zip(_places(), layout.order, strict=True):
            _paint(picture, here, place + square, 2 + int(patch))
    if layout.cover > 0:
        left = 5.7 - 6.4 * layout.cover
        _paint(picture, grid, np.array([[left, -0.9], [6.5, -0.9], [6.5, 3.9], [left - 0.5, 3.9]]), 26)
    boxes = np.zeros((len(scene.swatches), 4), dtype=np.int64)
    for number in range(len(scene.swatches)):
        width = layout.width_px / (len(scene.swatches) + 1)
        left, right = (number + 0.6) * width, (number + 1.3) * width
        top, bottom = 0.06 * layout.height_px, 0.30 * layout.height_px
        picture[int(top * k) : int(bottom * k), int(left * k) : int(right * k)] = 27 + number
        boxes[number] = left + 0.2 * width, top + 12, right - 0.2 * width, bottom - 12
    return picture, reflectances, boxes


def _paint(picture: NDArray[np.uint8], grid: FloatArray, outline: FloatArray, surface: int) -> None:
    corners = (_project(grid, outline) + 0.5) * SUPERSAMPLING - 0.5
    cv2.fillPoly(picture, [np.rint(corners * 256).astype(np.int32)], surface, shift=8)


def _lit(scene: CardScene, surfaces: NDArray[np.uint8], reflectances: FloatArray) -> FloatArray:
    """What the sensor's channels would count, perfect white under the first lamp at 1. (rows, columns, 3)."""
    layout, light = scene.layout, scene.light
    size = layout.width_px, layout.height_px
    across = np.linspace(0, 1, layout.width_px)
    first = _balanced(scene, light.lamp, reflectances)
    picture = cv2.resize(first[surfaces].astype(np.float32), size, interpolation=cv2.INTER_AREA)
    if light.second_lamp is not None:
        second = _balanced(scene, light.second_lamp, reflectances)
        other = cv2.resize(second[surfaces].astype(np.float32), size, interpolation=cv2.INTER_AREA)
        share = (light.second_share * across)[None, :, None]
        picture = picture * (1 - share) + other * share
    picture = picture * (light.gradient**across)[None, :, None] + light.stray
    if light.glare_at is not None:
        y, x = np.mgrid[0 : layout.height_px, 0 : layout.width_px]
        away = np.hypot(x - light.glare_at[0] * layout.width_px, y - light.glare_at[1] * layout.height_px)
        picture = picture + (light.glare * np.exp(-np.square(away / (0.05 * layout.width_px))))[..., None]
    return picture


def _balanced(scene: CardScene, lamp_name: str, reflectances: FloatArray) -> FloatArray:
    """Camera light of surfaces under a lamp, balanced for the scene's first lamp. (n, 3)."""
    sensitivities = camera(scene.development.camera)
    white = sensitivities @ lamp(scene.light.lamp)
    power = lamp(lamp_name) * lamp(scene.light.lamp).sum() / lamp(lamp_name).sum()
    return reflectances * power @ sensitivities.T / white


def _seen(scene: CardScene, sensor: FloatArray) -> FloatArray:
    """Blur, movement, vignette and noise of lens and sensor."""
    development = scene.development
    if development.blur_px > 0:
        sensor = cv2.GaussianBlur(sensor, (0, 0), development.blur_px)
    if development.motion_px >= 1:
        length = int(development.motion_px)
        kernel = np.zeros((length, length), np.float32)
        kernel[np.arange(length), np.arange(length)] = 1 / length
        sensor = cv2.filter2D(sensor, -1, kernel)
    y, x = np.mgrid[-1 : 1 : sensor.shape[0] * 1j, -1 : 1 : sensor.shape[1] * 1j]
    sensor = sensor * (1 - development.vignette * (x**2 + y**2) / 2)[..., None]
    shot = np.random.default_rng(scene.seed).normal(size=sensor.shape)
    return sensor + development.noise_sd * np.sqrt(np.maximum(sensor, 0.02)) * shot


def _developed(scene: CardScene, sensor: FloatArray) -> NDArray[np.uint8]:
    """Balance, colour matrix, exposure, saturation, tone curve, sRGB, 8 bits."""
    development = scene.development
    gains = np.array([development.balance[0], 1.0, development.balance[1]])
    linear = np.maximum(sensor * gains, 0) @ camera_matrix(development.camera).T * development.exposure
    grey = linear @ np.array([0.2126, 0.7152, 0.0722])
    linear = grey[..., None] + development.saturation * (linear - grey[..., None])
    linear = np.clip(linear, 0, 1)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    # A smooth S through black, middle and white, as cameras lay over their pictures.
    curved = encoded + development.contrast * encoded * (1 - encoded) * (encoded - 0.5) * 1.2
    return np.rint(255 * np.clip(curved, 0, 1)).astype(np.uint8)


def camera_matrix(name: str) -> FloatArray:
    """Balanced camera light to linear sRGB: least squares over the card in daylight, neutrals kept. shape (3, 3)."""
    sensitivities, daylight = camera(name), lamp("D65")
    seen = card_reflectances() * daylight @ sensitivities.T / (sensitivities @ daylight)
    wanted = xyz_d65(card_reflectances()) @ SRGB_FROM_XYZ.T
    matrix = np.linalg.lstsq(seen, wanted, rcond=None)[0].T
    return matrix / matrix.sum(axis=1, keepdims=True)
