"""How much dye a client's hair takes: a factor on what the tables expect, how sure it is, and what it rests on."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import BadInputError

DIFFUSION_RATE = 0.5  # Crank 1975: early uptake of a fibre goes with the square root of time


class UptakeBasis(StrEnum):
    """What the expected uptake rests on."""

    COMMON_PRACTICE = "common practice"
    STRAND_TRIAL = "a strand trial of this client"
    RESULTS = "earlier results"


@dataclass(frozen=True, eq=False)
class ShadeSpread:
    """How sure the dose of each shade is on one client's hair, where shades are known apart.

    names : Of the shades. log_covariance : Of the logarithms of their doses, uptake and strength together.
        shape (names, names).
    """

    names: tuple[str, ...]
    log_covariance: FloatArray

    def of(self, names: tuple[str, ...]) -> FloatArray:
        """The covariance of these shades, in this order. KeyError for one that is not among them."""
        place = {name: row for row, name in enumerate(self.names)}
        rows = [place[name] for name in names]
        return self.log_covariance[np.ix_(rows, rows)]


@dataclass(frozen=True, eq=False)
class Uptake:
    """Dye that gets into this hair, as a factor on what the tables expect after the same minutes.

    mean, sd : Of the factor; 1 is as the tables say.
    rate : Dye goes in as the minutes to this power; above 0.
    by_shade : What is known of each shade apart; None where `sd` holds for all alike.
    """

    mean: float
    sd: float
    rate: float = DIFFUSION_RATE
    basis: UptakeBasis = UptakeBasis.COMMON_PRACTICE
    by_shade: ShadeSpread | None = None

    def __post_init__(self) -> None:
        if not (0.05 <= self.mean <= 20 and 0 <= self.sd <= 20 and 0.1 <= self.rate <= 1.5):
            raise BadInputError(
                f"An uptake of {self.mean:g} ± {self.sd:g} at a rate of {self.rate:g} is not possible for hair. "
                "Check the minutes and the mix of the strand trial."
            )

    def knows(self, shades: Mapping[str, FloatArray]) -> bool:
        """Whether each of these shades is known apart."""
        return self.by_shade is not None and set(shades) <= set(self.by_shade.names)
