"""Targets in the trade's words, and the region of CIELAB that counts as reaching them."""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from importlib.resources import files

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import BadInputError
from estimator.scale.level import LevelScale, level_of_colour, lightness_of_level

Scale = LevelScale | None  # None: the default scale
ALIKE_LAB = 3.0  # colours this near to each other look alike on hair; our assumption. [CIELAB units]
NINE_IN_TEN_OF_THREE = 6.251  # chi-squared with three degrees of freedom
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


class TargetKind(StrEnum):
    """How a target was wished for."""

    IN_WORDS = "level and tone"
    LIKE_ZONE = "like another zone"
    PICKED = "picked on a photo"
    LIGHTEST = "as light as possible"


@dataclass(frozen=True)
class Target:
    """What a zone shall become: a level and a tone, in the trade's words, or a colour that was read.

    level : 1.0-10.0. tone : a key of TONES; of a colour that was read, the nearest. With LIGHTEST the zone's own level
        until the shelf is known, and the tone than which it shall be no warmer.
    said : How it was wished where level and tone don't say it, such as "like the crown".
    region : What counts as reaching it; None where level and tone say it.
    """

    zone: str
    level: float
    tone: str
    kind: TargetKind = TargetKind.IN_WORDS
    said: str = ""
    region: TargetRegion | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if self.tone not in TONES:
            raise BadInputError(f"{self.tone!r} is no tone this program knows. Choose one of: {', '.join(TONES)}.")
        if not 1 <= self.level <= 10:
            raise BadInputError(f"Level {self.level:g} asked for zone {self.zone!r}: choose a level from 1 to 10.")


def like_zone(zone: str, other: str, lab_d65: FloatArray, covariance: FloatArray, scale: Scale = None) -> Target:
    """The target that a zone shall read as another one does; its region holds what that reading allows."""
    return _read_target(zone, (TargetKind.LIKE_ZONE, f"like {other}"), (lab_d65, covariance), scale)


def picked(zone: str, where: str, lab_d65: FloatArray, covariance: FloatArray, scale: Scale = None) -> Target:
    """The target that was picked on a photograph. where : Such as "on the picture she brought"."""
    return _read_target(zone, (TargetKind.PICKED, f"as picked {where}"), (lab_d65, covariance), scale)


def lightest(zone: str, own_level: float, no_warmer_than: str) -> Target:
    """The target "as light as possible, no warmer than this tone"; its region waits for the shelf."""
    said = f"as light as possible, no warmer than {no_warmer_than}"
    return Target(zone, min(max(own_level, 1.0), 10.0), no_warmer_than, TargetKind.LIGHTEST, said)


def region_of(target: Target, scale: Scale = None) -> TargetRegion:
    """The colours that count as reaching a target."""
    if target.region is not None:
        return target.region
    level = target.level
    half_level = (lightness_of_level(level + 0.5, scale) - lightness_of_level(level - 0.5, scale)) / 2
    return target_region(TONES[target.tone], lightness_of_level(level, scale), half_level)


def nearest_tone(lab_d65: FloatArray, among: Iterable[str] = ()) -> str:
    """The tone that hair of this colour lies nearest to."""
    lightness, ab = float(lab_d65[0]), np.asarray(lab_d65)[1:]
    return min(among or TONES, key=lambda word: float(np.linalg.norm(TONES[word].ab_at(lightness) - ab)))


def _read_target(
    zone: str, wished: tuple[TargetKind, str], read: tuple[FloatArray, FloatArray], scale: Scale
) -> Target:
    lab, covariance = (np.asarray(one, dtype=np.float64) for one in read)
    if not (np.all(np.isfinite(lab)) and np.all(np.isfinite(covariance))):
        raise BadInputError(f"The colour that {zone!r} shall have was not read. Read it again, or choose a tone.")
    level = min(max(level_of_colour(lab, covariance, scale).level, 1.0), 10.0)
    shape = ALIKE_LAB**2 * np.eye(3) + NINE_IN_TEN_OF_THREE * covariance
    region = TargetRegion(lab, np.linalg.inv(np.linalg.cholesky(shape)))
    return Target(zone, level, nearest_tone(lab), *wished, region)


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
