"""The command `tressmeter`: arguments in, the verbs of a visit called, values printed. Heavy imports stay inside."""

import os
import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Measure how light and how warm hair is, zone by zone, from a photograph with a colour card; "
    "plan the toner; compare and document.",
)

scales = typer.Typer(no_args_is_help=True, help="The salon's own level scale.")
app.add_typer(scales, name="scale")
cards = typer.Typer(no_args_is_help=True, help="The printed colour card.")
app.add_typer(cards, name="card")


class SheetSize(StrEnum):
    """Sizes of the printable card."""

    A5 = "A5"
    A6 = "A6"


ZonesOption = Annotated[
    Path | None,
    typer.Option("--zones", help="Label picture (PNG, with its .json beside it) or polygons (JSON). Without it the "
                 "whole hair is proposed as one zone."),
]  # fmt: skip
OutOption = Annotated[Path | None, typer.Option("--out", help="Write the rows to this CSV file.")]


@app.command()
def read(  # noqa: PLR0913 - the options of a command are its parameters
    photo: Annotated[Path, typer.Argument(help="A photograph, or a folder of scenes (zones.json, zones.png, photos).")],
    zones: ZonesOption = None,
    strands: Annotated[
        list[str] | None, typer.Option(help="Strand pattern of a zone, such as crown=coily. May be repeated.")
    ] = None,
    neutral: Annotated[
        str | None, typer.Option(help="x,y,radius in pixels of a neutral thing (white towel) where there is no card.")
    ] = None,
    scale: Annotated[
        Path | None, typer.Option(help="The salon's own level scale, as `tressmeter scale fit` wrote it.")
    ] = None,
    card: Annotated[
        Path | None, typer.Option(help="A printed card that was measured, as `tressmeter card measure` wrote it.")
    ] = None,
    out: OutOption = None,
    json: Annotated[bool, typer.Option("--json", help="Print the reading as JSON instead of a table.")] = False,
) -> None:
    """Read the level and warmth of every zone in a photograph, or in every scene below a folder."""
    if photo.is_dir():
        out = _needed(out, "read")
        from estimator import console
        from estimator.batch import read_folder

        console.write_rows(read_folder(photo), out)
        return
    from estimator import console
    from estimator.files import load_card, load_photo, load_scale, load_zones, neutral_point
    from estimator.visit import read_photo

    spec = load_zones(zones, tuple(strands or ()))
    own = (load_scale(scale), load_card(card))
    reading = read_photo(load_photo(photo), spec, neutral_point(neutral), *own)
    if out is not None:
        from estimator.batch import rows_of_photo

        console.write_rows(rows_of_photo(photo.name, reading), out)
    (console.print_reading_json if json else console.print_reading)(photo.name, reading)
    if not reading.shows_hair:
        raise typer.Exit(1)


@app.command()
def compare(
    before: Annotated[Path, typer.Argument(help="The photograph before, or a folder of scenes.")],
    after: Annotated[Path | None, typer.Argument(help="The photograph after; not for a folder.")] = None,
    zones: ZonesOption = None,
    zones_after: Annotated[
        Path | None, typer.Option(help="Zones of the photograph after, where the hair lies elsewhere in it.")
    ] = None,
    out: OutOption = None,
) -> None:
    """Show what changed in each zone between two photographs, with the difference's own interval."""
    if before.is_dir():
        out = _needed(out, "compare")
        from estimator import console
        from estimator.batch import compare_folder

        console.write_rows(compare_folder(before), out)
        return
    if after is None:
        raise typer.BadParameter("Name two photographs, the one before and the one after, or one folder of scenes.")
    from estimator import console, visit
    from estimator.files import load_photo, load_zones

    read_before = visit.read_photo(load_photo(before), load_zones(zones, ()))
    read_after = visit.read_photo(load_photo(after), load_zones(zones_after or zones, ()))
    for name, reading in ((before.name, read_before), (after.name, read_after)):
        if reading.refused:
            console.print_reading(name, reading)
            raise typer.Exit(1)
    console.print_differences(visit.compare(read_before, read_after))


@app.command()
def correct(
    photos: Annotated[list[Path], typer.Argument(help="Photographs with a colour card.")],
    out: OutOption = None,
) -> None:
    """Find the card in each photograph, correct the colours, and say how well that went."""
    from estimator import console
    from estimator.batch import correct_photos

    corrections = correct_photos(photos)
    if out is not None:
        console.write_rows(corrections, out)
        return
    console.print_corrections(corrections)
    if len(photos) == 1 and corrections[0]["verdict"] == "retake":
        raise typer.Exit(1)


@app.command()
def predict(
    shelf: Annotated[Path, typer.Option(help="CSV: shade,lab_l,lab_a,lab_b; the row `white` is the bare white hair.")],
    cases: Annotated[Path, typer.Option(help="CSV: case,lab_l,lab_a,lab_b,strength,parts (violet:2;blue:1).")],
    out: OutOption = None,
) -> None:
    """Predict what mixes of shades make of hair of a given colour."""
    from estimator import console
    from estimator.files import load_text
    from estimator.toning.predictions import predict_cases

    console.write_rows(predict_cases(load_text(shelf), load_text(cases)), _needed(out, "predict"))


@app.command()
def visit(
    file: Annotated[Path, typer.Argument(help="A visit as a TOML file; sample_images/visit.toml shows one.")],
    out: Annotated[Path, typer.Option("--out", help="Folder for the report.")] = Path("visits"),
) -> None:
    """Run a whole visit from a file: readings, care, bowls, difference, and a report in HTML and PDF."""
    from estimator import console
    from estimator.reports.before_after import render_html, render_pdf
    from estimator.reports.writing import write_report
    from estimator.visit_file import run_visit

    outcome = run_visit(file)
    console.print_visit(file.name, outcome)
    html, pdf = render_html(outcome.document), render_pdf(outcome.document)
    stem = f"{outcome.document.heading.client_code}-{outcome.document.heading.day.isoformat()}"
    console.print_written(write_report(out, stem, html, pdf))
    if outcome.before.refused:
        raise typer.Exit(1)


@app.command()
def demo(
    out: Annotated[Path, typer.Option("--out", help="Folder for the report.")] = Path("visits"),
) -> None:
    """Run the invented visit that comes with the program, from its photographs to its report."""
    sample = Path(__file__).resolve().parent.parent / "sample_images" / "visit.toml"
    if not sample.exists():
        _stop(f"The sample photographs are not here: {sample.parent} is missing. Run the demo from a whole checkout.")
    visit(sample, out)


@cards.command("print")
def print_card(
    out: Annotated[Path, typer.Option("--out", help="Where the PDF goes.")],
    size: Annotated[SheetSize, typer.Option(help="Of the sheet.")] = SheetSize.A5,
) -> None:
    """Write the printable colour card as a PDF."""
    from estimator.files import write_new_bytes
    from estimator.reports.card_sheet import card_pdf

    write_new_bytes(out, card_pdf(size.value))
    print(f"Printable card: {out}. Print it at 100 % and check the ruler, then measure the print.")


@cards.command("measure")
def measure_card(
    out: Annotated[Path, typer.Option("--out", help="Where the print's values go (TOML).")],
    printer: Annotated[str, typer.Option(help="Printer and paper, in your own words.")],
    photo: Annotated[Path | None, typer.Argument(help="The print beside a 24-patch card, in daylight.")] = None,
    table: Annotated[Path | None, typer.Option(help="Instead: a spectrophotometer's table (CSV or CGATS.17).")] = None,
    size: Annotated[SheetSize, typer.Option(help="Of the sheet, where a table is given.")] = SheetSize.A5,
) -> None:
    """Learn what one print of the card looks like, from a photograph or an instrument's table."""
    from datetime import date

    from calibration.cards.measured_card import card_text
    from calibration.cards.printed_layout import printed_layout
    from calibration.cards.spectro_table import card_from_table
    from calibration.printed_pipeline import measure_print
    from estimator.files import load_photo, load_text, write_text

    today = date.today().isoformat()
    if table is not None:
        measured = card_from_table(load_text(table), printed_layout().sheet(size.value), today, printer)
    elif photo is not None:
        measured = measure_print(load_photo(photo), today, printer)
    else:
        raise typer.BadParameter("Name a photograph of the print, or a table with --table.")
    write_text(out, card_text(measured))
    print(f"Measured card: {out}")


@scales.command()
def fit(
    photo: Annotated[Path, typer.Argument(help="A photograph of the swatch ring, spread out beside the card.")],
    zones: Annotated[Path, typer.Option("--zones", help="The swatches, outlined as zones.")],
    levels: Annotated[str, typer.Option(help="The level that each swatch is: lock1=7,lock2=8.")],
    out: Annotated[Path, typer.Option("--out", help="Where the scale goes (TOML).")],
    name: Annotated[str, typer.Option(help="What the scale is called.")] = "the salon's ring",
) -> None:
    """Make the salon's own level scale from a photograph of its swatch ring."""
    from estimator import console
    from estimator.files import load_photo, load_zones, write_text
    from estimator.visit import fit_scale_to_ring

    ring = fit_scale_to_ring(load_photo(photo), load_zones(zones, ()), levels, name)
    write_text(out, ring.text)
    console.print_scale(ring.fit)
    print(f"Scale: {out}")


@app.command()
def clean(
    photo: Annotated[Path, typer.Argument(help="A photograph.")],
    out: Annotated[Path, typer.Option("--out", help="Where the copy goes.")],
) -> None:
    """Write a copy without position, serial numbers, maker's notes and embedded thumbnail."""
    from calibration.private_tags import clean_copy
    from estimator.files import load_photo, write_new_bytes

    write_new_bytes(out, clean_copy(load_photo(photo)))
    print(f"Copy without private tags: {out}")


def _needed(out: Path | None, verb: str) -> Path:
    if out is None:
        raise typer.BadParameter(f"Say where the rows go: tressmeter {verb} ... --out rows.csv")
    return out


def _stop(sentence: str) -> None:
    print(sentence, file=sys.stderr)
    raise SystemExit(1)


def main() -> None:
    """Run the command; what went wrong becomes one sentence and an exit code, never a traceback."""
    from calibration.errors import CalibrationError
    from estimator.errors import EstimatorError

    try:
        app()
    except (EstimatorError, CalibrationError) as problem:
        _stop(str(problem))
    except KeyboardInterrupt:
        _stop("Stopped. Nothing half-written was left.")
    except MemoryError:
        _stop("This machine has too little free memory for that. Close other programs, or use a smaller photograph.")
    except Exception as problem:
        # The one place that catches broadly: a person gets a sentence, whatever happened.
        if "TRESSMETER_TRACE" in os.environ:
            raise
        _stop(
            f"Tressmeter failed in a way it should not ({type(problem).__name__}). Nothing was changed. "
            "Run it again with TRESSMETER_TRACE=1 set, and send what it prints to the developers."
        )
