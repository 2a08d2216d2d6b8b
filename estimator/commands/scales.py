"""Commands on the salon's own level scale."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.measured import IlluminantOption, ObserverOption, conditions_given

if TYPE_CHECKING:
    from estimator.exchange.measured import Conditions

scales = typer.Typer(no_args_is_help=True, help="The salon's own level scale.")


@scales.command()
def fit(  # noqa: PLR0913 - the options of a command are its parameters
    levels: Annotated[str, typer.Option(help="The level that each swatch is: lock1=7,lock2=8.")],
    out: Annotated[Path, typer.Option("--out", help="Where the scale goes (TOML).")],
    photos: Annotated[
        list[Path] | None, typer.Argument(help="Photographs of the swatch ring, spread out beside the card.")
    ] = None,
    zones: Annotated[
        list[Path] | None,
        typer.Option(help="The swatches, outlined as zones: one file for all photographs or one for each."),
    ] = None,
    table: Annotated[
        Path | None, typer.Option(help="Instead of photographs: the swatches as an instrument measured them.")
    ] = None,
    illuminant: IlluminantOption = None,
    observer: ObserverOption = None,
    name: Annotated[str, typer.Option(help="What the scale is called.")] = "the salon's ring",
) -> None:
    """Make the salon's own level scale from photographs of its swatch ring, or from an instrument's table of it."""
    from estimator import console
    from estimator.files import load_photo, load_zones, one_each, write_text
    from estimator.visit import fit_scale_to_ring

    if table is not None:
        _fit_to_table(table, levels, (name, out), conditions_given(illuminant, observer))
        return
    if not photos or not zones:
        raise typer.BadParameter("Name photographs of the ring with --zones, or a table with --table.")
    specs = [load_zones(path, ()) for path in one_each(zones, len(photos))]
    shown = tuple(zip(map(load_photo, photos), specs, strict=True))
    ring = fit_scale_to_ring(shown, levels, name)
    write_text(out, ring.text)
    console.print_scale(ring.fit)
    print(f"Scale: {out}")


def _fit_to_table(table: Path, levels: str, told: tuple[str, Path], conditions: "Conditions") -> None:
    """The scale of swatches that an instrument measured. told : Name of the scale, and where it goes."""
    from datetime import date
    from importlib.metadata import version

    from estimator import console
    from estimator.exchange.colour_sources import Given, measured_by_instrument
    from estimator.exchange.colour_uses import ring_of_colours
    from estimator.files import load_bytes, write_text
    from estimator.scale.scale_file import levels_from_text, scale_text

    colours = measured_by_instrument(Given(table.name, load_bytes(table)), conditions)
    ring = ring_of_colours(colours, levels_from_text(levels), told[0], date.today().isoformat())
    write_text(told[1], scale_text(ring, (), {"tressmeter": version("tressmeter")}))
    console.print_scale(ring)
    print(f"Scale: {told[1]}")
