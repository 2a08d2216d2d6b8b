"""Commands on the records that hand something out, or take it back in: calendar, the whole salon."""

from pathlib import Path
from typing import Annotated

import typer

from estimator.commands.records import ClientArgument, SalonOption, WhoOption, opened


def client_calendar(  # noqa: PLR0913 - each is one option of the command
    client: ClientArgument,
    file: Annotated[Path, typer.Argument(help="The calendar; a name ending in .ics. An older one is replaced.")],
    next_visits: Annotated[
        list[str] | None, typer.Option("--next", help="A next visit, such as 2026-12-01T10:00; may be repeated.")
    ] = None,
    lightener: Annotated[bool, typer.Option("--lightener", help="Lightener is planned for the next visits.")] = False,
    label: Annotated[str, typer.Option("--label", help="What the calendar calls the client; neutral without.")] = "",
    with_name: Annotated[bool, typer.Option("--with-name", help="Write the client's name into it.")] = False,
    salon: SalonOption = None,
) -> None:
    """What follows a client's visits as a calendar: next visits, patch test 48 hours before, a look at fading."""
    from datetime import UTC, datetime

    from estimator import console
    from estimator.errors import BadInputError
    from estimator.exchange.client_calendar import Wish, calendar_of, follow_ups, moment_of, neutral_label
    from estimator.files import write_text
    from estimator.records.clients import client as details

    if file.suffix.lower() != ".ics":
        raise BadInputError(f"A calendar's name ends in .ics, not in {file.suffix or 'nothing'}.")
    with opened(salon) as store:
        known = details(store, client)
        called = (known.name or known.code) if with_name else label or neutral_label(known.id)
        wishes = tuple(Wish(moment_of(text), lightener) for text in next_visits or ())
        found = follow_ups(store, client, wishes, called)
    if not found:
        raise BadInputError("Nothing follows yet: no visit is kept, and no --next was given.")
    write_text(file, calendar_of(found, datetime.now(UTC)))
    console.table_of(("when", "what"), [(f"{each.starts:%Y-%m-%d}", each.title) for each in found])
    print(f"Calendar: {file}")
    if with_name:
        print("It names the client: a calendar often lies with a company elsewhere, and is seen by many.")


def export_all(
    file: Annotated[Path, typer.Argument(help="The new zip file.")],
    salon: SalonOption = None,
) -> None:
    """The whole salon in one zip file that any program can read: JSON, tables, photographs, reports, SHA-256 list."""
    from estimator.access.trail import Happened, note_at
    from estimator.exchange.salon import export_salon

    with opened(salon) as store:
        handed = export_salon(store, file)
        note_at(store.place.folder, Happened.SALON_EXPORTED)
    print(f"{handed.clients} clients and {handed.files} files written to {file}. It is as private as the records.")
    if handed.missing:
        print(f"{handed.missing} files are missing from the records. `tressmeter doctor` says more.")
    _tell(handed.left_alone)


def import_all(
    file: Annotated[Path, typer.Argument(help="A file that `tressmeter records export-all` wrote.")],
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:
    """Take in every client of a salon's export; again changes nothing, and who differs is left alone."""
    from estimator.exchange.salon import import_salon, try_import_salon
    from estimator.records.place import salon_place, usual_folder
    from estimator.records.store import open_store

    place = salon_place(salon or usual_folder())
    if not place.begun and (refused := try_import_salon(file)):  # a file that is refused begins no records
        _tell(refused)
        print("Nobody was taken in.")
        raise typer.Exit(1)
    with open_store(place, who) as store:
        handed = import_salon(store, file)
    print(f"{handed.clients} clients taken in with {handed.files} files; {handed.known} were there already.")
    _tell(handed.left_alone)
    if handed.left_alone:
        raise typer.Exit(1)


def _tell(sentences: list[str]) -> None:
    for sentence in sentences[:20]:
        print(f"Left alone: {sentence}")
    if len(sentences) > 20:
        print(f"And {len(sentences) - 20} more.")
