"""Targets in the trade's words, and the region of CIELAB that counts as reaching them."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import BadInputError

DARK_LIGHTNESS, LIGHT_LIGHTNESS = 20.0, 68.0  # the two L* at which tables/tones.toml places each tone


@dataclass(frozen=True)
class Tone:
    """One tone: its words, where it lies on dark and on light hair, and how far round that still counts as it.

    dark_ab, light_ab : CIELAB a*, b* at L* 20 and at L* 68.
    along, across : Half axes of its ellipse, in the direction of the colour and across it. [CIELAB units]
    """

    name: str
    about: str
    dark_ab: tuple[float, float]
    light_ab: tuple[float, float]
    along: float
    across: float
    source: str

    def ab_at(self, lightness: float) -> FloatArray:
        """CIELAB a*, b* of this tone at that L*. shape (2,)."""
        share = np.clip((lightness - DARK_LIGHTNESS) / (LIGHT_LIGHTNESS - DARK_LIGHTNESS), 0, 1)
        ab: FloatArray = (1 - share) * np.array(self.dark_ab) + share * np.array(self.light_ab)
        return ab


def _load_tones() -> dict[str, Tone]:
    text = files("estimator.toning").joinpath("tables/tones.toml").read_text(encoding="utf-8")
    tones: dict[str, Tone] = {}
    for row in tomllib.loads(text)["tone"]:
        if not row.get("source"):
            raise ValueError(f"Tone {row['name']} has no source; a row without one does not load.")
        dark, light = tuple(row["dark"]), tuple(row["light"])
        tones[row["name"]] = Tone(row["name"], row["about"], dark, light, row["along"], row["across"], row["source"])
    return tones


TONES: dict[str, Tone] = _load_tones()


@dataclass(frozen=True)
class Target:
    """What a zone shall become: a level and a tone, in the trade's words.

    level : 1.0-10.0. tone : a key of TONES.
    """

    zone: str
    level: float
    tone: str

    def __post_init__(self) -> None:
        if self.tone not in TONES:
            raise BadInputError(f"{self.tone!r} is no tone this program knows. Choose one of: {', '.join(TONES)}.")
        if not 1 <= self.level <= 10:
            raise BadInputError(f"Level {self.level:g} asked for zone {self.zone!r}: choose a level from 1 to 10.")


@dataclass(frozen=True, eq=False)
class TargetRegion:
    """The ellipsoid of CIELAB that counts as reaching a target.

    centre_lab_d65 : Its middle. shape (3,).
    to_unit : Maps a distance from the middle to the unit sphere. shape (3, 3).
    """

    centre_lab_d65: FloatArray
    to_unit: FloatArray

    def holds(self, lab_d65: FloatArray) -> FloatArray:
        """Which colours lie inside. shape (..., 3) -> (...), 1.0 inside and 0.0 outside."""
        unit = (np.asarray(lab_d65, dtype=np.float64) - self.centre_lab_d65) @ self.to_unit.T
        inside: FloatArray = (np.sum(unit**2, axis=-1) <= 1).astype(np.float64)
        return inside


def target_region(tone: Tone, lightness: float, half_level_lightness: float) -> TargetRegion:
    """The region of a tone at that L*; `half_level_lightness` is what half a level amounts to there. [L* units]"""
    ab = tone.ab_at(lightness)
    length = float(np.hypot(*ab))
    direction = ab / length if length > 1e-9 else np.array([1.0, 0.0])
    to_unit = np.zeros((3, 3))
    to_unit[0, 0] = 1 / half_level_lightness
    to_unit[1, 1:] = direction / tone.along
    to_unit[2, 1:] = np.array([-direction[1], direction[0]]) / tone.across
    return TargetRegion(np.array([lightness, *ab]), to_unit)
