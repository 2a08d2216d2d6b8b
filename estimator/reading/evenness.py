"""How even a head is: between its zones, and inside each."""

from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import delta_e_2000
from estimator.errors import BadInputError
from estimator.reading.zone_reading import ZoneReading

# Our assumption, the same as for a change: below this two zones match to the eye. [ΔE2000]
MATCH_BELOW = 2.0
EVEN_INSIDE_L = 2.5  # spread that the eye does not find within a zone; our assumption [L*]
UNEVEN_INSIDE_L = 14.0  # spread of blocks inside a zone that stands out from shading in the renders [L*]


@dataclass(frozen=True)
class Evenness:
    """Evenness of the zones of one photograph.

    largest_delta_e_2000 : Between the two zones that differ most.
    pair : Their names, the darker one first.
    lightness_range : L* of the lightest less that of the darkest zone.
    uneven_inside : Zones whose own parts differ more than shading explains.
    words : A sentence for the screen.
    """

    largest_delta_e_2000: float
    pair: tuple[str, str]
    lightness_range: float
    uneven_inside: tuple[str, ...]
    words: str


def evenness(readings: tuple[ZoneReading, ...]) -> Evenness:
    """How even these zones are against each other.

    Raises
    ------
    BadInputError : Fewer than two zones.
    """
    if len(readings) < 2:
        raise BadInputError("Evenness needs two zones at least. Outline another zone.")
    pairs = [(a, b) for position, a in enumerate(readings) for b in readings[position + 1 :]]
    differences = [float(delta_e_2000(a.lab_d65, b.lab_d65)) for a, b in pairs]
    most = int(np.argmax(differences))
    darker, lighter = sorted(pairs[most], key=lambda reading: (reading.lab_d65[0], reading.zone))
    lightness = [float(reading.lab_d65[0]) for reading in readings]
    uneven = tuple(sorted(reading.zone for reading in readings if reading.spread_lab[0] > UNEVEN_INSIDE_L))
    return Evenness(
        differences[most],
        (darker.zone, lighter.zone),
        max(lightness) - min(lightness),
        uneven,
        _words(darker, lighter, differences[most]),
    )


def _words(darker: ZoneReading, lighter: ZoneReading, delta_e: float) -> str:
    """Zones match, or which two differ most and how; nothing that the intervals do not show."""
    own = darker.covariance + lighter.covariance - darker.shared_covariance - lighter.shared_covariance
    d_lab = lighter.lab_d65 - darker.lab_d65
    shown = np.abs(d_lab) > 1.6449 * np.sqrt(np.diag(own))
    if delta_e < MATCH_BELOW:
        return "Zones match."
    if not shown.any():
        return f"{lighter.zone} and {darker.zone} may differ, but this photo can't tell."
    if shown[0]:
        return f"{darker.zone} is darker than {lighter.zone}."
    warmer, cooler = (lighter, darker) if d_lab[2] > 0 else (darker, lighter)
    return f"{warmer.zone} is warmer than {cooler.zone}."
