"""What a person says of the zones of one scene: outlines, strand patterns, swatches of known colour."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from estimator.zones.outline import Setting, StrandPattern

LabelPicture = NDArray[np.uint8] | NDArray[np.uint16]


@dataclass(frozen=True, eq=False)
class LabelledZones:
    """Zones as a label picture: each pixel holds the number of its zone, 0 where there is none.

    label_of : Number of each named zone.
    picture : uint8 or uint16, shape (rows, columns), read-only.
    """

    label_of: Mapping[str, int]
    picture: LabelPicture

    def __post_init__(self) -> None:
        self.picture.setflags(write=False)


@dataclass(frozen=True, eq=False)
class PolygonZones:
    """Zones as polygons, one or more for each. x, y in pixels of the upright photo, each of shape (points, 2)."""

    polygons_of: Mapping[str, tuple[NDArray[np.float64], ...]]


@dataclass(frozen=True, eq=False)
class ZoneSpec:
    """The zones of one scene: the same outlines hold for each of its photographs.

    strands : Strand pattern of the zones for which it was stated.
    known : L*, a*, b* (D65, 2°, as an instrument reads a flat tress) of the zones that are swatches of known colour.
    roots : x, y of the root end, for zones where it was pointed at. [px]
    neutral : x, y and radius of a neutral thing in the photographs. [px]
    wet : The hair was wet when it was photographed.
    photos, after : File names, where the description lists them.
    """

    setting: Setting
    outlines: LabelledZones | PolygonZones
    strands: Mapping[str, StrandPattern] = field(default_factory=dict)
    known: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    roots: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    neutral: tuple[float, float, float] | None = None
    wet: bool = False
    photos: tuple[str, ...] = ()
    after: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the zones, as the description orders them."""
        if isinstance(self.outlines, LabelledZones):
            return tuple(self.outlines.label_of)
        return tuple(self.outlines.polygons_of)
