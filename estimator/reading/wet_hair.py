"""Wet hair: told by a person, and refused. It reads darker, and by how much nobody has measured."""

from dataclasses import replace

from calibration.corrected import CorrectedPhoto
from calibration.findings import Finding, Severity, verdict_from

# Models of a wetted surface put it at 7 L* at black, 12 in mid-range and 10 at blonde (Lekner and Dorf 1988, their form
# from memory); no measured pair of wet and dry hair was found. So there is nothing to correct with.
WET = Finding(
    "wet",
    Severity.RETAKE,
    "The hair is wet: it reads one to two levels darker than it is.",
    "Dry it without shine spray, one strand of each zone at least, and take the photo again.",
    source="common practice",
)


def refused_as_wet(corrected: CorrectedPhoto) -> CorrectedPhoto:
    """The same photograph, to be taken again."""
    return replace(corrected, verdict=verdict_from((*corrected.verdict.findings, WET)))
