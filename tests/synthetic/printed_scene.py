"""A photograph of the printed card, made from spectra."""

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.printed_layout import printed_layout
from tests.synthetic.card_scene import (
    FILL,
    CardScene,
    Development,
    Layout,
    Light,
    _balanced,
    _developed,
    _paint,
    _places,
    _seen,
    card_map,
)
from tests.synthetic.spectra import WAVELENGTHS_NM, FloatArray, card_reflectances, xyz_d65

K = 2  # supersampling


@dataclass(frozen=True)
class PrintedPlace:
    """Where the printed card lies. centre : shares of width and height. width : Share of the picture's width."""

    centre: tuple[float, float] = (0.5, 0.5)
    width: float = 0.5
    turn_deg: float = 3.0
    tilt: float = 0.04
    sheet: str = "A6"
    markers_hidden: tuple[int, ...] = ()
    cover_mm: tuple[float, float, float, float] | None = None  # left, top, right, bottom on the A6 sheet


@dataclass(frozen=True, eq=False)
class PrintedScene:
    """The printed card, with the 24-patch card beside it where `classic` says so, and flat swatches above."""

    light: Light = field(default_factory=Light)
    development: Development = field(default_factory=Development)
    layout: Layout = field(default_factory=lambda: Layout(width_px=900, height_px=700))
    place: PrintedPlace = field(default_factory=PrintedPlace)
    classic: bool = False
    swatches: FloatArray = field(default_factory=lambda: np.zeros((0, len(WAVELENGTHS_NM))))
    seed: int = 1


@dataclass(frozen=True, eq=False)
class PrintedPhotographed:
    """The photograph, the discs' true centres (patches, 2), and boxes inside the swatches (n, 4)."""

    encoded_rgb: NDArray[np.uint8]
    centres_px: FloatArray
    swatch_boxes: NDArray[np.int64]

    def png(self) -> bytes:
        return cv2.imencode(".png", self.encoded_rgb[:, :, ::-1])[1].tobytes()


def print_reflectances() -> FloatArray:
    """Reflectances of the discs: inks as the classic card's pigments, mixed to come near what the printer is asked for.

    The mixtures are invented; that they are smooth and no more than a print can be is all that matters. (41, n)
    """
    base = np.vstack([card_reflectances(), np.full(len(WAVELENGTHS_NM), 0.86), np.full(len(WAVELENGTHS_NM), 0.035)])
    base_rgb = np.clip(xyz_d65(base) @ np.linalg.inv(np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])).T, 0.001, None)  # fmt: skip
    discs = []
    for patch in printed_layout().patches:
        code = np.array(patch.srgb) / 255
        wanted = 0.82 * np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4) + 0.035
        weights = 1 / (np.square(np.log(base_rgb) - np.log(wanted)).sum(axis=1) + 0.02) ** 2
        discs.append(np.exp((weights / weights.sum()) @ np.log(base)))
    return np.array(discs)


def photograph_print(scene: PrintedScene) -> PrintedPhotographed:
    """The scene as an 8-bit photograph that has been through one JPEG."""
    layout = scene.layout
    to_photo = _print_map(scene)
    picture, reflectances, boxes = _surfaces(scene, to_photo)
    base = CardScene(scene.light, scene.development, layout, seed=scene.seed)
    first = _balanced(base, scene.light.lamp, reflectances)[picture].astype(np.float32)
    sensor = cv2.resize(first, (layout.width_px, layout.height_px), interpolation=cv2.INTER_AREA)
    across = np.linspace(0, 1, layout.width_px)
    sensor = sensor * (scene.light.gradient**across)[None, :, None] + scene.light.stray
    encoded = _developed(base, _seen(base, sensor))
    centres = _apply(to_photo, printed_layout().places_mm)
    if layout.mirrored:
        encoded = encoded[:, ::-1]
        centres[:, 0] = layout.width_px - 1 - centres[:, 0]
    quality = [cv2.IMWRITE_JPEG_QUALITY, scene.development.jpeg_quality]
    stored = cv2.imdecode(cv2.imencode(".jpg", np.ascontiguousarray(encoded[:, :, ::-1]), quality)[1], 1)[:, :, ::-1]
    return PrintedPhotographed(np.ascontiguousarray(stored), centres, boxes)


def _print_map(scene: PrintedScene) -> FloatArray:
    """Homography from millimetres of the A6 sheet to pixels."""
    place, layout = scene.place, scene.layout
    width = place.width * layout.width_px
    corners = np.array([[0.0, 0.0], [148.0, 0.0], [148.0, 105.0], [0.0, 105.0]])
    flat = (corners - [74.0, 52.5]) * width / 148
    flat[:2, 0] *= 1 - place.tilt
    turn = np.radians(place.turn_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([place.centre[0] * layout.width_px, place.centre[1] * layout.height_px])
    placed = (flat @ rotation.T + middle).astype(np.float32)
    return cv2.getPerspectiveTransform(corners.astype(np.float32), placed).astype(np.float64)


def _apply(homography: FloatArray, places: FloatArray) -> FloatArray:
    homogeneous = np.c_[places, np.ones(len(places))] @ homography.T
    return homogeneous[:, :2] / homogeneous[:, 2:]


def _surfaces(scene: PrintedScene, to_photo: FloatArray) -> tuple[NDArray[np.uint8], FloatArray, NDArray[np.int64]]:
    layout, printed = scene.layout, printed_layout()
    picture = np.zeros((layout.height_px * K, layout.width_px * K), dtype=np.uint8)
    flat = np.full(len(WAVELENGTHS_NM), 1.0)
    hand = np.interp(WAVELENGTHS_NM, [400, 480, 540, 580, 620, 700], [0.12, 0.20, 0.22, 0.25, 0.42, 0.52])
    discs = print_reflectances()
    paper = discs[printed.patch_names.index("paper")]
    fixed = np.vstack([0.30 * flat, 0.035 * flat, card_reflectances(), hand, paper, 0.04 * flat])  # 0, 1, 2-25, 26-28
    reflectances = np.vstack([fixed, discs, scene.swatches])
    if scene.classic:
        grid = card_map(layout)
        _paint(picture, grid, np.array([[-0.7, -0.7], [5.7, -0.7], [5.7, 3.7], [-0.7, 3.7]]), 1)
        square = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * FILL / 2
        for number, place in enumerate(_places()):
            _paint(picture, grid, place + square, 2 + number)
    _paint(picture, to_photo, np.array([[0.0, 0.0], [148.0, 0.0], [148.0, 105.0], [0.0, 105.0]]), 27)
    turns = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    ring = printed.disc_mm / 2 * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    for number, place in enumerate(printed.places_mm):
        _paint(picture, to_photo, place + ring, len(fixed) + number)
    _paint_markers(picture, to_photo, scene.place)
    if scene.place.cover_mm is not None:
        left, top, right, bottom = scene.place.cover_mm
        _paint(picture, to_photo, np.array([[left, top], [right, top], [right, bottom], [left, bottom]]), 26)
    boxes = np.zeros((len(scene.swatches), 4), dtype=np.int64)
    for number in range(len(scene.swatches)):
        width = layout.width_px / (len(scene.swatches) + 1)
        left, right = int((number + 0.6) * width), int((number + 1.3) * width)
        top, bottom = int(0.03 * layout.height_px), int(0.16 * layout.height_px)
        picture[top * K : bottom * K, left * K : right * K] = len(fixed) + len(discs) + number
        boxes[number] = left + 10, top + 10, right - 10, bottom - 10
    return picture, reflectances, boxes


def _paint_markers(picture: NDArray[np.uint8], to_photo: FloatArray, place: PrintedPlace) -> None:
    printed = printed_layout()
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    cell = printed.marker_mm / 6
    for number, marker in enumerate(printed.sheet(place.sheet).marker_ids):
        if number in place.markers_hidden:
            continue
        corner = printed.marker_corners_mm(number)[0]
        bits = cv2.aruco.generateImageMarker(dictionary, marker, 6)
        _paint(picture, to_photo, printed.marker_corners_mm(number), 28)
        for row, column in np.argwhere(bits > 127):
            square = np.array([[0.0, 0.0], [1, 0], [1, 1], [0, 1]]) + np.array([column, row])
            _paint(picture, to_photo, corner + cell * square, 27)


def at_width(width: float, photo_width_px: int) -> PrintedScene:
    """A card of this share of the picture's width."""
    layout = Layout(width_px=photo_width_px, height_px=photo_width_px * 3 // 4)
    return replace(PrintedScene(), layout=layout, place=PrintedPlace(width=width))
