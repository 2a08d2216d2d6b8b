"""Where a printed card lies in a photograph: its four corner markers tell place, size, layout version and mirroring."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.cards.finding import eight_bit_bgr
from calibration.cards.geometry import project
from calibration.cards.printed_layout import PRINTED_CARD, PrintedLayout, Sheet, printed_layout
from calibration.cards.printed_paper import gap_light, hidden_discs
from calibration.cards.sighting import CardSighting
from calibration.photo import FloatArray, Photo

# Share of the photo's longer side that a marker's outline must have: 8 pixels a side in 4,000.
SMALLEST_OUTLINE_SHARE = 0.008
FEWEST_MARKERS = 3
# Copies that are searched: full size for small cards, half against noise and blur. A small photo is enlarged, and where
# only some markers are seen, the place round them: markers of 16 pixels are read when they are shown larger.
SEARCH_SCALES = (1.0, 0.5)
SMALL_PHOTO_PX = 1300
ENLARGED = 3.0
CARD_IN_MARKER_SIDES = 10.0  # the whole card lies within this distance of any of its markers
MOST_OPTIONS = 3
BROAD_MARKER_PX = 40.0  # larger markers don't get better by enlarging
# A flat card fits its markers to a fraction of a disc; a bent one or a wrong marker does not. [our assumption]
MOST_BEND = 0.25
_SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@dataclass(frozen=True, eq=False)
class PrintedSighting:
    """A printed card in a photograph.

    sighting : As of any card; `residual` is the misfit of the markers in disc radii.
    sheet : Which size of the card. to_photo : Homography from millimetres of the A6 sheet to pixels. shape (3, 3).
    markers : Which of the four markers were seen, clockwise from the upper left.
    """

    sighting: CardSighting
    sheet: Sheet
    to_photo: FloatArray
    markers: tuple[bool, ...]


@dataclass(frozen=True, eq=False)
class PrintedSearch:
    """What a search for the printed card came to.

    found : The card, or None. part : Markers of a card that is not whole enough, as sheet and number seen, or None.
    part_side_px : Side of the largest of those markers.
    """

    found: PrintedSighting | None
    part: tuple[Sheet, int] | None = None
    part_side_px: float = 0.0


@dataclass(frozen=True, eq=False)
class _Markers:
    """What looks like markers of one sheet, by their place: corners in pixels of the upright photo, each (4, 2).

    A disc may pass for a marker, so a place may have more than one; the card's plane decides.
    """

    sheet: Sheet
    corners_px: dict[int, list[FloatArray]]
    mirrored: bool

    @property
    def side_px(self) -> float:
        return max(
            float(np.sqrt(abs(cv2.contourArea(c.astype(np.float32)))))
            for quads in self.corners_px.values()
            for c in quads
        )


def search_printed_card(photo: Photo) -> PrintedSearch:
    """The printed card in the photograph, or what was seen of it."""
    grey = np.asarray(cv2.cvtColor(eight_bit_bgr(photo), cv2.COLOR_BGR2GRAY), dtype=np.uint8)
    best: PrintedSighting | None = None
    part: _Markers | None = None
    for look in _looks(grey):
        if part is None or len(look.corners_px) > len(part.corners_px):
            part = look
        found = _sighted(photo, look) if len(look.corners_px) >= FEWEST_MARKERS else None
        if found is not None and (best is None or _better(found, best)):
            best = found
        if best is not None and all(best.markers):
            break
    if best is not None or part is None:
        return PrintedSearch(best)
    return PrintedSearch(None, (part.sheet, len(part.corners_px)), part.side_px)


def _better(one: PrintedSighting, other: PrintedSighting) -> bool:
    return (sum(one.markers), -one.sighting.residual) > (sum(other.markers), -other.sighting.residual)


def _looks(grey: NDArray[np.uint8]) -> Iterator[_Markers]:
    """Markers of each sheet in copy after copy of the picture, cheap ones first."""
    scales = (*SEARCH_SCALES, ENLARGED) if max(grey.shape) <= SMALL_PHOTO_PX else SEARCH_SCALES
    for scale in scales:
        for mirrored in (False, True):
            for seen in _markers(grey, scale, mirrored):
                yield seen
                if len(seen.corners_px) < 4 and seen.side_px < BROAD_MARKER_PX:
                    yield from _closer(grey, seen)


def _closer(grey: NDArray[np.uint8], near: _Markers) -> Iterator[_Markers]:
    """Markers round those that were seen, enlarged."""
    reach = CARD_IN_MARKER_SIDES * near.side_px
    corners = np.concatenate([quad for quads in near.corners_px.values() for quad in quads])
    left, top = np.maximum(np.floor(corners.min(axis=0) - reach), 0).astype(int)
    right, bottom = np.ceil(corners.max(axis=0) + reach).astype(int)
    corner = np.array([left, top], dtype=np.float64)
    cut = np.ascontiguousarray(grey[top:bottom, left:right])
    for seen in _markers(cut, ENLARGED, near.mirrored):
        if seen.sheet is near.sheet:
            yield replace(
                seen, corners_px={at: [quad + corner for quad in quads] for at, quads in seen.corners_px.items()}
            )


def _markers(grey: NDArray[np.uint8], scale: float, mirrored: bool) -> list[_Markers]:
    """Markers of each sheet that are seen at one size of the picture."""
    copy = grey
    if scale != 1:
        how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        copy = np.asarray(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=how), dtype=np.uint8)
    if mirrored:
        copy = np.ascontiguousarray(copy[:, ::-1])
    corners, ids, _ = _detector().detectMarkers(copy)
    if ids is None:
        return []
    found = []
    for sheet in printed_layout().sheets:
        mine: dict[int, list[FloatArray]] = {}
        for quad, marker in zip(corners, ids.ravel(), strict=True):
            if int(marker) in sheet.marker_ids:
                there = _in_photo(quad.reshape(4, 2), copy, scale, mirrored)
                mine.setdefault(sheet.marker_ids.index(int(marker)), []).append(there)
        if mine:
            found.append(_Markers(sheet, mine, mirrored))
    return found


def _in_photo(corners: NDArray[Any], copy: NDArray[np.uint8], scale: float, mirrored: bool) -> FloatArray:
    """Corners in pixels of the upright photo. Pixel centres are whole numbers: hence the halves."""
    places: FloatArray = corners.astype(np.float64)
    if mirrored:
        places[:, 0] = copy.shape[1] - 1 - places[:, 0]
    in_photo: FloatArray = (places + 0.5) / scale - 0.5
    return in_photo


def _detector() -> cv2.aruco.ArucoDetector:
    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = SMALLEST_OUTLINE_SHARE
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    # A window wider than half a small marker would run into its neighbour's edge.
    settings.relativeCornerRefinmentWinSize = 0.2
    # Blur eats into small cells: only their middles are read, and one cell may be wrong. That the markers lie on one
    # plane as the card's do is checked afterwards.
    settings.perspectiveRemoveIgnoredMarginPerCell = 0.3
    settings.perspectiveRemovePixelPerCell = 10
    settings.maxErroneousBitsInBorderRate = 0.5
    settings.errorCorrectionRate = 1.0
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return cv2.aruco.ArucoDetector(dictionary, settings)


def _sighted(photo: Photo, seen: _Markers) -> PrintedSighting | None:
    """The sighting that these markers make; None where no three of them lie as the card's do."""
    layout = printed_layout()
    fits = [fit for marked in _sets(seen) if (fit := _fitted(layout, marked, seen.mirrored)) is not None]
    if not fits:
        return None
    most = max(len(marked) for marked, _, _ in fits)
    marked, to_photo, residual = min((fit for fit in fits if len(fit[0]) == most), key=lambda fit: fit[2])
    sighting = CardSighting(
        PRINTED_CARD,
        project(to_photo, _outline_mm(layout)),
        patch_quads(layout, to_photo),
        seen.mirrored,
        residual,
        hidden_discs(gap_light(photo, to_photo)),
    )
    return PrintedSighting(sighting, seen.sheet, to_photo, tuple(place in marked for place in range(4)))


def _sets(seen: _Markers) -> Iterator[dict[int, FloatArray]]:
    """Every choice of three or four markers, one for each place."""
    options = [[(place, quad) for quad in quads[:MOST_OPTIONS]] for place, quads in sorted(seen.corners_px.items())]
    for count in range(FEWEST_MARKERS, len(options) + 1):
        for chosen in combinations(options, count):
            yield from (dict(marked) for marked in product(*chosen))


def _fitted(
    layout: PrintedLayout, marked: dict[int, FloatArray], mirrored: bool
) -> tuple[dict[int, FloatArray], FloatArray, float] | None:
    """The markers, the homography from the A6 sheet, and the misfit in disc radii; None where it is no card."""
    on_card = np.concatenate([layout.marker_corners_mm(place) for place in marked])
    in_photo = np.concatenate(list(marked.values()))
    homography, _ = cv2.findHomography(on_card, in_photo, 0)
    if homography is None or abs(np.linalg.det(homography)) < 1e-12:
        return None
    to_photo = np.asarray(homography, dtype=np.float64)
    missed_mm = np.linalg.norm(
        project(np.asarray(np.linalg.inv(to_photo), dtype=np.float64), in_photo) - on_card, axis=1
    )
    residual = float(np.sqrt(np.square(missed_mm).mean()) / (layout.disc_mm / 2))
    turned = cv2.contourArea(project(to_photo, _outline_mm(layout)).astype(np.float32), True) < 0
    return (marked, to_photo, residual) if residual <= MOST_BEND and turned == mirrored else None


def patch_quads(layout: PrintedLayout, to_photo: FloatArray) -> FloatArray:
    """The square inside each disc that is measured, in pixels. shape (patches, 4, 2)."""
    squares = layout.places_mm[:, None, :] + layout.sampled_mm / 2 * _SQUARE
    return project(to_photo, np.asarray(squares, dtype=np.float64))


def patch_pitch_px(seen: PrintedSighting) -> float:
    """Distance between neighbouring discs, the shorter of across and down."""
    middle = np.array([74.0, 52.5])
    steps = np.array([[0.0, 0.0], [15.0, 0.0], [0.0, 15.0]]) + middle
    places = project(seen.to_photo, steps)
    return float(np.linalg.norm(places[1:] - places[0], axis=1).min())


def _outline_mm(layout: PrintedLayout) -> FloatArray:
    """Outer corners of the markers: upper left, upper right, lower right, lower left. shape (4, 2)."""
    return np.array([layout.marker_corners_mm(place)[place] for place in range(4)])
