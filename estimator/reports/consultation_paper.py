"""The consultation as a form on paper: A4, boxes to tick by hand, in the order of the questions."""

import datetime
from dataclasses import asdict, dataclass

from estimator.care.print_form import ConsultationForm
from estimator.reports.composing import DEMO
from estimator.reports.lettering import each_text, printable
from estimator.reports.page_form import page
from estimator.reports.typesetting import PrintedForm
from estimator.reports.wording import zone_text

NAME = "consultation"


@dataclass(frozen=True)
class WhoseAnswers:
    """Whose answers are filled in. client : "" where nothing is: a line to write on."""

    client: str = ""
    demo: bool = False


NOBODY = WhoseAnswers()


def consultation_form_on_paper(form: ConsultationForm, day: datetime.date, whose: WhoseAnswers = NOBODY) -> PrintedForm:
    """The form on A4, for PDF or PNG."""
    return PrintedForm(f"{NAME}.typ", each_text(_words(form, day, whose), printable), {}, day)


def form_pdf(form: ConsultationForm, day: datetime.date, whose: WhoseAnswers = NOBODY) -> bytes:
    """The form as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
    return consultation_form_on_paper(form, day, whose).pdf()


def form_html(form: ConsultationForm, day: datetime.date, whose: WhoseAnswers = NOBODY) -> str:
    """The form as one HTML file, to be printed or filled in on the screen."""
    return page(NAME, _words(form, day, whose), {}, style="before_after")


def _words(form: ConsultationForm, day: datetime.date, whose: WhoseAnswers) -> dict[str, object]:
    words = asdict(form)
    for zone in words["zones"]:
        zone["zone"] = zone_text(zone["zone"]) if zone["zone"] else ""
    own = {"client": whose.client, "demo": DEMO if whose.demo else ""}
    return {**words, **own, "day": [day.year, day.month, day.day]}
