"""Measured colours as plain values, whichever file they came from: one name, one CIELAB, how sure it is."""

import math
from dataclasses import dataclass
from enum import StrEnum

from estimator.errors import BadInputError

MOST_COLOURS = 5_000
LONGEST_NAME = 200
Lab = tuple[float, float, float]
Bounds = tuple[float, float, float]  # a value with its nine-in-ten interval: value, low, high


class Illuminant(StrEnum):
    """The light that colours were computed for; others are refused, since nothing here adapts them well."""

    D50 = "D50"
    D65 = "D65"


@dataclass(frozen=True)
class Conditions:
    """For which light and which eye colours stand; None where the file does not say.

    observer_deg : 2 or 10.
    """

    illuminant: Illuminant | None = None
    observer_deg: int | None = None

    def filled_by(self, given: "Conditions") -> "Conditions":
        """The same, with what is missing taken from what a person said. Raises BadInputError where they differ."""
        for mine, theirs in ((self.illuminant, given.illuminant), (self.observer_deg, given.observer_deg)):
            if mine is not None and theirs is not None and mine != theirs:
                raise BadInputError(f"The file says {mine}, the option says {theirs}. Leave the option out.")
        return Conditions(self.illuminant or given.illuminant, self.observer_deg or given.observer_deg)


@dataclass(frozen=True)
class MeasuredColour:
    """One colour.

    lab_d65 : CIELAB, D65, 2°.
    lab_sd : One standard deviation of each; None where nobody knows.
    lab_low, lab_high : Ends of the nine-in-ten intervals. level : With its interval. None where there is none.
    """

    name: str
    lab_d65: Lab
    lab_sd: Lab | None = None
    lab_low: Lab | None = None
    lab_high: Lab | None = None
    level: Bounds | None = None

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > LONGEST_NAME:
            raise BadInputError(f"A colour needs a name of 1 to {LONGEST_NAME} letters. Name each row of the table.")
        lightness, red_green, yellow_blue = self.lab_d65
        if not all(map(math.isfinite, self.lab_d65)) or not -1 <= lightness <= 110 or max(
            abs(red_green), abs(yellow_blue)
        ) > 200:  # fmt: skip
            raise BadInputError(
                f"{self.name} comes out as L* {lightness:.0f}, a* {red_green:.0f}, b* {yellow_blue:.0f}, which nothing "
                "is. Check that XYZ run to 100, reflectance to 1 or 100, and that columns are what they are called."
            )


@dataclass(frozen=True)
class MeasuredTable:
    """Colours of one file. about : What they are, in a few words."""

    about: str
    colours: tuple[MeasuredColour, ...]

    def __post_init__(self) -> None:
        if not self.colours:
            raise BadInputError("The file holds no colour. Choose another one.")
        if len(self.colours) > MOST_COLOURS:
            raise BadInputError(f"The file holds {len(self.colours)} colours; {MOST_COLOURS} are allowed. Split it.")
        names = [colour.name for colour in self.colours]
        if len(set(names)) < len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise BadInputError(f"{twice!r} stands in the file twice. Keep one row for each name.")
