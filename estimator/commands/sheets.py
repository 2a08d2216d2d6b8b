"""Commands for single sheets of a visit: bowls for the mixing place, letters, its record, pictures, a class sheet."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import date

    from estimator.records.consent_scopes import Scope
    from estimator.records.store import Store
    from estimator.records.visit_record import QuoteRecord
    from estimator.reports.document import BeforeAfter
    from estimator.reports.portfolio import Hiding
    from estimator.reports.typesetting import PrintedForm

sheets = typer.Typer(no_args_is_help=True, help="Single sheets of a visit.")

VisitArgument = Annotated[Path, typer.Argument(help="A visit as a TOML file.")]
SheetOption = Annotated[
    Path,
    typer.Option("--out", help="Where the sheet goes: .pdf, or .png for pictures of its pages; never overwritten."),
]
ClientArgument = Annotated[str, typer.Argument(help="The client's code or name.")]
DayOption = Annotated[str | None, typer.Option("--day", help="Of which day: 2026-11-20; else the last visit.")]
KeptOption = Annotated[str | None, typer.Option("--visit", help="The visit's own name, where one day has several.")]
HideOption = Annotated[str, typer.Option("--hide", help="What becomes of all that is not hair: blur or cut.")]
SalonOption = Annotated[Path | None, typer.Option("--salon", help="The salon's folder of records.")]


@sheets.command("bowls")
def bowls(file: VisitArgument, out: SheetOption) -> None:
    """Write the bowl sheet: A5, to be read at arm's length, care first."""
    from estimator.reports.bowl_sheet import bowl_form

    _write_form(out, bowl_form(_document(file)))


@sheets.command("letter")
def letter(
    file: VisitArgument,
    out: Annotated[
        Path, typer.Option("--out", help="Where the letter goes: .txt, .html, .pdf or .png; never overwritten.")
    ],
    salon: Annotated[
        Path | None,
        typer.Option("--salon", help="Folder of the salon's records, for the last quote kept of this client."),
    ] = None,
) -> None:
    """Write a letter to the client as a draft: plain text for .txt, otherwise .html, .pdf or .png."""
    from estimator.commands.letters import write_letter
    from estimator.reports.client_letter import client_letter

    document = _document(file)
    quote = _quote(salon, document.heading.client_code) if salon is not None else None
    _say(write_letter(client_letter(document, quote), document.heading.day, out))


def _quote(salon: Path, client: str) -> "QuoteRecord | None":
    from estimator.commands.records import opened
    from estimator.records.quotes import latest_quote

    with opened(salon) as store:
        return latest_quote(store, client)


@sheets.command("kept-letter")
def kept_letter(
    client: ClientArgument,
    out: Annotated[
        Path, typer.Option("--out", help="Where the letter goes: .txt, .html, .pdf or .png; never overwritten.")
    ],
    day: DayOption = None,
    visit: KeptOption = None,
    salon: SalonOption = None,
) -> None:
    """Write the letter about a visit that is kept in the records, with the quote that the client was told."""
    from estimator.commands.letters import write_letter
    from estimator.commands.records import opened
    from estimator.records.whole_visit import whole_visit
    from estimator.reports.kept_letter import kept_letter as letter_about

    with opened(salon) as store:
        found = whole_visit(store, _visit_id(store, client, day, visit))
    _say(write_letter(letter_about(found), found.record.day, out))


@sheets.command("visit-record")
def visit_record(
    client: ClientArgument,
    out: Annotated[Path, typer.Option("--out", help="Where the record goes: .html, .pdf or .png; never overwritten.")],
    day: DayOption = None,
    visit: KeptOption = None,
    name: Annotated[bool, typer.Option("--name", help="Put the client's name beside the code.")] = False,
    salon: SalonOption = None,
) -> None:
    """Write the record of a kept visit: what was agreed, seen, planned, mixed, timed, and what came of it."""
    from estimator.commands.records import opened
    from estimator.reports.visit_record import record_form, record_html
    from estimator.visit.recorded import visit_record_of

    with opened(salon) as store:
        sheet = visit_record_of(store, _visit_id(store, client, day, visit), name)
    _write_form(out, record_form(sheet), {".html": lambda: record_html(sheet).encode("utf-8")})


def _visit_id(store: "Store", client: str, day: str | None, visit: str | None) -> str:
    from estimator.records.whole_visit import visit_of_client, visit_of_day

    if visit is not None:
        return visit_of_client(store, client, visit)
    return visit_of_day(store, client, _day(day))


def _day(text: str | None) -> "date | None":
    from datetime import date

    from estimator.errors import BadInputError

    try:
        return date.fromisoformat(text) if text else None
    except ValueError as problem:
        raise BadInputError(f"--day is {text!r}. Write it as 2026-11-20.") from problem


@sheets.command("portfolio")
def portfolio(
    file: VisitArgument,
    out: SheetOption,
    hide: HideOption = "blur",
) -> None:
    """Write a picture of the hair before and after, all else hidden (PNG). Needs the consent for it."""
    from estimator.records.consent_scopes import Scope
    from estimator.reports.portfolio import portfolio_picture
    from estimator.reports.writing import write_new

    hiding = _hiding(hide)
    document = _document(file, Scope.PORTFOLIO)
    demo = document.heading.demo
    _say(write_new(out, (portfolio_picture(document.before, document.after, hiding, demo),)))


@sheets.command("kept-portfolio")
def kept_portfolio(
    client: ClientArgument,
    out: Annotated[Path, typer.Option("--out", help="Where the picture goes: .png; never overwritten.")],
    hide: HideOption = "blur",
    day: DayOption = None,
    visit: KeptOption = None,
    salon: SalonOption = None,
) -> None:
    """Write the picture of the hair of a kept visit, all else hidden (PNG). Needs the consent for it."""
    from estimator.commands.records import opened
    from estimator.reports.writing import write_new
    from estimator.visit.kept_pictures import kept_portfolio as picture_of

    hiding = _hiding(hide)
    with opened(salon) as store:
        picture = picture_of(store, _visit_id(store, client, day, visit), hiding)
    _say(write_new(out, (picture,)))


def _hiding(word: str) -> "Hiding":
    from estimator.errors import BadInputError
    from estimator.reports.portfolio import Hiding

    if word not in tuple(Hiding):
        raise BadInputError(f"--hide is {word!r}. Write one of: {', '.join(Hiding)}.")
    return Hiding(word)


@sheets.command("class")
def class_sheet(file: VisitArgument, out: SheetOption) -> None:
    """Write a class sheet: numbers hidden, then shown. Needs the consent for teaching."""
    from estimator.records.consent_scopes import Scope
    from estimator.reports.class_sheet import class_form

    _write_form(out, class_form(_document(file, Scope.TEACHING)))


def _document(file: Path, needs: "Scope | None" = None) -> "BeforeAfter":
    """All that the sheets show of a visit; with `needs`, only where the client agreed to that use."""
    from estimator.visit.sheets import need_consent_in
    from estimator.visit_file import load_visit_file, run_visit

    written = load_visit_file(file)
    if needs is not None and not written.demo:
        need_consent_in(written.consent, needs, written.date)
    return run_visit(file).document


def _write_form(out: Path, form: "PrintedForm", others: "Mapping[str, Callable[[], bytes]] | None" = None) -> None:
    from estimator.reports.writing import write_form

    _say(write_form(out, form, others))


def _say(paths: "tuple[Path, ...]") -> None:
    for path in paths:
        print(f"Sheet: {path}")
