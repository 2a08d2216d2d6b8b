"""Making the salon's own level scale from a photograph of its swatch ring."""

from dataclasses import dataclass
from datetime import date
from importlib.metadata import version

from estimator.errors import BadInputError
from estimator.scale.scale_file import levels_from_text, scale_text
from estimator.scale.swatch_ring import RingFit, fit_ring
from estimator.visit.reading import read_photo
from estimator.zones.inputs import ZoneSpec


@dataclass(frozen=True)
class FittedScale:
    """A level scale fitted to a ring, and the text in which it is kept."""

    fit: RingFit
    text: str


def fit_scale_to_ring(photo_bytes: bytes, spec: ZoneSpec | None, levels: str, name: str) -> FittedScale:
    """The salon's own scale from one photograph of its swatch ring.

    levels : The level that each swatch is, such as "lock1=7,lock2=8".

    Raises
    ------
    PhotoRefusedError, BadInputError : The photograph, its swatches or their levels can't be used.
    """
    read = read_photo(photo_bytes, spec)
    if not read.zones:
        raise BadInputError("No swatch could be read. Lay the ring flat beside the card and take the photo again.")
    readings = tuple(zone.reading for zone in read.zones)
    ring = fit_ring(readings, levels_from_text(levels), name, date.today().isoformat())
    versions = {"tressmeter": version("tressmeter"), "pipeline": str(read.corrected.pipeline_version)}
    return FittedScale(ring, scale_text(ring, (read.corrected.photo.sha256,), versions))
