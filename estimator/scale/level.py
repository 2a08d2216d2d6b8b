"""Level of hair from its lightness, through a scale that says what it is."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.zone_reading import NINE_IN_TEN, ZoneReading
from estimator.scale.appearance import Level


@dataclass(frozen=True)
class LevelScale:
    """Lightness of each level, piecewise linear between them.

    levels, lightness : Both rising. Lightness is CIE L*, D65, 2°, of a flat tress in a d:8 instrument.
    lightness_sd : How well each row is known; left out, every row is taken as it stands. [L* units]
    """

    name: str
    levels: tuple[float, ...]
    lightness: tuple[float, ...]
    lightness_sd: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.lightness_sd:
            object.__setattr__(self, "lightness_sd", (0.0,) * len(self.levels))
        rising = all(np.all(np.diff(column) > 0) for column in (self.levels, self.lightness))
        if len(self.levels) != len(self.lightness) or len(self.levels) < 2 or not rising:
            raise ValueError(f"The scale {self.name} needs two rows or more, level and lightness rising together.")
        if len(self.lightness_sd) != len(self.levels) or not all(0 <= sd < np.inf for sd in self.lightness_sd):
            raise ValueError(f"The scale {self.name} needs one lightness_sd, 0 or more, for each row.")

    def sd_at(self, lightness: float) -> float:
        """How well the scale is known at this lightness; beyond its ends as at them. [L* units]"""
        return float(np.interp(lightness, self.lightness, self.lightness_sd))


@cache
def default_scale() -> LevelScale:
    """The scale in tables/default_scale.toml: an assumption until a salon fits it to its own swatches."""
    text = resources.files("estimator.scale").joinpath("tables", "default_scale.toml").read_text(encoding="utf-8")
    return scale_from_document(tomllib.loads(text))


def scale_from_document(document: Mapping[str, Any]) -> LevelScale:
    """The scale in a document of the form of default_scale.toml; ValueError for a row without its source."""
    rows = document["row"]
    if not all(row.get("source") for row in rows):
        raise ValueError("Every row of a level scale needs its source.")
    levels, lightness = (tuple(float(row[key]) for row in rows) for key in ("level", "lightness"))
    lightness_sd = tuple(float(row.get("lightness_sd", 0.0)) for row in rows)
    return LevelScale(str(document["name"]), levels, lightness, lightness_sd)


def level_of(reading: ZoneReading, scale: LevelScale | None = None) -> Level:
    """Level of a zone that was read, with its nine-in-ten interval."""
    return level_of_colour(reading.lab_d65, reading.covariance, scale)


def level_of_colour(lab_d65: FloatArray, covariance: FloatArray, scale: LevelScale | None = None) -> Level:
    """Level of hair of this colour, read or predicted, with its nine-in-ten interval.

    lab_d65, covariance : CIELAB as a flat tress would read, and its covariance. float64, shapes (3,) and (3, 3).
    Both ends are mapped, so the interval is not symmetric. What the scale itself does not know widens it.
    """
    scale = scale or default_scale()
    lightness = float(lab_d65[0])
    half = NINE_IN_TEN * float(np.hypot(np.sqrt(covariance[0, 0]), scale.sd_at(lightness)))
    level, low, high = (
        float(np.interp(value, scale.lightness, scale.levels))
        for value in (lightness, lightness - half, lightness + half)
    )
    return Level(level, low, high, _beyond(lightness, scale), scale.name)


def lightness_of_level(level: float, scale: LevelScale | None = None) -> float:
    """L* of hair of this level; beyond the scale's ends as at them."""
    scale = scale or default_scale()
    return float(np.interp(level, scale.levels, scale.lightness))


def _beyond(lightness: float, scale: LevelScale) -> str:
    if lightness > scale.lightness[-1]:
        return f"lighter than {scale.levels[-1]:g}"
    if lightness < scale.lightness[0]:
        return f"darker than {scale.levels[0]:g}"
    return ""
