"""Options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

ZonesOption = Annotated[
    Path | None,
    typer.Option("--zones", help="Label picture (PNG, with its .json beside it) or polygons (JSON). Without it the "
                 "whole hair is proposed as one zone."),
]  # fmt: skip
SalonOption = Annotated[
    Path | None,
    typer.Option("--salon", help="Folder of the salon's records; without it TRESSMETER_SALON, else the usual one."),
]
OutOption = Annotated[Path | None, typer.Option("--out", help="Write the rows to this CSV file.")]


def rows_file(out: Path | None, verb: str) -> Path:
    if out is None:
        raise typer.BadParameter(f"Say where the rows go: tressmeter {verb} ... --out rows.csv")
    return out
