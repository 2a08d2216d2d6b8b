"""Commands on a whole visit: run one from its file, run the invented one."""

from pathlib import Path
from typing import Annotated

import typer

from estimator.errors import BadInputError


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


def demo(
    out: Annotated[Path, typer.Option("--out", help="Folder for the report.")] = Path("visits"),
) -> None:
    """Run the invented visit that comes with the program, from its photographs to its report."""
    sample = Path(__file__).resolve().parent.parent.parent / "sample_images" / "visit.toml"
    if not sample.exists():
        raise BadInputError(
            f"The sample photographs are not here: {sample.parent} is missing. Run the demo from a whole checkout."
        )
    visit(sample, out)
