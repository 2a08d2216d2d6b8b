"""Commands on mixes of shades."""

from pathlib import Path
from typing import Annotated

import typer

from estimator.commands.options import OutOption, rows_file


def predict(
    shelf: Annotated[Path, typer.Option(help="CSV: shade,lab_l,lab_a,lab_b; the row `white` is the bare white hair.")],
    cases: Annotated[Path, typer.Option(help="CSV: case,lab_l,lab_a,lab_b,strength,parts (violet:2;blue:1).")],
    out: OutOption = None,
) -> None:
    """Predict what mixes of shades make of hair of a given colour."""
    from estimator import console
    from estimator.files import load_text
    from estimator.toning.predictions import predict_cases

    console.write_rows(predict_cases(load_text(shelf), load_text(cases)), rows_file(out, "predict"))
