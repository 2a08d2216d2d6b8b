"""Remaining warmth: how far and in which direction a zone stands out from neutral hair of the same lightness."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from calibration.photo import BoolArray, FloatArray
from estimator.reading.zone_reading import NINE_IN_TEN, ZoneReading
from estimator.scale.appearance import Warmth

# A stage is named as possible when at least this share of what the reading allows lies in it.
POSSIBLE_SHARE = 0.10


@dataclass(frozen=True)
class Stage:
    """A stage of remaining warmth: hue angles from `hue_from_deg` up to, and without, `hue_to_deg`; chroma alike."""

    word: str
    hue_from_deg: float
    hue_to_deg: float
    source: str
    chroma_from: float = 0.0
    chroma_below: float = float("inf")

    def __post_init__(self) -> None:
        if not (self.word and self.source):
            raise ValueError("Every stage needs its word and its source.")

    def holds(self, chroma: FloatArray, hue_deg: FloatArray) -> BoolArray:
        """Whether hair of these colours is at this stage. Same shape in and out."""
        width = (self.hue_to_deg - self.hue_from_deg) % 360
        turned: BoolArray = (hue_deg - self.hue_from_deg) % 360 < width
        return turned & (self.chroma_from <= chroma) & (chroma < self.chroma_below)


@dataclass(frozen=True)
class Stages:
    """All stages, and the chroma below which hair is neutral."""

    least_chroma: float
    neutral: str
    stages: tuple[Stage, ...]

    def of(self, a_star: float, b_star: float) -> str:
        """The trade's word for this a*, b*."""
        shares = self.shares_of(np.array([[a_star, b_star]]), np.ones(1))
        return max(shares, key=lambda word: shares[word])

    def shares_of(self, ab: FloatArray, weight: FloatArray) -> dict[str, float]:
        """Weight that falls on each word. ab : a*, b*, shape (n, 2). weight : shape (n,)."""
        chroma = np.hypot(ab[:, 0], ab[:, 1])
        hue_deg = np.degrees(np.arctan2(ab[:, 1], ab[:, 0])) % 360
        free = chroma >= self.least_chroma
        shares = {self.neutral: float(weight[~free].sum())}
        for stage in self.stages:  # the first that holds has the word
            here = free & stage.holds(chroma, hue_deg)
            shares[stage.word] = shares.get(stage.word, 0.0) + float(weight[here].sum())
            free &= ~here
        return shares


@cache
def default_stages() -> Stages:
    """The stages in tables/stages.toml."""
    text = resources.files("estimator.scale").joinpath("tables", "stages.toml").read_text(encoding="utf-8")
    return stages_from_document(tomllib.loads(text))


def stages_from_document(document: Mapping[str, Any]) -> Stages:
    """The stages in a document of the form of stages.toml; ValueError for a row without its source."""
    if not document.get("neutral_source"):
        raise ValueError("The chroma below which hair is neutral needs its source.")
    stages = tuple(Stage(**row) for row in document["stage"])
    return Stages(float(document["least_chroma"]), str(document["neutral"]), stages)


def warmth_of(reading: ZoneReading, stages: Stages | None = None) -> Warmth:
    """Remaining warmth of a zone that was read, with its nine-in-ten intervals and every stage they reach into."""
    return warmth_of_colour(reading.lab_d65, reading.covariance, stages)


def warmth_of_colour(lab_d65: FloatArray, lab_covariance: FloatArray, stages: Stages | None = None) -> Warmth:
    """Remaining warmth of hair of this colour, read or predicted. Shapes (3,) and (3, 3)."""
    stages = stages or default_stages()
    centre, covariance = lab_d65[1:], lab_covariance[1:, 1:]
    chroma = float(np.hypot(*centre))
    outward = centre / chroma if chroma > 0 else np.array([1.0, 0.0])
    sideways = np.array([-outward[1], outward[0]])
    half_chroma, half_side = (NINE_IN_TEN * float(np.sqrt(axis @ covariance @ axis)) for axis in (outward, sideways))
    stage = stages.of(*centre)
    return Warmth(
        warmth_chroma=chroma,
        warmth_chroma_low=max(0.0, chroma - half_chroma),
        warmth_chroma_high=chroma + half_chroma,
        warmth_hue_deg=float(np.degrees(np.arctan2(centre[1], centre[0])) % 360),
        half_width_deg=float(np.degrees(np.arcsin(half_side / chroma))) if half_side < chroma else 180.0,
        stage=stage,
        other_stages=_others(centre, covariance, stages, stage),
    )


def _others(centre: FloatArray, covariance: FloatArray, stages: Stages, stage: str) -> tuple[str, ...]:
    """Other stages that the reading allows, the likeliest first."""
    values, vectors = np.linalg.eigh(covariance)
    steps = np.linspace(-2, 2, 17)
    first, second = (grid.ravel() for grid in np.meshgrid(steps, steps))
    weight = np.exp(-(first**2 + second**2) / 2)
    places = centre + np.column_stack([first, second]) * np.sqrt(np.maximum(values, 0)) @ vectors.T
    share = stages.shares_of(places, weight / weight.sum())
    likely = sorted(share, key=lambda word: (-share[word], word))
    return tuple(word for word in likely if word != stage and share[word] >= POSSIBLE_SHARE)
