"""Commands on a whole visit: run one from its file, run the invented one."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.errors import BadInputError

if TYPE_CHECKING:
    from estimator.records.visit_record import DocumentRecord
    from estimator.reports.typesetting import PrintedForm
    from estimator.visit_file import VisitOutcome


def visit(
    file: Annotated[Path, typer.Argument(help="A visit as a TOML file; sample_images/visit.toml shows one.")],
    out: Annotated[Path, typer.Option("--out", help="Folder for the report.")] = Path("visits"),
    keep: Annotated[Path | None, typer.Option("--keep", help="Keep the visit in the records of this folder.")] = None,
    png: Annotated[bool, typer.Option("--png", help="Write the report's pages as pictures too.")] = False,
) -> None:
    """Run a whole visit from a file: readings, care, bowls, difference, and a report in HTML and PDF."""
    from estimator import console
    from estimator.reports.before_after import render_html, render_pdf, report_form
    from estimator.reports.writing import write_report
    from estimator.visit.keeping import report_records
    from estimator.visit_file import run_visit

    outcome = run_visit(file)
    console.print_visit(file.name, outcome)
    html, pdf = render_html(outcome.document), render_pdf(outcome.document)
    stem = f"{outcome.document.heading.client_code}-{outcome.document.heading.day.isoformat()}"
    written = write_report(out, stem, html, pdf)
    console.print_written(written)
    if png:
        write_pictures(written.pdf, report_form(outcome.document))
    if outcome.before.refused:
        raise typer.Exit(1)
    if keep is not None:
        _keep(file, outcome, report_records(html, pdf), keep)


def _keep(file: Path, outcome: "VisitOutcome", documents: "tuple[DocumentRecord, ...]", folder: Path) -> None:
    from estimator.keeping import keep_visit_file
    from estimator.records.place import salon_place

    kept = keep_visit_file(file, outcome, documents, salon_place(folder))
    print(f"Kept as visit {kept.id[:10]} in {folder}." if kept.new else f"Kept already, as visit {kept.id[:10]}.")
    for sentence in kept.left_out:
        print(sentence)


def write_pictures(pdf: Path, form: "PrintedForm") -> None:
    """The pages of a report as PNG, beside its PDF and under its name."""
    from estimator.reports.writing import write_form

    for path in write_form(pdf.with_suffix(".png"), form):
        print(f"Picture: {path}")


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
