"""Commands on the salon's own level scale."""

from pathlib import Path
from typing import Annotated

import typer

scales = typer.Typer(no_args_is_help=True, help="The salon's own level scale.")


@scales.command()
def fit(
    photos: Annotated[list[Path], typer.Argument(help="Photographs of the swatch ring, spread out beside the card.")],
    zones: Annotated[
        list[Path], typer.Option(help="The swatches, outlined as zones: one file for all photographs or one for each.")
    ],
    levels: Annotated[str, typer.Option(help="The level that each swatch is: lock1=7,lock2=8.")],
    out: Annotated[Path, typer.Option("--out", help="Where the scale goes (TOML).")],
    name: Annotated[str, typer.Option(help="What the scale is called.")] = "the salon's ring",
) -> None:
    """Make the salon's own level scale from photographs of its swatch ring."""
    from estimator import console
    from estimator.files import load_photo, load_zones, one_each, write_text
    from estimator.visit import fit_scale_to_ring

    specs = [load_zones(path, ()) for path in one_each(zones, len(photos))]
    shown = tuple(zip(map(load_photo, photos), specs, strict=True))
    ring = fit_scale_to_ring(shown, levels, name)
    write_text(out, ring.text)
    console.print_scale(ring.fit)
    print(f"Scale: {out}")
