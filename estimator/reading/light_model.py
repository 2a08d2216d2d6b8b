"""How hair in a photograph looks against the same hair flat in an instrument: the fitted coefficients.

For a zone of hair whose flat tress reads t (in hair_u), the light seen is

    (t, 0) + middle + terms(t) @ bend + offset and slope of the strand pattern + light at the zone @ surroundings
        + shift of the photo + scatter of the zone

The first three numbers are hair_u in the photo; the others are the statistics of zone_light that the setting uses.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from calibration.photo import FloatArray
from estimator.reading.zone_light import ZoneLight
from estimator.zones.outline import Setting, StrandPattern

TERMS = 6
MIDDLE_LIGHT = -2.0  # log green of hair in the middle of the renders; keeps the terms apart


@dataclass(frozen=True, eq=False)
class LightModel:
    """Coefficients of one setting. `seen` is 3 plus the number of features used.

    features : Which of ZoneLight.features are used.
    middle : shape (seen,).
    bend : shape (TERMS, seen).
    strand_offset : For each strand pattern, shape (seen,).
    strand_slope : For each strand pattern, per unit of the tress's own light. shape (seen,).
    surroundings : Per unit of what is known of the light at the zone. shape (known, seen).
    surroundings_covariance : Of the same, for photos where it can't be seen. shape (known, known).
    surroundings_middle : Its mean, taken where it can't be seen. shape (known,).
    photo_covariance : Of the shift of hair_u that all zones of one photo share. shape (3, 3).
    zone_covariance : Of the scatter of single zones. shape (seen, seen).
    light_range : Log green of the darkest and the lightest flat tress that the fit saw.
    same_light : Correlation of the errors of two photos of the same hair in hair_u, where light falls on it alike;
        the first number times `likeness` to the power `likeness_power`, the others as they stand. shape (3,).
    likeness_power : See likeness in joint.py.
    same_hair : Correlation of the errors in L*, a*, b* of two photos of the same hair. shape (3,).
    before_after : The same between a photo before and one after toning, the hair lying as it lay. shape (3,).
    """

    features: tuple[int, ...]
    middle: FloatArray
    bend: FloatArray
    strand_offset: Mapping[StrandPattern, FloatArray]
    strand_slope: Mapping[StrandPattern, FloatArray]
    surroundings: FloatArray
    surroundings_covariance: FloatArray
    surroundings_middle: FloatArray
    photo_covariance: FloatArray
    zone_covariance: FloatArray
    light_range: tuple[float, float]
    same_light: FloatArray
    likeness_power: float
    same_hair: FloatArray
    before_after: FloatArray

    def __post_init__(self) -> None:
        seen = 3 + len(self.features)
        if self.bend.shape != (TERMS, seen) or not set(StrandPattern) == set(self.strand_offset) == set(
            self.strand_slope
        ):
            raise ValueError(f"A light model needs {TERMS} terms and an offset and slope for every strand pattern.")
        for covariance, size in ((self.photo_covariance, 3), (self.zone_covariance, seen)):
            if covariance.shape != (size, size) or np.linalg.eigvalsh(covariance)[0] <= 0:
                raise ValueError("A light model needs positive covariances of the right size.")

    def seen(self, light: ZoneLight) -> FloatArray:
        """What the model looks at in a zone. shape (seen,)."""
        return np.concatenate([light.hair_u, light.features[list(self.features)]])

    def expected(self, hair_u: FloatArray, pattern: StrandPattern) -> FloatArray:
        """What is seen of tresses that read `hair_u`, before any shift. shape (kernels, seen)."""
        inside = self.held(hair_u)
        expected = self.middle + self.strand_offset[pattern] + terms(inside) @ self.bend
        expected += inside[:, :1] * self.strand_slope[pattern]
        expected[:, :3] += hair_u
        return expected

    def slope(self, hair_u: FloatArray, pattern: StrandPattern) -> FloatArray:
        """Derivative of `expected` by hair_u. shape (kernels, seen, 3)."""
        light, red, blue = self.held(hair_u).T
        inside = (hair_u[:, 0] >= self.light_range[0]) & (hair_u[:, 0] <= self.light_range[1])
        none, one = np.zeros_like(light), np.ones_like(light)
        by_light = np.stack([one, none, none, 2 * light, blue, red], axis=1) @ self.bend + self.strand_slope[pattern]
        by_red = np.stack([none, one, none, none, none, light], axis=1) @ self.bend
        by_blue = np.stack([none, none, one, none, light, none], axis=1) @ self.bend
        slope = np.stack([by_light * inside[:, None], by_red, by_blue], axis=2)
        slope[:, :3] += np.eye(3)
        return slope

    def held(self, hair_u: FloatArray) -> FloatArray:
        """Coordinates with the light held inside what the fit saw: outside it the terms stay as at its border."""
        return held(hair_u, self.light_range)


def held(hair_u: FloatArray, light_range: tuple[float, float]) -> FloatArray:
    """hair_u with its light inside `light_range`, counted from MIDDLE_LIGHT. shape (..., 3)."""
    inside = hair_u.copy()
    inside[..., 0] = np.clip(hair_u[..., 0], *light_range) - MIDDLE_LIGHT
    return inside


def terms(held_u: FloatArray) -> FloatArray:
    """The terms of `bend`: light, red, blue, light squared, light times blue, light times red. shape (..., TERMS)."""
    light, red, blue = held_u[..., 0], held_u[..., 1], held_u[..., 2]
    return np.stack([light, red, blue, light * light, light * blue, light * red], axis=-1)


@cache
def light_models() -> Mapping[Setting, LightModel]:
    """The shipped coefficients, from tables/light_model.toml."""
    text = resources.files("estimator.reading").joinpath("tables", "light_model.toml").read_text(encoding="utf-8")
    return from_document(tomllib.loads(text))


def from_document(document: Mapping[str, Any]) -> Mapping[Setting, LightModel]:
    """The models in a document of the form of light_model.toml. ValueError where script or data are not named."""
    if not (document.get("script") and document.get("data") and document.get("source")):
        raise ValueError("Fitted coefficients must name the script and the data that made them, and a source.")
    return {setting: _from_table(document[setting]) for setting in Setting}


ARRAYS = (
    "middle", "bend", "surroundings", "surroundings_covariance", "surroundings_middle",
    "photo_covariance", "zone_covariance", "same_light", "same_hair", "before_after",
)  # fmt: skip


def _from_table(table: Mapping[str, Any]) -> LightModel:
    return LightModel(
        features=tuple(table["features"]),
        strand_offset={pattern: np.array(table["strand_offset"][pattern], np.float64) for pattern in StrandPattern},
        strand_slope={pattern: np.array(table["strand_slope"][pattern], np.float64) for pattern in StrandPattern},
        likeness_power=float(table["likeness_power"]),
        light_range=(float(table["light_range"][0]), float(table["light_range"][1])),
        **{name: np.array(table[name], dtype=np.float64) for name in ARRAYS},
    )
