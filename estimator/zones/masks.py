"""From what a person drew to the pixels of each zone: label pictures and polygons end as the same masks."""

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.photo import BoolArray, Box
from estimator.errors import BadInputError
from estimator.zones.outline import Zone
from estimator.zones.specification import LabelledZones, ZoneSpec

# A finger draws past the border of the picture; this far is forgiven and cut off.
FORGIVEN_PX = 2.0


def labelled_zones(spec: ZoneSpec, outlines: LabelledZones, height_px: int, width_px: int) -> tuple[Zone, ...]:
    """The zones of a label picture; those without a pixel are left out. Raises BadInputError where sizes differ."""
    rows, columns = outlines.picture.shape
    if (rows, columns) != (height_px, width_px):
        raise BadInputError(
            f"The label picture has {columns} x {rows} pixels, the photo {width_px} x {height_px}. "
            "Paint the zones on a copy of this photo."
        )
    found = []
    for name, number in outlines.label_of.items():
        box = _box_of(np.equal(outlines.picture, number))
        if box is not None:
            found.append(zone_from_mask(spec, name, box, np.equal(outlines.picture[box.slices], number)))
    return tuple(found)


def polygon_zone(
    spec: ZoneSpec, name: str, polygons: tuple[NDArray[np.float64], ...], height_px: int, width_px: int
) -> Zone | None:
    """The zone inside these polygons (borders count), or None where they hold no pixel. Raises BadInputError."""
    polygons = tuple(clipped_polygon(f"the outline of {name}", polygon, height_px, width_px) for polygon in polygons)
    points = np.concatenate(polygons)
    left, top = np.maximum(np.floor(points.min(0)), 0).astype(int)
    right, bottom = np.minimum(np.ceil(points.max(0)) + 1, [width_px, height_px]).astype(int)
    if right <= left or bottom <= top:
        return None
    box = Box(int(top), int(left), int(bottom), int(right))
    drawn = np.zeros((box.height_px, box.width_px), dtype=np.uint8)
    # Each piece on its own: filled together, overlapping pieces would cancel out.
    for polygon in polygons:
        cv2.fillPoly(drawn, [np.rint(polygon - [box.left, box.top]).astype(np.int32)], 1)
    tight = _box_of(drawn.view(np.bool_))
    if tight is None:
        return None
    whole = Box(box.top + tight.top, box.left + tight.left, box.top + tight.bottom, box.left + tight.right)
    return zone_from_mask(spec, name, whole, drawn[tight.slices].astype(bool))


def outer_borders(mask: BoolArray, left_px: int = 0, top_px: int = 0) -> tuple[tuple[tuple[float, float], ...], ...]:
    """The outlines of a mask, one for each of its pieces, through the middle of their outermost pixels; holes are lost.

    left_px, top_px : Where the mask's first pixel lies in the photograph.
    """
    found, _ = cv2.findContours(
        np.ascontiguousarray(mask, dtype=np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE, offset=(left_px, top_px)
    )
    return tuple(_at_least_three(tuple((float(x), float(y)) for x, y in border[:, 0, :])) for border in found)


def _at_least_three(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """The points, the last of them repeated where a pixel or a line of pixels has too few for an outline."""
    return points + points[-1:] * (3 - len(points))


def clipped_polygon(what: str, points_px: NDArray[np.float64], height_px: int, width_px: int) -> NDArray[np.float64]:
    """The polygon with what a finger drew past the border cut off. Raises BadInputError where it leaves the photo."""
    points = np.asarray(points_px, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3 or not np.isfinite(points).all():
        raise BadInputError(f"{what[0].upper()}{what[1:]} is no outline. Draw at least 3 points.")
    size = np.array([width_px, height_px])
    outside = (points < -FORGIVEN_PX).any(axis=1) | (points > size + FORGIVEN_PX).any(axis=1)
    if outside.any():
        x_px, y_px = points[outside][0]
        raise BadInputError(
            f"{what[0].upper()}{what[1:]} leaves the photo ({width_px} x {height_px} pixels) at {x_px:g}, {y_px:g}. "
            "Draw it inside the photo."
        )
    return np.clip(points, 0, size)


def zone_from_mask(spec: ZoneSpec, name: str, box: Box, mask: BoolArray) -> Zone:
    """The zone with all that `spec` says of it."""
    return Zone(
        name=name,
        box=box,
        mask=np.ascontiguousarray(mask),
        setting=spec.setting,
        strand_pattern=spec.strands.get(name),
        known_lab_d65=spec.known.get(name),
        root_px=spec.roots.get(name),
    )


def _box_of(mask: BoolArray) -> Box | None:
    """The smallest box round the set pixels, or None where there are none."""
    left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
    return Box(top, left, top + height, left + width) if width and height else None
