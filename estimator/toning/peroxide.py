"""Strength of hydrogen peroxide: a type, so that volumes and per cent can't be mistaken for each other."""

from dataclasses import dataclass
from math import isfinite

# 1 litre gives V litres of oxygen: 2 H2O2 -> 2 H2O + O2, so V * 2 * 34.0147 g/mol / 22.414 L/mol (0 degrees C, 1 atm).
GRAMS_PER_LITRE_AND_VOLUME = 2 * 34.0147 / 22.414
# What the trade prints on bottles: 10 volume is 3 per cent, 40 volume is 12 per cent.
# Regulation (EC) 1223/2009, Annex III, entry 12, equates 12 per cent with 40 volumes too.
NOMINAL_PERCENT_PER_VOLUME = 0.3
STRONGEST_VOLUME = 40.0  # 12 per cent, the most that entry 12 allows on hair
LIFT_STARTS_AT_VOLUME = 10.0  # common practice: below it a toner counts as deposit only


@dataclass(frozen=True, order=True)
class PeroxideStrength:
    """Strength of a developer or of a mix on the hair. Made by `from_volume` or `from_percent`, never by a bare number.

    volume : Litres of oxygen that one litre can give. [vol], 0 (no oxidant) to 40.
    """

    volume: float

    def __post_init__(self) -> None:
        if not (isfinite(self.volume) and 0 <= self.volume <= STRONGEST_VOLUME):
            raise ValueError(
                f"A peroxide strength of {self.volume:g} volume is not possible here: 0 to {STRONGEST_VOLUME:g} volume "
                f"(0 to {STRONGEST_VOLUME * NOMINAL_PERCENT_PER_VOLUME:g} per cent) is allowed. Check the bottle."
            )

    @classmethod
    def from_volume(cls, volume: float) -> "PeroxideStrength":
        """The strength of so many volumes. [vol], 0-40."""
        return cls(float(volume))

    @classmethod
    def from_percent(cls, percent: float) -> "PeroxideStrength":
        """The strength whose bottle says so many per cent. [% w/v, trade nominal], 0-12."""
        return cls(round(float(percent) / NOMINAL_PERCENT_PER_VOLUME, 9))

    @property
    def percent(self) -> float:
        """Per cent as bottles print it: 10 volume is 3. [% w/v, trade nominal]"""
        return round(self.volume * NOMINAL_PERCENT_PER_VOLUME, 9)

    @property
    def grams_per_litre(self) -> float:
        """Hydrogen peroxide by the definition of a volume. [g/L]; a tenth of it is per cent w/v, exact."""
        return self.volume * GRAMS_PER_LITRE_AND_VOLUME

    @property
    def deposit_only(self) -> bool:
        """Whether the trade counts a toner with this developer as deposit only: below 10 volume."""
        return self.volume < LIFT_STARTS_AT_VOLUME

    def mixed(self, colour_parts: float, developer_parts: float) -> "PeroxideStrength":
        """Strength on the head once colour is mixed in. Parts by weight; densities taken as equal."""
        if colour_parts < 0 or developer_parts < 0 or colour_parts + developer_parts <= 0:
            raise ValueError(f"{colour_parts:g} parts of colour with {developer_parts:g} of developer are no mix.")
        return PeroxideStrength(self.volume * developer_parts / (colour_parts + developer_parts))

    def __float__(self) -> float:
        raise TypeError("A peroxide strength is no bare number: ask for .volume or .percent.")


NO_OXIDANT = PeroxideStrength.from_volume(0)
