"""Commands on the toner plan and on the shelf it chooses from."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.measured import IlluminantOption, ObserverOption, conditions_given
from estimator.commands.options import ZonesOption
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from estimator.toning.recipes import Progress
    from estimator.visit import CheckedPlan

shelves = typer.Typer(no_args_is_help=True, help="The shades that a plan may choose from.")


def plan(
    file: Annotated[Path, typer.Argument(help="A visit (TOML), or readings (CSV or JSON of `tressmeter read`).")],
    targets: Annotated[
        Path | None, typer.Option(help="With readings. CSV: zone, level, tone or like or no_warmer_than.")
    ] = None,
    shelf: Annotated[
        Path | None, typer.Option(help="With readings. The shelf (CSV); the demo shelf without it.")
    ] = None,
    scale: Annotated[Path | None, typer.Option(help="With readings. The salon's own level scale.")] = None,
    bowls: Annotated[int, typer.Option(min=1, max=12, help="With readings. Bowls at most.")] = 2,
    out: Annotated[Path | None, typer.Option("--out", help="Write the plan to this JSON file.")] = None,
) -> None:
    """Plan the bowls: what to mix, what each zone becomes, why, and what would be second best."""
    from estimator import console, console_plan
    from estimator.care.cautions import first_aid, standing_order, usual_cautions

    if file.suffix.casefold() == ".toml":
        from estimator.visit_file import run_visit

        if targets or shelf or scale:
            raise BadInputError(
                f"{file.name} is a visit: it names its own targets, shelf and scale. Leave the options out."
            )
        with console_plan.progress_on_stderr() as progress:
            checked = run_visit(file, progress).checked
    else:
        with console_plan.progress_on_stderr() as progress:
            checked = _from_tables(file, (targets, shelf, scale), bowls, progress)
    console.print_care(checked.care)
    console.print_plan(checked)
    if checked.plan is not None:
        console_plan.print_reasons(checked.plan)
        console.print_cautions(standing_order(), usual_cautions())
    console.print_cautions("First aid", first_aid())
    if out is not None and checked.plan is not None:
        console_plan.write_plan(checked.plan, out)
        print(f"Plan written to {out}", file=sys.stderr)
    if checked.plan is None:
        raise typer.Exit(1)


def _from_tables(
    file: Path, given: tuple[Path | None, Path | None, Path | None], bowls: int, progress: "Progress"
) -> "CheckedPlan":
    """The plan from readings; nothing is known of the client, so care asks for the tests first."""
    from datetime import date

    from estimator import visit
    from estimator.care.facts import facts_from_answers
    from estimator.files import load_scale, load_text
    from estimator.plan_file import PlanTables, requests_from_tables
    from estimator.toning.plan import PlanSettings
    from estimator.toning.shades import demo_shelf
    from estimator.toning.shelf_file import load_shelf

    targets, shelf_path, scale = given
    if targets is None:
        raise BadInputError("Readings alone are no plan. Name the targets too: --targets targets.csv")
    shelf = load_shelf(load_text(shelf_path), shelf_path.stem) if shelf_path else demo_shelf()
    settings = PlanSettings(max_bowls=bowls, scale=load_scale(scale))
    requests = requests_from_tables(PlanTables(load_text(file), load_text(targets), shelf), settings)
    consultation = visit.Consultation(facts_from_answers({}), date.today())
    return visit.plan_requests(requests, consultation, visit.Wishes((), {}, shelf, settings), progress)


@shelves.command("check")
def check_shelf(shelf: Annotated[Path, typer.Argument(help="The shelf (CSV).")]) -> None:
    """Check every row of a shelf, and say how each shade is known."""
    from estimator import console
    from estimator.files import load_text
    from estimator.reports import wording
    from estimator.toning.shelf_file import load_shelf

    held = load_shelf(load_text(shelf))
    rows = [
        (
            shade.name,
            str(shade.family),
            wording.plain_text(shade.depth_level),
            str(shade.kind),
            ", ".join(wording.number_text(value, 1) for value in shade.lab_d65_on_white),
            wording.number_text(shade.doubt, 1),
            str(shade.known_by),
        )
        for shade in held.shades
    ]
    console.table_of(("shade", "family", "level", "kind", "on white hair L*, a*, b*", "doubt", "known by"), rows)


@shelves.command("measure")
def measure_shelf(  # noqa: PLR0913 - the options of a command are its parameters
    shelf: Annotated[Path, typer.Option(help="The shelf (CSV); a row with family, level and kind for each shade.")],
    out: Annotated[Path, typer.Option("--out", help="Write the shelf with the measured colours to this CSV file.")],
    photo: Annotated[
        Path | None, typer.Argument(help="Swatches beside a card: white hair, each with one full part of a shade.")
    ] = None,
    zones: ZonesOption = None,
    table: Annotated[
        Path | None, typer.Option(help="Instead of a photograph: the swatches as an instrument measured them.")
    ] = None,
    illuminant: IlluminantOption = None,
    observer: ObserverOption = None,
) -> None:
    """Take the colour of shades from a photograph or an instrument's table; `white` is the bare hair."""
    from estimator import visit
    from estimator.exchange.colour_sources import Given, measured_by_instrument
    from estimator.exchange.colour_uses import shelf_of_colours
    from estimator.files import load_bytes, load_photo, load_text, load_zones, write_text
    from estimator.toning.shelf_file import load_shelf, shelf_text

    if table is not None:
        colours = measured_by_instrument(Given(table.name, load_bytes(table)), conditions_given(illuminant, observer))
        write_text(out, shelf_text(shelf_of_colours(load_shelf(load_text(shelf)), colours)))
        print(f"{len(colours.colours)} swatches taken; the shelf is written to {out}")
        return
    if photo is None:
        raise typer.BadParameter("Name a photograph of the swatches, or a table with --table.")
    reading = visit.read_photo(load_photo(photo), load_zones(zones, ()))
    measured = visit.measure_shades(load_shelf(load_text(shelf)), reading)
    write_text(out, shelf_text(measured))
    print(f"{len(reading.zones)} swatches read; the shelf is written to {out}")
