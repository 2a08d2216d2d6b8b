"""The sheet by which a client takes photographs at home: plain words and pictures, as a page and on paper."""

import datetime
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Protocol

from estimator.reports.intake_drawings import light_drawing, view_drawing
from estimator.reports.lettering import each_text, printable
from estimator.reports.page_form import page
from estimator.reports.typesetting import PrintedForm

NAME = "intake_sheet"

RULES = (
    "Stand facing a window by day. Switch the lamps off: one kind of light only. No sun on the hair.",
    "Hair dry, brushed, without oil or shine spray.",
    "Hold the colour card you were given beside the hair, flat to the camera; without one, a white sheet of paper.",
    "No flash, no filter, no portrait or beauty mode. Wipe the lens.",
    "Come so near that the hair fills most of the picture, with the whole card or sheet in it.",
    "Send the pictures as files. A chat that makes them smaller makes them worse; it still works.",
)
PRIVACY = (
    "Your face need not be in any picture. The place where a picture was taken is removed when the salon takes it in.",
    "The salon asks before it keeps your pictures, and before it shows them to anybody. You can say no, now or later.",
)


class AskedView(Protocol):
    """One view that is asked for."""

    @property
    def code(self) -> str: ...

    @property
    def title(self) -> str: ...

    @property
    def how(self) -> str: ...


@dataclass(frozen=True)
class ViewWords:
    """One view on the sheet. drawing : SVG."""

    number: int
    title: str
    how: str
    drawing: str


@dataclass(frozen=True)
class IntakeSheet:
    """The whole sheet in words and drawings."""

    title: str
    salon: str
    rules: tuple[str, ...]
    light: str
    views: tuple[ViewWords, ...]
    questions: tuple[str, ...]
    privacy: tuple[str, ...]


def intake_sheet(salon: str, views: Sequence[AskedView], questions: Sequence[str]) -> IntakeSheet:
    """The sheet of a salon, with the questions that a client can answer at home."""
    shown = tuple(ViewWords(n, view.title, view.how, view_drawing(view.code)) for n, view in enumerate(views, 1))
    return IntakeSheet("Photographs of your hair", salon, RULES, light_drawing(), shown, tuple(questions), PRIVACY)


def intake_html(sheet: IntakeSheet) -> str:
    """The sheet as one HTML file that needs nothing else."""
    return page(NAME, asdict(sheet), {})


def intake_form(sheet: IntakeSheet, day: datetime.date) -> PrintedForm:
    """The sheet on A4, for PDF or PNG."""
    words = {**each_text(asdict(sheet), printable), "day": [day.year, day.month, day.day]}
    return PrintedForm(f"{NAME}.typ", words, {}, day)


def intake_pdf(sheet: IntakeSheet, day: datetime.date) -> bytes:
    """The sheet as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return intake_form(sheet, day).pdf()
