"""The printed card as data: places of its patches and markers, and the colours that the printer is asked for."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from calibration.photo import FloatArray

PRINTED_CARD = "printed-card"  # key of the layout in sightings
KINDS = ("grey", "brown", "yellow", "orange", "saturated")
# Greys up to this lightness and browns lie where hair lies; the printer's order tells, not what it printed.
LIGHT_GREY_SRGB = 190


@dataclass(frozen=True)
class PrintedPatch:
    """One disc. x_mm, y_mm : Its centre on the A6 sheet. srgb : What the printer is asked for, never a reference."""

    name: str
    kind: str
    x_mm: float
    y_mm: float
    srgb: tuple[int, int, int]

    def __post_init__(self) -> None:
        if self.kind not in KINDS or len(self.srgb) != 3 or not all(0 <= code <= 255 for code in self.srgb):
            raise ValueError(f"Patch {self.name} needs a kind out of {KINDS} and three codes from 0 to 255.")


@dataclass(frozen=True)
class Sheet:
    """One size of the card. marker_ids : Clockwise from the upper left. A place p on A6 lies at offset + scale * p."""

    key: str
    size_mm: tuple[float, float]
    scale: float
    offset_mm: tuple[float, float]
    ruler_mm: int
    marker_ids: tuple[int, int, int, int]


@dataclass(frozen=True)
class PrintedLayout:
    """Everything that both sizes share, in millimetres of the A6 sheet."""

    name: str
    version: int
    disc_mm: float
    sampled_mm: float
    marker_mm: float
    marker_centres_mm: tuple[tuple[float, float], ...]
    sheets: tuple[Sheet, ...]
    patches: tuple[PrintedPatch, ...]

    def __post_init__(self) -> None:
        ids = [marker for sheet in self.sheets for marker in sheet.marker_ids]
        if len(set(ids)) != len(ids) or len(set(self.patch_names)) != len(self.patches):
            raise ValueError("Markers and patches of the printed card need names of their own.")

    @property
    def patch_names(self) -> tuple[str, ...]:
        return tuple(patch.name for patch in self.patches)

    @property
    def places_mm(self) -> FloatArray:
        """Centres of the patches. shape (patches, 2)."""
        return np.array([[patch.x_mm, patch.y_mm] for patch in self.patches])

    @property
    def greys(self) -> tuple[int, ...]:
        """Numbers of the grey patches, from 0, the one printed lightest first."""
        numbers = [number for number, patch in enumerate(self.patches) if patch.kind == "grey"]
        return tuple(sorted(numbers, key=lambda number: -self.patches[number].srgb[1]))

    @property
    def near_hair(self) -> tuple[int, ...]:
        """Numbers of the patches that lie where hair lies: browns, and greys that are not light."""
        return tuple(
            number
            for number, patch in enumerate(self.patches)
            if patch.kind == "brown" or (patch.kind == "grey" and patch.srgb[1] < LIGHT_GREY_SRGB)
        )

    def sheet(self, key: str) -> Sheet:
        """The sheet of this size. Raises ValueError for one that there is not."""
        for sheet in self.sheets:
            if sheet.key == key:
                return sheet
        raise ValueError(f"There is no sheet {key!r}; there are {', '.join(sheet.key for sheet in self.sheets)}.")

    def marker_corners_mm(self, place: int) -> FloatArray:
        """Corners of one marker's black square, clockwise from its upper left. shape (4, 2)."""
        square = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
        corners: FloatArray = np.array(self.marker_centres_mm[place]) + self.marker_mm / 2 * square
        return corners


@cache
def printed_layout() -> PrintedLayout:
    """The printed card's layout, version 1."""
    text = resources.files("calibration").joinpath("tables", "own_card.toml").read_text(encoding="utf-8")
    return _layout(tomllib.loads(text))


def _layout(document: dict[str, Any]) -> PrintedLayout:
    for row in (document, *document["sheet"], *document["patch"]):
        if not row.get("source"):
            raise ValueError("Every row of own_card.toml needs its source.")
    return PrintedLayout(
        name=document["name"],
        version=document["layout_version"],
        disc_mm=document["disc_mm"],
        sampled_mm=document["sampled_mm"],
        marker_mm=document["marker_mm"],
        marker_centres_mm=tuple((x, y) for x, y in document["marker_centres_mm"]),
        sheets=tuple(_sheet(row) for row in document["sheet"]),
        patches=tuple(_patch(row) for row in document["patch"]),
    )


def _sheet(row: dict[str, Any]) -> Sheet:
    width, height = row["size_mm"]
    x, y = row["offset_mm"]
    first, second, third, fourth = row["marker_ids"]
    return Sheet(row["key"], (width, height), row["scale"], (x, y), row["ruler_mm"], (first, second, third, fourth))


def _patch(row: dict[str, Any]) -> PrintedPatch:
    red, green, blue = row["srgb"]
    return PrintedPatch(row["name"], row["kind"], row["x_mm"], row["y_mm"], (red, green, blue))
