"""A sheet for a class: the hair with its zones numbered and nothing told, then the same with every figure."""

from dataclasses import asdict, dataclass

from estimator.reports import wording
from estimator.reports.composing import DEMO
from estimator.reports.composing_shots import zone_numbers
from estimator.reports.document import BeforeAfter, ReadZone
from estimator.reports.lettering import each_text, printable
from estimator.reports.portfolio import numbered_hair_picture
from estimator.reports.typesetting import PrintedForm

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


def class_form(document: BeforeAfter) -> PrintedForm:
    """Two pages of A4 for PDF or PNG: the task, then the answers. Raises BadInputError where no hair is outlined."""
    day = document.heading.day
    words = each_text(asdict(class_sheet(document)), printable)
    pictures = {PICTURE: numbered_hair_picture(document.before, zone_numbers(document))}
    told = {**words, "picture": PICTURE, "day": [day.year, day.month, day.day]}
    return PrintedForm(PRINTED_FORM, told, pictures, day)


def render_class_sheet(document: BeforeAfter) -> bytes:
    """The sheet as tagged PDF/A-2a. Raises BadInputError, OutputError."""
    return class_form(document).pdf()


def _answered(number: int, read: ReadZone) -> Answered:
    return Answered(
        number=number,
        zone=wording.zone_text(read.zone.name),
        level=wording.level_text(read.level),
        warmth=wording.stage_text(read.warmth),
        within=wording.spread_text(read.reading),
        lab=wording.reading_text(read.reading),
    )
