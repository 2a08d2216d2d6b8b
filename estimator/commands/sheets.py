"""Commands for single sheets of a visit: bowls for the mixing place, a letter, a portfolio picture, a class sheet."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from estimator.records.consent_scopes import Scope
    from estimator.records.visit_record import QuoteRecord
    from estimator.reports.document import BeforeAfter

sheets = typer.Typer(no_args_is_help=True, help="Single sheets of a visit.")

VisitArgument = Annotated[Path, typer.Argument(help="A visit as a TOML file.")]
SheetOption = Annotated[Path, typer.Option("--out", help="Where the sheet goes; a file that is there is left alone.")]


@sheets.command("bowls")
def bowls(file: VisitArgument, out: SheetOption) -> None:
    """Write the bowl sheet: A5, to be read at arm's length, care first (PDF)."""
    from estimator.reports.bowl_sheet import render_bowl_sheet

    _write(out, render_bowl_sheet(_document(file)))


@sheets.command("letter")
def letter(
    file: VisitArgument,
    out: SheetOption,
    salon: Annotated[
        Path | None,
        typer.Option("--salon", help="Folder of the salon's records, for the last quote kept of this client."),
    ] = None,
) -> None:
    """Write a letter to the client as a draft: plain text for .txt, otherwise .html or .pdf."""
    from estimator.commands.letters import letter_bytes
    from estimator.reports.client_letter import client_letter

    document = _document(file)
    quote = _quote(salon, document.heading.client_code) if salon is not None else None
    _write(out, letter_bytes(client_letter(document, quote), document.heading.day, out))


def _quote(salon: Path, client: str) -> "QuoteRecord | None":
    from estimator.commands.records import opened
    from estimator.records.quotes import latest_quote

    with opened(salon) as store:
        return latest_quote(store, client)


@sheets.command("portfolio")
def portfolio(
    file: VisitArgument,
    out: SheetOption,
    hide: Annotated[str, typer.Option(help="What becomes of all that is not hair: blur or cut.")] = "blur",
) -> None:
    """Write a picture of the hair before and after, all else hidden (PNG). Needs the consent for it."""
    from estimator.errors import BadInputError
    from estimator.records.consent_scopes import Scope
    from estimator.reports.portfolio import Hiding, portfolio_picture

    if hide not in tuple(Hiding):
        raise BadInputError(f"--hide is {hide!r}. Write one of: {', '.join(Hiding)}.")
    document = _document(file, Scope.PORTFOLIO)
    demo = document.heading.demo
    _write(out, portfolio_picture(document.before, document.after, Hiding(hide), demo))


@sheets.command("class")
def class_sheet(file: VisitArgument, out: SheetOption) -> None:
    """Write a class sheet: numbers hidden, then shown (PDF). Needs the consent for teaching."""
    from estimator.records.consent_scopes import Scope
    from estimator.reports.class_sheet import render_class_sheet

    _write(out, render_class_sheet(_document(file, Scope.TEACHING)))


def _document(file: Path, needs: "Scope | None" = None) -> "BeforeAfter":
    """All that the sheets show of a visit; with `needs`, only where the client agreed to that use."""
    from estimator.visit.sheets import need_consent_in
    from estimator.visit_file import load_visit_file, run_visit

    written = load_visit_file(file)
    if needs is not None and not written.demo:
        need_consent_in(written.consent, needs, written.date)
    return run_visit(file).document


def _write(out: Path, content: bytes) -> None:
    from estimator.files import write_new_bytes

    write_new_bytes(out, content)
    print(f"Sheet: {out}")
