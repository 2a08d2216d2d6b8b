"""Commands for a consultation from a client's own photographs: the sheet to photograph by, and reading what came."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from estimator.intake.entry import Entry
    from estimator.remote.bundle import Bundle

remote = typer.Typer(no_args_is_help=True, help="A consultation from a client's own photographs.")


@remote.command("sheet")
def sheet(
    out: Annotated[Path, typer.Option("--out", help="Where the sheet goes: .pdf, .html or .png.")],
    salon: Annotated[str, typer.Option(help="The salon's name, as it stands on the sheet.")] = "Your salon",
) -> None:
    """Write the sheet by which a client takes photographs at home."""
    from datetime import date

    from estimator.intake.asked import asked_on
    from estimator.remote.views import asked_views
    from estimator.reports.intake_sheet import intake_form, intake_html, intake_sheet
    from estimator.reports.writing import write_form

    questions = [asked.text for page in ("hair", "health") for asked in asked_on(page)]
    made = intake_sheet(salon, asked_views(), questions)
    html = {".html": lambda: intake_html(made).encode("utf-8")}
    for path in write_form(out, intake_form(made, date.today()), html):
        print(f"Sheet: {path}")


@remote.command("read")
def read(  # noqa: PLR0913 - the options of a command are its parameters
    sent: Annotated[
        Path, typer.Argument(help="A folder, a zip or an exported chat; or a name that `remote inbox` prints.")
    ],
    view: Annotated[list[str] | None, typer.Option(help="Which view a photograph shows: IMG_1.jpg=back.")] = None,
    white: Annotated[
        list[str] | None, typer.Option(help="Where a white sheet lies in a photograph: IMG_1.jpg=900,140,25 (pixels).")
    ] = None,
    facts: Annotated[Path | None, typer.Option(help="What the client answered: a TOML file with [facts].")] = None,
    wish: Annotated[str | None, typer.Option(help="What the client hopes for, as LEVEL,TONE: 9,beige.")] = None,
    client: Annotated[str, typer.Option(help="Initials or a code, for the reply.")] = "you",
    salon: Annotated[str, typer.Option(help="The salon's name, for the reply.")] = "Your salon",
    out: Annotated[
        Path | None, typer.Option("--out", help="Write a reply to change: .txt, .html, .pdf or .png.")
    ] = None,
    inbox: Annotated[
        Path | None, typer.Option("--inbox", help="Folder of the salon whose inbox it is; the usual one without it.")
    ] = None,
) -> None:
    """Sort and read the photographs that a client sent, and draft a reply. Nothing is sent."""
    from dataclasses import replace
    from datetime import date

    from estimator import remote_console
    from estimator.remote.arguments import about_photos, answered, wished
    from estimator.remote.consultation import consult
    from estimator.visit import Consultation

    bundle, entry = _taken(sent, inbox)
    names = [file.name for file in bundle.photos]
    about = about_photos(view or [], white or [], names)
    about = replace(about, views={**entry.views, **about.views})
    told = answered(facts) if facts is not None else entry.facts
    found = consult(bundle, Consultation(told, date.today()), about, wished(wish) or entry.wish)
    remote_console.print_consultation(found)
    if out is not None:
        from estimator.commands.letters import write_letter
        from estimator.remote.reply import reply_to
        from estimator.reports.document import Heading

        heading = Heading(client, salon, date.today())
        for path in write_letter(reply_to(heading, found), heading.day, out):
            print(f"Draft of a reply: {path}")
    if found.estimate is None:
        raise typer.Exit(1)


def _taken(sent: Path, salon: Path | None) -> "tuple[Bundle, Entry]":
    """The photographs and what the client told with them: nothing beside photographs from outside the inbox."""
    from estimator.intake.entry import Entry
    from estimator.intake.inbox import Inbox, names_consultation
    from estimator.records.place import salon_place, usual_folder
    from estimator.remote.bundle import open_bundle

    if sent.exists() or not names_consultation(str(sent)):
        return open_bundle(sent), Entry()
    told, bundle = Inbox(salon_place(salon or usual_folder())).read(str(sent))
    return bundle, told.entry
