"""For which light and eye a file's colours stand, as its own words say it; a person is asked where they do not."""

import re
from collections.abc import Iterable

from estimator.errors import BadInputError
from estimator.exchange.measured import Conditions, Illuminant

# Keywords of CGATS.17 that tell it, and one that many instruments add. [from memory]
TOLD_BY = (
    "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE", "ILLUMINATION_NAME", "ILLUMINANT", "OBSERVER", "OBSERVER_ANGLE",
    "MEASUREMENT_CONDITION", "FILTER", "FILTER_STATUS", "MEASUREMENT_TYPE",
)  # fmt: skip
_OBSERVER = re.compile(r"(?<![\d.])(2|10)[\s_-]*(?:°|deg)|OBSERVER(?:_ANGLE)?[\s,=_:]*(2|10)(?![\d.])", re.IGNORECASE)
_WHITE = re.compile(r"(?<![A-Za-z0-9])(D\d\d|A|C|F\d{1,2})(?![A-Za-z0-9])")
_ISO_13655 = re.compile(r"(?<![A-Z0-9])M[0-3](?![A-Z0-9])")


def conditions_told(keywords: Iterable[tuple[str, str]]) -> Conditions:
    """What the keyword lines of a table say.

    A measurement condition M0 to M3 alone means D50 and 2 degrees: ISO 13655 computes all four for these [from memory].

    Raises
    ------
    BadInputError : Two lights or two observers are named, or one that can't be used.
    """
    told = [(name.upper(), value) for name, value in keywords if name.upper() in TOLD_BY]
    text = " ; ".join(f"{name} {value}" for name, value in told)
    observers = {int(first or second) for first, second in _OBSERVER.findall(text)}
    lights = {white for _, value in told for white in _WHITE.findall(value.replace("_", " "))}
    if _ISO_13655.search(text.upper().replace("_", " ")):
        lights, observers = lights & {"D50", "D65"} or {"D50"}, observers or {2}
    return Conditions(_one_light(lights), _one_observer(observers))


def _one_light(lights: set[str]) -> Illuminant | None:
    if not lights:
        return None
    if len(lights) > 1 or not lights <= set(Illuminant):
        raise BadInputError(
            f"The table is for {' and '.join(sorted(lights))}; D50 or D65 is needed. Export it for one of these."
        )
    return Illuminant(lights.pop())


def _one_observer(observers: set[int]) -> int | None:
    if len(observers) > 1:
        raise BadInputError("The table names two observers. Export it for the 2 degree observer alone.")
    return observers.pop() if observers else None


def usable_light(conditions: Conditions) -> Illuminant:
    """The illuminant of Lab or XYZ. Raises BadInputError where it or the observer is not known, or is 10 degrees."""
    if conditions.observer_deg == 10:
        raise BadInputError(
            "The colours are for the 10 degree observer, and can't be turned into those for 2 degrees. Export them for "
            "2 degrees, or as spectra."
        )
    if conditions.illuminant is None:
        raise BadInputError(
            "The file does not say for which light its colours stand. Say it with --illuminant D50 or --illuminant D65."
        )
    if conditions.observer_deg is None:
        raise BadInputError(
            "The file does not say for which observer its colours stand. Say it with --observer 2; for 10 degrees "
            "export it anew."
        )
    return conditions.illuminant
