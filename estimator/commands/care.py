"""Commands on care: the verdict on a visit's facts, the form, the calendar, the law's limits, the salon's setting."""

from pathlib import Path
from typing import Annotated

import typer

care = typer.Typer(no_args_is_help=True, help="The consultation: what may not be done, what must be tested first.")

VisitArgument = Annotated[Path, typer.Argument(help="A visit as a TOML file.")]
SalonOption = Annotated[
    Path | None, typer.Option("--salon", help="The salon's folder; else TRESSMETER_SALON, else the usual one.")
]


@care.command("check")
def check(file: VisitArgument) -> None:
    """Judge the facts of a visit, zone by zone where zones differ. Exit code 1 where a stop stands."""
    from estimator import console, visit
    from estimator.care.cautions import first_aid
    from estimator.visit_file import consultation_of, load_visit_file, reminders_of

    written = load_visit_file(file)
    lightened = written.lift is not None
    verdict = (visit.check_lightening if lightened else visit.check)(consultation_of(written))
    console.print_care(verdict)
    console.print_reminders(reminders_of(written))
    console.print_cautions("First aid", first_aid())
    if verdict.is_stop:
        raise typer.Exit(1)


@care.command("form")
def form(
    out: Annotated[Path, typer.Option("--out", help="Where the form goes: a name ending in .pdf, .html or .png.")],
    file: Annotated[Path | None, typer.Argument(help="A visit whose answers are filled in; empty without.")] = None,
) -> None:
    """Write the consultation as a form to print, empty or with what a visit's file says."""
    from datetime import date

    from estimator.care.print_form import consultation_form
    from estimator.reports.consultation_paper import NOBODY, WhoseAnswers, consultation_form_on_paper, form_html
    from estimator.reports.writing import write_form
    from estimator.visit_file import load_visit_file, zoned_of

    written = load_visit_file(file) if file is not None else None
    filled = consultation_form(zoned_of(written) if written is not None else None)
    whose = WhoseAnswers(written.client, written.demo) if written is not None else NOBODY
    today = date.today()
    html = {".html": lambda: form_html(filled, today, whose).encode("utf-8")}
    for path in write_form(out, consultation_form_on_paper(filled, today, whose), html):
        print(f"Consultation form: {path}")


@care.command("calendar")
def calendar(
    file: VisitArgument,
    out: Annotated[Path, typer.Option("--out", help="Where the calendar goes: a name ending in .ics.")],
    label: Annotated[str, typer.Option(help="What the salon calls the visit; better a number than a name.")] = "",
) -> None:
    """Write the visit's reminders as a calendar file: patch test, strand test, next lightening, message after."""
    from datetime import UTC, datetime

    from estimator import console
    from estimator.care.calendar_file import calendar_text
    from estimator.files import write_text
    from estimator.visit_file import load_visit_file, reminders_of

    found = reminders_of(load_visit_file(file))
    write_text(out, calendar_text(found, datetime.now(UTC), label))
    console.print_reminders(found)
    print(f"Calendar: {out}")


@care.command("limits")
def limits(
    place: Annotated[str, typer.Option(help="EU; anything else: ask your authority.")] = "EU",
) -> None:
    """Show what the law of a place allows, with the day of each figure."""
    from estimator import console
    from estimator.care.jurisdictions import limits_of, places

    codes = {code.casefold(): code for code, _ in places()}
    console.print_limits(limits_of(codes.get(place.casefold(), place)))


@care.command("patch-days")
def patch_days(
    days: Annotated[float | None, typer.Argument(help="2 to 183; without it the setting is shown.")] = None,
    salon: SalonOption = None,
) -> None:
    """Show or set for how many days the salon accepts a clear patch test; the maker's text stands above it."""
    from estimator.records.place import usual_folder
    from estimator.salon_settings import keep_patch_valid_days, load_settings

    folder = salon or usual_folder()
    settings = load_settings(folder) if days is None else keep_patch_valid_days(folder, days)
    print(f"A clear patch test is accepted for {settings.patch_valid_days:g} days. The maker's text stands above it.")
