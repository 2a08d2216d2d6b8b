"""Making the salon's own level scale from photographs of its swatch ring."""

from dataclasses import dataclass
from datetime import date
from importlib.metadata import version

from estimator.errors import BadInputError
from estimator.scale.scale_file import levels_from_text, scale_text
from estimator.scale.swatch_ring import RingFit, fit_ring
from estimator.visit.reading import read_photo
from estimator.visit.several import together
from estimator.zones.inputs import ZoneSpec


@dataclass(frozen=True)
class FittedScale:
    """A level scale fitted to a ring, and the text in which it is kept."""

    fit: RingFit
    text: str


def fit_scale_to_ring(photos: tuple[tuple[bytes, ZoneSpec | None], ...], levels: str, name: str) -> FittedScale:
    """The salon's own scale from photographs of its swatch ring; a swatch that several show is read from all of them.

    photos : The bytes of each photograph, and its swatches outlined as zones.
    levels : The level that each swatch is, such as "lock1=7,lock2=8".

    Raises
    ------
    PhotoRefusedError, BadInputError : A photograph, its swatches or their levels can't be used.
    """
    read = tuple(read_photo(photo_bytes, spec) for photo_bytes, spec in photos)
    for number, reading in enumerate(read, start=1):
        if not reading.zones:
            which = f" in photograph {number}" if len(read) > 1 else ""
            raise BadInputError(
                f"No swatch could be read{which}. Lay the ring flat beside the card and take the photo again."
            )
    zones = together(read).zones if len(read) > 1 else read[0].zones
    ring = fit_ring(tuple(zone.reading for zone in zones), levels_from_text(levels), name, date.today().isoformat())
    versions = {"tressmeter": version("tressmeter"), "pipeline": str(read[0].corrected.pipeline_version)}
    return FittedScale(ring, scale_text(ring, tuple(one.corrected.photo.sha256 for one in read), versions))
