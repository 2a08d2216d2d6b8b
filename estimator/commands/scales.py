"""Commands on the salon's own level scale."""

from pathlib import Path
from typing import Annotated

import typer

scales = typer.Typer(no_args_is_help=True, help="The salon's own level scale.")


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
