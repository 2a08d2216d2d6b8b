"""Commands on the lift: plan it, test a strand, keep the clock."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Unpack

import typer

from estimator.commands.options import ZonesOption

if TYPE_CHECKING:
    from estimator.lifting.clock_events import Kind, Said
    from estimator.lifting.clock_store import ClockStore

lift = typer.Typer(no_args_is_help=True, help="The lift: its plan, the strand test, the running clock.")
clock = typer.Typer(no_args_is_help=True, help="One running clock for many zones, kept in the salon's folder.")
lift.add_typer(clock, name="clock")

SalonOption = Annotated[
    Path | None, typer.Option("--salon", help="The salon's folder; else TRESSMETER_SALON, else the usual one.")
]
ZoneArgument = Annotated[str, typer.Argument(help="The zone, such as nape.")]
WhoOption = Annotated[str, typer.Option(help="Who says so: a name or initials.")]


class Diameter(StrEnum):
    """Thickness of a single hair, by touch."""

    FINE = "fine"
    MEDIUM = "medium"
    COARSE = "coarse"


@lift.command("plan")
def plan_lift(
    file: Annotated[Path, typer.Argument(help="A visit as a TOML file, with targets; see the manual.")],
    out: Annotated[Path | None, typer.Option("--out", help="Folder for the lift sheet (HTML and PDF).")] = None,
    png: Annotated[bool, typer.Option("--png", help="Write the sheet's pages as pictures too.")] = False,
) -> None:
    """Plan the lift of each zone: how far today, what is weighed, in which order, and what forbids it."""
    from estimator import console, lift_console
    from estimator.commands.visits import write_pictures
    from estimator.lift_file import run_lift
    from estimator.reports.lift_sheet import lift_form, render_lift_html, render_lift_pdf
    from estimator.reports.writing import write_report

    outcome = run_lift(file)
    lift_console.print_lift(file.name, outcome)
    if out is not None:
        heading = outcome.document.heading
        stem = f"lift-{heading.client_code}-{heading.day.isoformat()}"
        paths = write_report(out, stem, render_lift_html(outcome.document), render_lift_pdf(outcome.document))
        console.print_written(paths)
        if png:
            write_pictures(paths.pdf, lift_form(outcome.document))
    if outcome.plan is None:
        raise typer.Exit(1)


@lift.command("strand")
def strand(  # noqa: PLR0913 - the options of a command are its parameters
    photos: Annotated[
        list[str] | None, typer.Argument(help="PHOTO@MINUTE, such as strand0.jpg@0 strand5.jpg@5.")
    ] = None,
    zones: ZonesOption = None,
    zone: Annotated[str, typer.Option(help="Which outline is the strand, where there are several.")] = "",
    seen: Annotated[list[str] | None, typer.Option(help="MINUTE=LEVEL said by eye. May be repeated.")] = None,
    target: Annotated[float, typer.Option(help="The level to reach.")] = 8.0,
    volume: Annotated[float, typer.Option(help="Developer that the test is made with.")] = 20.0,
    diameter: Annotated[Diameter, typer.Option(help="Of a single hair.")] = Diameter.MEDIUM,
    start: Annotated[float | None, typer.Option(help="Level before, by eye, where no photo shows it.")] = None,
    dyed: Annotated[bool, typer.Option("--dyed", help="Old colour lies on the strand.")] = False,
    stretch: Annotated[str | None, typer.Option(help="How the wet strand stretches afterwards.")] = None,
    heat: Annotated[str | None, typer.Option(help="Whether the foil or the mix grew hot.")] = None,
    curve: Annotated[Path | None, typer.Option(help="Write the curve as a drawing (SVG).")] = None,
) -> None:
    """Draw the curve of a test strand: when it gets where, whether it can, when to stop."""
    from estimator import lift_console
    from estimator.files import load_photo, load_zones, write_text
    from estimator.lift_arguments import looks_of, shots_of, strand_of
    from estimator.lifting.stopping import NOT_SEEN, Signs
    from estimator.reports.lift_drawings import Marked, lift_curve
    from estimator.visit import StrandPlace, StrandShot, judge_test_strand

    shots = tuple(StrandShot(minute, load_photo(path)) for path, minute in shots_of(photos or []))
    signs = Signs(stretch=stretch or NOT_SEEN["stretch"], heat=heat or NOT_SEEN["heat"])
    place = StrandPlace(load_zones(zones, ()), zone)
    tested = strand_of(diameter.value, volume, start, dyed)
    judged = judge_test_strand(tested, shots, target, looks_of(seen or []), signs, place)
    lift_console.print_strand(judged)
    if curve is not None:
        rinse = judged.forecast.rinse_minutes
        write_text(curve, lift_curve(judged.curve, Marked(target, None, rinse)) + "\n")
        print(f"Curve: {curve}")


# --- the clock


@clock.command("start")
def start_clock(  # noqa: PLR0913 - the options of a command are its parameters
    zone: ZoneArgument,
    most: Annotated[float, typer.Option(help="Minutes at most, 1 to 50.")],
    every: Annotated[float, typer.Option(help="Look every so many minutes.")] = 5.0,
    target: Annotated[float | None, typer.Option(help="The level that ends it.")] = None,
    volume: Annotated[float, typer.Option(help="Developer in the mix.")] = 20.0,
    diameter: Annotated[Diameter, typer.Option(help="Of a single hair.")] = Diameter.MEDIUM,
    start: Annotated[float | None, typer.Option(help="Level before.")] = None,
    dyed: Annotated[bool, typer.Option("--dyed", help="Old colour lies on the hair.")] = False,
    visit: Annotated[
        str, typer.Option(help="A mark of the visit, no name: with `clock` in its file it keeps these events.")
    ] = "",
    salon: SalonOption = None,
) -> None:
    """Start the clock of a zone: the moment at which lightener goes on."""
    from estimator.lifting.clock_events import Kind, StrandSaid

    said = StrandSaid(diameter.value, volume, start, dyed=dyed)
    _write(
        salon, Kind.START, zone, most_minutes=most, check_minutes=every, target_level=target, strand=said, visit=visit
    )


@clock.command("check")
def check(
    zone: ZoneArgument,
    level: Annotated[float | None, typer.Option(help="The level that is seen.")] = None,
    skin: Annotated[str | None, typer.Option(help="What the client says of the skin.")] = None,
    stretch: Annotated[str | None, typer.Option(help="How a wet strand stretches.")] = None,
    heat: Annotated[str | None, typer.Option(help="Whether the mix or the foil is hot.")] = None,
    salon: SalonOption = None,
) -> None:
    """Write down a look at a zone; signs of harm call the rinse at once."""
    from estimator.lifting.clock_events import Kind
    from estimator.lifting.stopping import NOT_SEEN

    felt = {"skin": skin, "stretch": stretch, "heat": heat}
    words = {sign: word or NOT_SEEN[sign] for sign, word in felt.items()}
    _write(salon, Kind.CHECK, zone, level=level, skin=words["skin"], stretch=words["stretch"], heat=words["heat"])


@clock.command("photo")
def photo_check(
    zone: ZoneArgument,
    photo: Annotated[Path, typer.Argument(help="One strand of the zone, wiped, blotted, dry, with the card.")],
    zones: ZonesOption = None,
    outline: Annotated[str, typer.Option(help="Which outline is the strand, where there are several.")] = "",
    salon: SalonOption = None,
) -> None:
    """Write down a look with a photograph: the curve is drawn anew from it."""
    from estimator.files import load_photo, load_zones
    from estimator.lifting.clock_events import Kind
    from estimator.visit import StrandPlace, read_check

    seen = read_check(load_photo(photo), StrandPlace(load_zones(zones, ()), outline))
    level = min(max(seen.level, 1.0), 10.0)
    _write(salon, Kind.CHECK, zone, level=level, photo_sha256=seen.photo_sha256, seen=seen.seen)


@clock.command("rinse")
def rinse(zone: ZoneArgument, salon: SalonOption = None) -> None:
    """Write down that a zone is rinsed: its clock stands."""
    from estimator.lifting.clock_events import Kind

    _write(salon, Kind.RINSE, zone)


@clock.command("heard")
def heard(zone: ZoneArgument, who: WhoOption, salon: SalonOption = None) -> None:
    """Say that the alarm of a passed maximum was heard; the call to rinse stands on."""
    from estimator.lifting.clock_events import Kind

    _write(salon, Kind.HEARD, zone, who=who)


@clock.command("limit")
def limit(
    zone: ZoneArgument,
    most: Annotated[float, typer.Option(help="Minutes at most, 1 to 50.")],
    who: WhoOption = "",
    why: Annotated[str, typer.Option(help="The reason; a longer maximum needs one, and a name.")] = "",
    salon: SalonOption = None,
) -> None:
    """Give a running zone another maximum; a longer one needs a name and a reason."""
    from estimator.lifting.clock_events import Kind

    _write(salon, Kind.LIMIT, zone, most_minutes=most, who=who, note=why)


@clock.command("settle")
def settle(
    zone: ZoneArgument,
    minutes: Annotated[float, typer.Option(help="What a watch says has passed since the start.")],
    who: WhoOption,
    why: Annotated[str, typer.Option(help="The reason.")],
    salon: SalonOption = None,
) -> None:
    """Settle by a watch how long a zone has run, where the machine's two clocks disagree."""
    from estimator.lifting.clock_events import Kind

    _write(salon, Kind.SETTLE, zone, true_minutes=minutes, who=who, note=why)


@clock.command("show")
def show(
    salon: SalonOption = None,
    curves: Annotated[Path | None, typer.Option(help="Write each zone's curve into this folder (SVG).")] = None,
) -> None:
    """Show every zone: minutes, next look, calls to rinse. Exit code 1 while an alarm sounds that nobody has heard."""
    from estimator import lift_console
    from estimator.lifting.clock_now import read_clock
    from estimator.lifting.clock_store import instant_now

    kept = _store(salon).load()
    zones = read_clock(kept, instant_now())
    lift_console.print_clock(zones)
    if curves is not None:
        lift_console.write_curves(curves, kept, zones)
    if any(zone.alarm for zone in zones):
        raise typer.Exit(1)


@clock.command("put-away")
def put_away(salon: SalonOption = None) -> None:
    """Put the finished clock away under its day, so that the next visit starts with an empty one."""
    from datetime import datetime

    path = _store(salon).put_away(datetime.now().astimezone())
    print(f"Put away: {path}" if path is not None else "There is no clock to put away.")


def _store(salon: Path | None) -> "ClockStore":
    from estimator.salon_settings import clock_store

    return clock_store(salon)


def _write(salon: Path | None, kind: "Kind", zone: str, **said: "Unpack[Said]") -> None:
    """Write one event down and show the clock as it stands then."""
    from estimator import lift_console
    from estimator.lifting.clock_events import new_event
    from estimator.lifting.clock_now import read_clock
    from estimator.lifting.clock_store import instant_now

    kept = _store(salon).add(new_event(kind, zone, instant_now(), **said))
    lift_console.print_clock(read_clock(kept, instant_now()))
