"""A sheet for a class: the hair with its zones numbered and nothing told, then the same with every figure."""

from dataclasses import asdict, dataclass

from estimator.reports import wording
from estimator.reports.composing import DEMO
from estimator.reports.composing_shots import zone_numbers
from estimator.reports.document import BeforeAfter, ReadZone
from estimator.reports.lettering import each_text, printable
from estimator.reports.portfolio import numbered_hair_picture
from estimator.reports.typesetting import typeset

PRINTED_FORM = "class_sheet.typ"
PICTURE = "hair.png"


@dataclass(frozen=True)
class Answered:
    """One zone: its number and name, and what was measured there."""

    number: int
    zone: str
    level: str
    warmth: str
    within: str
    lab: str


@dataclass(frozen=True)
class ClassSheet:
    """The whole sheet in words. scale : What the levels stand on."""

    demo: str
    day_text: str
    zones: tuple[Answered, ...]
    scale: str
    notes: tuple[str, ...]


def class_sheet(document: BeforeAfter) -> ClassSheet:
    """The sheet of the hair before, without the client's code or the salon's name."""
    numbers = zone_numbers(document)
    zones = tuple(_answered(numbers[read.zone.name], read) for read in document.before.zones)
    scales = sorted({read.level.scale for read in document.before.zones})
    unverified = any(not read.reading.verified for read in document.before.zones)
    notes = ("No card stands behind these colours: the figures are rough.",) if unverified else ()
    return ClassSheet(
        demo=DEMO if document.heading.demo else "",
        day_text=wording.date_text(document.heading.day),
        zones=tuple(sorted(zones, key=lambda zone: zone.number)),
        scale=wording.list_text(scales),
        notes=notes,
    )


def render_class_sheet(document: BeforeAfter) -> bytes:
    """Two pages of tagged PDF/A-2a on A4: the task, then the answers.

    Raises
    ------
    BadInputError : No hair is outlined. OutputError : The temporary folder can't be written.
    """
    day = document.heading.day
    words = each_text(asdict(class_sheet(document)), printable)
    pictures = {PICTURE: numbered_hair_picture(document.before, zone_numbers(document))}
    return typeset(PRINTED_FORM, {**words, "picture": PICTURE, "day": [day.year, day.month, day.day]}, pictures, day)


def _answered(number: int, read: ReadZone) -> Answered:
    return Answered(
        number=number,
        zone=wording.zone_text(read.zone.name),
        level=wording.level_text(read.level),
        warmth=wording.stage_text(read.warmth),
        within=wording.spread_text(read.reading),
        lab=wording.reading_text(read.reading),
    )
