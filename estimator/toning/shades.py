"""Shades and the shelf they stand on: each shade is known by what it does to white hair."""

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

from estimator.errors import BadInputError


class Family(StrEnum):
    """Direction of a shade's colour, in the trade's plain words."""

    VIOLET = "violet"
    BLUE_VIOLET = "blue-violet"
    BLUE = "blue"
    GREEN = "green"
    ASH = "ash"
    PEARL = "pearl"
    NEUTRAL = "neutral"
    BEIGE = "beige"
    GOLD = "gold"
    COPPER = "copper"
    RED = "red"
    BROWN = "brown"
    CLEAR = "clear"


class ShadeKind(StrEnum):
    """Class of colourant; shades of different kinds never share a bowl."""

    SEMI_PERMANENT = "semi-permanent"
    DEMI_ACIDIC = "demi-permanent acidic"
    DEMI_ALKALINE = "demi-permanent alkaline"
    PERMANENT = "permanent"


class KnownBy(StrEnum):
    """How the colour of a shade on white hair is known; the surest first."""

    INSTRUMENT = "instrument"
    PHOTO = "photo"
    DESCRIPTION = "description"


Lab = tuple[float, float, float]
Covariance = tuple[Lab, Lab, Lab]
EXACT: Covariance = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Shade:
    """One shade, as mixed by its maker's instructions and left its full time on white hair.

    depth_level : Level that the label promises. 1-10.
    lab_d65_on_white : CIELAB, D65, 2°, of white hair after one full part of it.
    price_per_tube : In the salon's own currency; None where nobody entered it.
    tube_grams : Contents of a tube or bottle. [g]; None where nobody entered it.
    demo : Invented, for demonstration.
    strength : Factor on its dye that results have taught; 1 where nothing was learned.
    lab_covariance : How unsure that colour is; EXACT for one typed in from an instrument.
    """

    name: str
    family: Family
    depth_level: float
    kind: ShadeKind
    lab_d65_on_white: Lab
    price_per_tube: float | None = None
    tube_grams: float | None = None
    demo: bool = False
    strength: float = 1.0
    lab_covariance: Covariance = EXACT
    known_by: KnownBy = KnownBy.INSTRUMENT

    @property
    def doubt(self) -> float:
        """How unsure its colour on white hair is, one standard deviation over all three axes. [CIELAB units]"""
        return math.sqrt(sum(row[place] for place, row in enumerate(self.lab_covariance)))

    @property
    def price_per_gram(self) -> float | None:
        """Price of a gram; None where price or contents are unknown."""
        if self.price_per_tube is None or not self.tube_grams:
            return None
        return self.price_per_tube / self.tube_grams


@dataclass(frozen=True)
class Shelf:
    """The shades a salon has, and the white hair on which they were judged.

    white_lab_d65 : CIELAB, D65, 2°, of that white hair, bare.
    """

    shades: tuple[Shade, ...]
    white_lab_d65: Lab
    name: str
    demo: bool = False

    def __post_init__(self) -> None:
        names = [shade.name for shade in self.shades]
        if len(set(names)) < len(names):
            raise BadInputError("Two shades on the shelf bear the same name. Give each its own.")

    def shade(self, name: str) -> Shade:
        """The shade of this name; BadInputError where the shelf has none."""
        for shade in self.shades:
            if shade.name == name:
                return shade
        held = ", ".join(shade.name for shade in self.shades)
        raise BadInputError(f"No shade on the shelf is called {name!r}. It holds: {held}.")


@cache
def demo_shelf() -> Shelf:
    """A shelf of invented shades, for demonstration: no shade of any maker."""
    from estimator.toning.shelf_file import load_shelf

    text = files("estimator.toning").joinpath("tables/demo_shelf.csv").read_text(encoding="utf-8")
    return load_shelf(text, name="demo shelf", demo=True)
