"""Commands for photographs that come in by the salon's own page: invitations by a one-time code, and the inbox."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.options import SalonOption

if TYPE_CHECKING:
    from estimator.intake.inbox import Inbox

SentArgument = Annotated[str, typer.Argument(help="The consultation's name, as `remote inbox` prints it.")]


def inbox_of(salon: Path | None) -> "Inbox":
    """The inbox of a salon."""
    from estimator.intake.inbox import Inbox
    from estimator.records.place import salon_place, usual_folder

    return Inbox(salon_place(salon or usual_folder()))


def invite(
    hours: Annotated[float, typer.Option(min=1, max=336, help="For how long the link is open.")] = 72,
    photos: Annotated[int, typer.Option(min=1, max=40, help="How many photographs it takes.")] = 12,
    client: Annotated[str, typer.Option(help="The client's code, so that it is erased with the client.")] = "",
    address: Annotated[str, typer.Option(help="Where the salon's page is reached.")] = "",
    qr: Annotated[Path | None, typer.Option("--qr", help="Write the QR code as a new SVG file.")] = None,
    salon: SalonOption = None,
) -> None:
    """Make a link by which one client sends photographs and answers, once."""
    from estimator.files import write_new_bytes
    from estimator.intake import links
    from estimator.intake.limits import Limits

    links.intake_link(address or links.USUAL_ADDRESS, "")  # what is wrong with it is told before a code is made
    made = inbox_of(salon).invite(Limits(hours=hours, photos=photos), client)
    link = links.intake_link(address or links.USUAL_ADDRESS, made.code)
    print(f"Link, shown this once: {link}\n")
    print(links.qr_in_letters(link))
    print(f"Open for {hours:g} hours, for {photos} photographs.")
    print(f"To close it: tressmeter remote revoke {made.invitation.id}")
    if not links.opens_elsewhere(link):
        print("This link opens on this machine only. Give the address that phones reach with --address.")
    elif not links.is_guarded(link):
        print("Without https others on the way can read along. Use an address that begins with https.")
    if qr is not None:
        write_new_bytes(qr, links.qr_file(link))
        print(f"QR code: {qr}")


def invitations(salon: SalonOption = None) -> None:
    """Every invitation: open, sent, revoked or expired. No code is shown; none is kept."""
    from estimator.reports import wording

    found = inbox_of(salon).invitations()
    for listed in found:
        each = listed.invitation
        until = each.expires_utc.astimezone()
        whose = f", for {each.client}" if each.client else ""
        day = wording.date_text(until.date())
        print(f"{each.id}  {listed.state.value}, until {day}, {until:%H:%M}, {each.limits.photos} photographs{whose}")
    if not found:
        print("There are no invitations. `tressmeter remote invite` makes one.")


def revoke(
    invitation: Annotated[str, typer.Argument(help="The invitation's name, as `remote invitations` prints it.")],
    salon: SalonOption = None,
) -> None:
    """Close an invitation; what was put in and not sent is taken out."""
    was_open = inbox_of(salon).revoke(invitation)
    print("Closed. The link opens nothing any more." if was_open else "It was not open any more; nothing was changed.")


def inbox(salon: SalonOption = None) -> None:
    """Consultations that clients sent, the latest first."""
    from estimator.reports import wording

    found = inbox_of(salon).sent()
    for each in found:
        here = each.sent_utc.astimezone()
        day, count = wording.date_text(here.date()), wording.count_text(len(each.entry.photos), "photograph")
        agreed = wording.list_text([consent.scope.value for consent in each.entry.consents])
        whose = f", of {each.client}" if each.client else ""
        print(f"{each.id}  {day}, {here:%H:%M}, {count}{whose}; agreed to: {agreed or 'it can not be read'}")
    print("To read one: tressmeter remote read NAME" if found else "The inbox is empty.")


def link(
    sent: SentArgument,
    client: Annotated[str, typer.Argument(help="The client's code.")],
    salon: SalonOption = None,
) -> None:
    """Say whose consultation it is, so that it is erased with the client."""
    inbox_of(salon).link(sent, client)
    print(f"Linked to {client}.")


def discard(
    sent: SentArgument,
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without this nothing is taken out.")] = False,
    salon: SalonOption = None,
) -> None:
    """Take one consultation out of the inbox, with its photographs and answers."""
    from estimator.errors import BadInputError

    if not yes:
        raise BadInputError("Its photographs and answers would go for good, and nothing was taken out. Say --yes.")
    inbox_of(salon).discard(sent)
    print("Taken out.")
