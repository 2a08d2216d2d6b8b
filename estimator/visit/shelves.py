"""A shelf that changes: shades told in words, taken out, or measured from a photograph of their swatches."""

from dataclasses import dataclass, replace

from estimator.errors import BadInputError
from estimator.toning.described import as_covariance, described_colour
from estimator.toning.shades import Family, KnownBy, Lab, Shade, ShadeKind, Shelf
from estimator.toning.shelf_file import BARE_HAIR, USUAL_WHITE_LAB_D65, load_shelf, shelf_text
from estimator.visit.reading import PhotoReading, ReadZone


@dataclass(frozen=True)
class ShadeInWords:
    """One shade as a person tells it; the fields of a row of the shelf's file."""

    name: str
    family: Family
    depth_level: float
    kind: ShadeKind
    tube_grams: float | None = None
    price_per_tube: float | None = None


def with_shade(shelf: Shelf | None, told: ShadeInWords, instead_of: str = "") -> Shelf:
    """The shelf with this shade at its end, or in the place of another one, whose measured colour then stays.

    shelf : None for a shelf that begins with this shade. Raises BadInputError where its name or a figure can't be.
    """
    name = " ".join(told.name.split())
    held = shelf.shades if shelf else ()
    _refuse_name(name, [shade.name for shade in held if shade.name != instead_of])
    white = shelf.white_lab_d65 if shelf else USUAL_WHITE_LAB_D65
    was = next((shade for shade in held if shade.name == instead_of), None)
    lab, covariance = described_colour(told.family, told.depth_level, white)
    new = Shade(
        name, told.family, told.depth_level, told.kind, lab, told.price_per_tube, told.tube_grams,
        lab_covariance=covariance, known_by=KnownBy.DESCRIPTION,
    )  # fmt: skip
    if was is not None and was.known_by is not KnownBy.DESCRIPTION:
        measured = was.lab_d65_on_white, was.lab_covariance, was.known_by
        new = replace(new, lab_d65_on_white=measured[0], lab_covariance=measured[1], known_by=measured[2])
    shades = tuple(new if shade is was else shade for shade in held) if was else (*held, new)
    changed = Shelf(shades, white, shelf.name if shelf else "shelf")
    return load_shelf(shelf_text(changed), changed.name)  # the file's own rules decide what a shelf may hold


def _refuse_name(name: str, others: list[str]) -> None:
    if not name:
        raise BadInputError("The shade needs a name. Type one in words of your own.")
    if _plain(name) == BARE_HAIR:
        raise BadInputError(f"{BARE_HAIR} names the bare white hair of the shelf. Give the shade another name.")
    if _plain(name) in map(_plain, others):
        raise BadInputError(f"A shade is called {name} already. Give this one another name, or change that one.")


def without_shade(shelf: Shelf, name: str) -> Shelf:
    """The shelf without the shade of this name. Raises BadInputError where it has none, or holds no other."""
    gone = shelf.shade(name)
    if len(shelf.shades) == 1:
        raise BadInputError("It is the last shade on the shelf. Add another one first, or go back to the demo shelf.")
    return replace(shelf, shades=tuple(shade for shade in shelf.shades if shade is not gone))


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
