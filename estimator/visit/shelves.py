"""Shades measured from a photograph of their swatches, and a shelf that takes them."""

from dataclasses import replace

from estimator.errors import BadInputError
from estimator.toning.described import as_covariance
from estimator.toning.shades import KnownBy, Lab, Shelf
from estimator.toning.shelf_file import BARE_HAIR
from estimator.visit.reading import PhotoReading, ReadZone


def measure_shades(shelf: Shelf, reading: PhotoReading) -> Shelf:
    """The shelf with the colour of each shade whose swatch, white hair with one full part on it, was read.

    A zone is a swatch where it bears the name of a shade; the zone `white` is the bare hair.
    Raises BadInputError where the photograph can't be used, or a zone is called like no shade.
    """
    if reading.refused or not reading.zones:
        raise BadInputError("No swatch could be read. Lay the swatches beside the card and take the photo again.")
    swatches = {_plain(zone.name): zone for zone in reading.zones}
    known = {_plain(shade.name) for shade in shelf.shades} | {BARE_HAIR}
    strangers = [zone.name for key, zone in swatches.items() if key not in known]
    if strangers:
        raise BadInputError(
            f"No shade on the shelf is called {', '.join(strangers)}. Add a row with its family, level and kind, "
            "or name the outline as the shade."
        )
    shades = tuple(
        replace(
            shade,
            lab_d65_on_white=_lab(swatch),
            lab_covariance=as_covariance(swatch.reading.covariance),
            known_by=KnownBy.PHOTO,
        )
        if (swatch := swatches.get(_plain(shade.name))) is not None
        else shade
        for shade in shelf.shades
    )
    white = swatches.get(BARE_HAIR)
    return replace(shelf, shades=shades, white_lab_d65=_lab(white) if white else shelf.white_lab_d65)


def _plain(name: str) -> str:
    """A name as it is compared: outlines often bear _ for a space, and other capitals."""
    return " ".join(name.replace("_", " ").split()).casefold()


def _lab(swatch: ReadZone) -> Lab:
    lightness, red_green, yellow_blue = (float(value) for value in swatch.reading.lab_d65)
    return lightness, red_green, yellow_blue
