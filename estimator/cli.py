"""The command `tressmeter`: every command registered, and what went wrong told in one sentence."""

import os
import sys

import typer

from estimator.commands.backups import backup, restore
from estimator.commands.cards import cards
from estimator.commands.care import care
from estimator.commands.contacts import contacts, take_contacts
from estimator.commands.exchange import exchange
from estimator.commands.handing_out import client_calendar, export_all, import_all
from estimator.commands.intake import discard, inbox, invitations, invite, link, revoke
from estimator.commands.lift import lift
from estimator.commands.mixes import predict
from estimator.commands.photographs import clean, compare, correct, read
from estimator.commands.plans import plan, shelves
from estimator.commands.records import doctor, erase, export, records
from estimator.commands.remote import remote
from estimator.commands.results import learn, rescue, trial
from estimator.commands.scales import scales
from estimator.commands.serving import access, serve
from estimator.commands.sheets import sheets
from estimator.commands.stations import stations
from estimator.commands.visits import demo, visit
from estimator.terminal import guarded_terminal

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Measure how light and how warm hair is, zone by zone, from a photograph with a colour card; "
    "plan the toner; compare and document.",
)
for command in (
    *(read, compare, correct, predict, plan, visit, demo, trial, rescue, learn, clean),
    *(backup, restore, export, erase, doctor, serve),
):
    app.command()(command)
for sent_in in (invite, invitations, revoke, inbox, link, discard):
    remote.command()(sent_in)
records.command("contacts")(contacts)
records.command("take-contacts")(take_contacts)
records.command("calendar")(client_calendar)
records.command("export-all")(export_all)
records.command("import-all")(import_all)
app.add_typer(records, name="records")
app.add_typer(access, name="access")
app.add_typer(scales, name="scale")
app.add_typer(cards, name="card")
app.add_typer(care, name="care")
app.add_typer(lift, name="lift")
app.add_typer(exchange, name="exchange")
app.add_typer(remote, name="remote")
app.add_typer(sheets, name="sheet")
app.add_typer(shelves, name="shelf")
app.add_typer(stations, name="station")


def _stop(sentence: str) -> None:
    print(sentence, file=sys.stderr)
    raise SystemExit(1)


def main() -> None:
    """Run the command; what went wrong becomes one sentence and an exit code, never a traceback."""
    with guarded_terminal():
        _run()


def _run() -> None:
    from calibration.errors import CalibrationError
    from estimator.errors import EstimatorError

    try:
        app()
    except (EstimatorError, CalibrationError) as problem:
        _stop(str(problem))
    except KeyboardInterrupt:
        _stop("Stopped. Nothing half-written was left.")
    except MemoryError:
        _stop("This machine has too little free memory for that. Close other programs, or use a smaller photograph.")
    except Exception as problem:
        # The one place that catches broadly: a person gets a sentence, whatever happened.
        if "TRESSMETER_TRACE" in os.environ:
            raise
        _stop(
            f"Tressmeter failed in a way it should not ({type(problem).__name__}). Nothing was changed. "
            "Run it again with TRESSMETER_TRACE=1 set, and send what it prints to the developers."
        )
