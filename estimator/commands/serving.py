"""Commands that open the page's doors, and say who may come in: staff, phones, sessions, the audit trail."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.options import SalonOption
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from estimator.access.certificates import ServerFiles
    from estimator.access.database import AccessDatabase
    from estimator.access.roles import Role
    from estimator.serving.running import Doors

access = typer.Typer(no_args_is_help=True, help="Say who may use the page from a phone, and see who did.")
ROOT = Path(__file__).resolve().parents[2]

NameArgument = Annotated[str, typer.Argument(help="A member of staff, as the list has it.")]
PhoneArgument = Annotated[str, typer.Argument(help="A phone's name, or the beginning of its id.")]
RoleOption = Annotated[str, typer.Option("--role", help="owner, colourist or viewer.")]


def serve(  # noqa: PLR0913 - each is one option of the command
    network: Annotated[
        bool, typer.Option("--network", help="Open a second door, to paired phones in this network, with https.")
    ] = False,
    intake: Annotated[
        bool, typer.Option("--intake", help="With --network: clients with a one-time code can send photographs.")
    ] = False,
    address: Annotated[
        str, typer.Option("--address", help="This machine's address in the network; found without it.")
    ] = "",
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Port of the page on this machine.")] = 8501,
    network_port: Annotated[int, typer.Option("--network-port", min=1, max=65535, help="Port for phones.")] = 8443,
    certificate: Annotated[Path | None, typer.Option("--certificate", help="A certificate of your own, PEM.")] = None,
    key: Annotated[Path | None, typer.Option("--key", help="Its key, PEM.")] = None,
    salon: SalonOption = None,
) -> None:
    """The page on this machine; with --network also for paired phones."""
    from estimator.serving.running import Doors, serve_here, serve_network

    page = ROOT / "app.py"
    if not page.exists():
        raise BadInputError(f"The page {page} is not there. Run this from a checkout of the project.")
    folder = _folder(salon)
    if not network:
        print(f"The page: http://127.0.0.1:{port}   (Ctrl-C ends it)", flush=True)
        serve_here(page, port)
        return
    doors = Doors(folder, _address(address), port, network_port, certificate, key, intake)
    serve_network(page, doors, _say_open(doors))


def _say_open(doors: "Doors") -> "Callable[[ServerFiles], None]":
    def opened(files: "ServerFiles") -> None:
        print(f"On this machine: http://127.0.0.1:{doors.local_port}")
        print(f"For paired phones: {doors.network_link}")
        if files.fingerprint:
            print(f"The salon's certificate, SHA-256: {files.fingerprint}")
        print("Pair a phone: the page's screen Phones, or `tressmeter access pair`. Ctrl-C ends it.", flush=True)

    return opened


def _address(said: str) -> str:
    from estimator.serving.names import network_address, private_address

    return private_address(said or network_address())


@access.command("add")
def add(
    name: Annotated[str, typer.Argument(help="How the salon calls this person.")],
    role: RoleOption = "colourist",
    salon: SalonOption = None,
) -> None:
    """Add a member of staff; the PIN is asked for and never shown."""
    from estimator.access.people import add_person

    person = add_person(_database(salon), name, _role(role), _asked_pin())
    print(f"{person.name} is {_a(person.role.value)} now, and can unlock every paired phone.")


@access.command("people")
def list_people(salon: SalonOption = None) -> None:
    """The staff and their roles."""
    from estimator.access.people import people

    found = people(_database(salon))
    for person in found:
        print(f"{person.name}: {person.role.value}")
    if not found:
        print("Nobody yet. `tressmeter access add NAME --role owner` adds the first.")


@access.command("role")
def role_of(
    name: NameArgument,
    role: Annotated[str, typer.Argument(help="owner, colourist or viewer.")],
    salon: SalonOption = None,
) -> None:
    """Give a member of staff another role, at once."""
    from estimator.access.people import change_role, person_called

    database = _database(salon)
    person = person_called(database, name)
    change_role(database, person, _role(role))
    print(f"{person.name} is {_a(_role(role).value)} from now on.")


@access.command("pin")
def pin(name: NameArgument, salon: SalonOption = None) -> None:
    """Give a member of staff another PIN; what the old one unlocked is locked."""
    from estimator.access.people import person_called, set_pin

    database = _database(salon)
    set_pin(database, person_called(database, name), _asked_pin())
    print("The PIN is changed. What was unlocked with the old one is locked.")


@access.command("remove")
def remove(name: NameArgument, salon: SalonOption = None) -> None:
    """Take a member of staff off the list; what they unlocked is locked."""
    from estimator.access.people import end_person, person_called

    database = _database(salon)
    end_person(database, person_called(database, name))
    print("Taken off the list. The trail keeps a number and no name.")


@access.command("pair")
def pair(
    link: Annotated[str, typer.Option("--link", help="Where phones find this machine, as `serve` told it.")] = "",
    salon: SalonOption = None,
) -> None:
    """Show the code that pairs one phone, good for five minutes."""
    from estimator.access.phones import PAIRING_MINUTES, offer_pairing
    from estimator.intake.links import qr_in_letters
    from estimator.serving.names import network_address
    from estimator.serving.running import NETWORK_PORT

    beginning = link.rstrip("/") or f"https://{network_address()}:{NETWORK_PORT}"
    whole = f"{beginning}/pair/{offer_pairing(_database(salon))}"
    print(
        f"{qr_in_letters(whole)}\n{whole}\nIt pairs one phone within {PAIRING_MINUTES} minutes. Show it to nobody else."
    )


@access.command("phones")
def list_phones(salon: SalonOption = None) -> None:
    """Every paired phone, with the beginning of its id."""
    from estimator.access.phones import phones

    found = phones(_database(salon))
    for phone in found:
        print(f"{phone.id[:8]}  {phone.label}, paired {phone.paired_utc}")
    if not found:
        print("No phone is paired.")


@access.command("revoke")
def revoke_phone(phone: PhoneArgument, salon: SalonOption = None) -> None:
    """A lost phone opens nothing any more, at once."""
    from estimator.access.phones import phone_called, revoke

    database = _database(salon)
    revoke(database, phone_called(database, phone))
    print("Revoked. What it had unlocked is locked.")


@access.command("sessions")
def list_sessions(salon: SalonOption = None) -> None:
    """Who has unlocked which phone now."""
    from estimator.access.sessions import open_sessions

    found = open_sessions(_database(salon))
    for session in found:
        print(f"{session.id[:8]}  {session.person.name} on {session.phone.label}, since {session.begun_utc}")
    if not found:
        print("No phone is unlocked.")


@access.command("end")
def end(
    session: Annotated[str, typer.Argument(help="The beginning of a session's id, or `all`.")],
    salon: SalonOption = None,
) -> None:
    """Lock a phone from here."""
    from estimator.access.sessions import end_session, open_sessions

    database = _database(salon)
    found = [
        each
        for each in open_sessions(database)
        if session == "all" or (len(session) >= 6 and each.id.startswith(session))
    ]
    if not found:
        raise BadInputError("No open session begins so. `tressmeter access sessions` lists them.")
    for each in found:
        end_session(database, each.id)
    print(f"Locked: {len(found)}.")


@access.command("trail")
def trail(
    most: Annotated[int, typer.Option("--most", min=1, help="How many rows.")] = 50, salon: SalonOption = None
) -> None:
    """The audit trail, the newest first: what happened at the door, in numbers and without names."""
    from estimator.access.trail import trail_of

    for row in trail_of(_database(salon), most):
        print(f"{row.number}  {row.at_utc}  {row.what}  person {row.person[:8] or '-'}  phone {row.phone[:8] or '-'}")


def _database(salon: Path | None) -> "AccessDatabase":
    from estimator.access.database import AccessDatabase

    return AccessDatabase(_folder(salon))


def _folder(salon: Path | None) -> Path:
    from estimator.records.place import usual_folder

    return salon or usual_folder()


def _role(said: str) -> "Role":
    from estimator.access.roles import Role

    try:
        return Role(said.strip().lower())
    except ValueError as problem:
        raise BadInputError(f"{said[:20]!r} is no role. Write owner, colourist or viewer.") from problem


def _a(role: str) -> str:
    return f"an {role}" if role[0] in "aeiou" else f"a {role}"


def _asked_pin() -> str:
    """A PIN typed twice at the terminal, or one line of what is handed in."""
    import sys
    from getpass import getpass

    if not sys.stdin.isatty():
        return sys.stdin.readline().strip()
    first = getpass("PIN, 6 to 12 digits: ")
    if getpass("Once more: ") != first:
        raise BadInputError("The two PINs differ. Nothing was changed; do it again.")
    return first
