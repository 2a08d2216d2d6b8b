"""Commands on the printed colour card: print a sheet, measure a print."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.measured import IlluminantOption, ObserverOption, conditions_given

if TYPE_CHECKING:
    from calibration.cards.measured_card import MeasuredCard
    from estimator.exchange.measured import Conditions

cards = typer.Typer(no_args_is_help=True, help="The printed colour card.")


class SheetSize(StrEnum):
    """Sizes of the printable card."""

    A5 = "A5"
    A6 = "A6"


@cards.command("print")
def print_card(
    out: Annotated[Path, typer.Option("--out", help="Where the card goes: .pdf to print, .png to look at.")],
    size: Annotated[SheetSize, typer.Option(help="Of the sheet.")] = SheetSize.A5,
) -> None:
    """Write the printable colour card as a PDF, or as pictures to look at."""
    from estimator.reports.card_sheet import card_form
    from estimator.reports.writing import write_form

    for path in write_form(out, card_form(size.value)):
        print(f"Printable card: {path}. Print it at 100 % and check the ruler, then measure the print.")


@cards.command("measure")
def measure_card(  # noqa: PLR0913 - the options of a command are its parameters
    out: Annotated[Path, typer.Option("--out", help="Where the print's values go (TOML).")],
    printer: Annotated[str, typer.Option(help="Printer and paper, in your own words.")],
    photo: Annotated[Path | None, typer.Argument(help="The print beside a 24-patch card, in daylight.")] = None,
    table: Annotated[
        Path | None, typer.Option(help="Instead: a spectrophotometer's table (CSV, CGATS.17 or CxF3).")
    ] = None,
    size: Annotated[SheetSize, typer.Option(help="Of the sheet, where a table is given.")] = SheetSize.A5,
    illuminant: IlluminantOption = None,
    observer: ObserverOption = None,
) -> None:
    """Learn what one print of the card looks like, from a photograph or an instrument's table."""
    from datetime import date

    from calibration.cards.measured_card import card_text
    from calibration.measuring_print import measure_print
    from estimator.files import load_photo, write_text

    today = date.today().isoformat()
    if table is not None:
        measured = _from_table(table, size, conditions_given(illuminant, observer), (today, printer))
    elif photo is not None:
        measured = measure_print(load_photo(photo), today, printer)
    else:
        raise typer.BadParameter("Name a photograph of the print, or a table with --table.")
    write_text(out, card_text(measured))
    print(f"Measured card: {out}")


def _from_table(path: Path, size: SheetSize, conditions: "Conditions", told: tuple[str, str]) -> "MeasuredCard":
    """The card that an instrument's table describes. told : Day and printer."""
    from calibration.cards.printed_layout import printed_layout
    from calibration.cards.spectro_table import card_from_table
    from estimator.exchange.colour_sources import Given, instrument_colours, is_cxf
    from estimator.exchange.colour_uses import card_of_colours
    from estimator.files import load_bytes

    given, sheet = Given(path.name, load_bytes(path)), printed_layout().sheet(size.value)
    colours = instrument_colours(given, conditions)
    if colours is None:
        return card_from_table(given.text, sheet, *told)
    return card_of_colours(colours, sheet, *told, "cxf" if is_cxf(given) else "cgats")
