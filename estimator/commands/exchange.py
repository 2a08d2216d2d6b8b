"""Commands on open formats: colours, readings, plans, outcomes, side-cars, the published schemas."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.measured import IlluminantOption, ObserverOption, conditions_given
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from estimator.exchange.colour_sources import Given

exchange = typer.Typer(no_args_is_help=True, help="Open formats in and out.")

InFile = Annotated[Path, typer.Argument(help="The file to take.")]
OutFile = Annotated[Path, typer.Argument(help="Where it goes; the ending says the format.")]


@exchange.command()
def colours(
    file: Annotated[
        Path, typer.Argument(help="Readings, a measured card, a shelf, a scale, or an instrument's CGATS or CxF3 file.")
    ],
    out: Annotated[Path, typer.Argument(help="Where they go: .txt for CGATS.17 text, .cxf for CxF3.")],
    illuminant: IlluminantOption = None,
    observer: ObserverOption = None,
) -> None:
    """Write colours as CGATS.17 text or CxF3, CIELAB for D65 and 2 degrees."""
    from datetime import UTC, datetime

    from estimator.exchange.cgats_colours import cgats_of
    from estimator.exchange.colour_sources import Given, colours_of
    from estimator.exchange.cxf import cxf_of
    from estimator.files import load_bytes, write_new_bytes

    given = Given(file.name, load_bytes(file, 20_000_000))
    if _scale_written(given, out):
        return
    table = colours_of(given, conditions_given(illuminant, observer))
    match out.suffix.lower():
        case ".txt" | ".cgats":
            write_new_bytes(out, cgats_of(table).encode("utf-8"))
        case ".cxf":
            write_new_bytes(out, cxf_of(table, datetime.now(UTC)))
        case ending:
            raise BadInputError(f"Colours are written as .txt (CGATS.17) or .cxf (CxF3), not as {ending or 'that'}.")
    print(f"{len(table.colours)} colours written to {out}")


def _scale_written(given: "Given", out: Path) -> bool:
    """Whether the file was a level scale, from its TOML to CGATS or back, and has been written."""
    from estimator.exchange.scale_table import cgats_of_scale, is_scale_table, scale_of_cgats, scale_toml
    from estimator.files import write_new_bytes
    from estimator.scale.scale_file import kept_scale

    toml_in = given.name.lower().endswith(".toml") and b"[[row]]" in given.content
    if toml_in and out.suffix.lower() in (".txt", ".cgats"):
        text = cgats_of_scale(kept_scale(given.text).scale)
    elif out.suffix.lower() == ".toml" and is_scale_table(given.content.decode("utf-8", errors="replace")):
        text = scale_toml(scale_of_cgats(given.text))
    else:
        return False
    write_new_bytes(out, text.encode("utf-8"))
    print(f"Level scale written to {out}")
    return True
