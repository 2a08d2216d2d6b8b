"""Commands on clients as an address book knows them: out, and in with a look first."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.commands.records import SalonOption, WhoOption, opened
from estimator.errors import BadInputError

if TYPE_CHECKING:
    from estimator.exchange.contacts import Contact
    from estimator.exchange.taking_contacts import Choice, Judged

MOST_SHOWN = 200


def contacts(
    file: Annotated[Path, typer.Argument(help="A new file: .vcf for vCard 4.0, .csv for a table.")],
    demo: Annotated[bool, typer.Option("--demo", help="Demo clients instead of real ones.")] = False,
    salon: SalonOption = None,
) -> None:
    """Write every client who has agreed to the record as vCard or CSV: name, code, ways to reach them, consent."""
    from estimator.exchange.contacts_csv import contacts_to_csv
    from estimator.exchange.taking_contacts import contacts_kept
    from estimator.exchange.vcard import vcards_of
    from estimator.files import write_new_bytes

    written = {".vcf": vcards_of, ".csv": contacts_to_csv}.get(file.suffix.lower())
    if written is None:
        raise BadInputError(f"Contacts are written as .vcf or .csv, not as {file.suffix or 'a file without ending'}.")
    with opened(salon) as store:
        kept = contacts_kept(store, demo)
    write_new_bytes(file, written(kept).encode("utf-8"))
    print(f"{len(kept)} clients written to {file}. It names them: keep it as you keep the records.")


def take_contacts(  # noqa: PLR0913 - each is one option of the command
    file: Annotated[Path, typer.Argument(help="A vCard (3.0, 4.0) or CSV file of clients.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without it only what would happen is shown.")] = False,
    columns: Annotated[
        str, typer.Option("--columns", help="Columns of a CSV with other names: name=Client,phone=Mobile.")
    ] = "",
    agreed_on: Annotated[
        str | None, typer.Option("--agreed-on", help="The day on which all in the file agreed to a record.")
    ] = None,
    how: Annotated[str, typer.Option("--how", help="How they agreed: signed, spoken, by a tap.")] = "signed",
    also: Annotated[str, typer.Option("--also", help="Numbers of duplicates that are somebody new: 3,5.")] = "",
    salon: SalonOption = None,
    who: WhoOption = "",
) -> None:
    """Take clients from an address book: shown first, duplicates named, none kept who has not agreed to a record."""
    from estimator.exchange import taking_contacts

    found, choice = _read(file, columns), _choice(agreed_on, how, also)
    with opened(salon, who) as store:
        judged = (taking_contacts.take_in if yes else taking_contacts.preview)(store, found, choice)
    _show(judged, yes)


def _read(file: Path, columns: str) -> "tuple[Contact, ...]":
    from estimator.exchange.contacts import MOST_BYTES
    from estimator.exchange.contacts_csv import columns_from_text, contacts_of_csv
    from estimator.exchange.vcard import contacts_of_vcard
    from estimator.files import load_bytes

    try:
        text = load_bytes(file, MOST_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError(f"{file.name} is not text (UTF-8). Save it as UTF-8, then try again.") from problem
    if text.lstrip().upper().startswith("BEGIN:VCARD"):
        return contacts_of_vcard(text)
    return contacts_of_csv(text, columns_from_text(columns))


def _choice(agreed_on: str | None, how: str, also: str) -> "Choice":
    from estimator.exchange.contacts import Agreed, day_of
    from estimator.exchange.taking_contacts import Choice

    agreed = Agreed(day_of(agreed_on, "--agreed-on"), how) if agreed_on else None
    numbers = [part.strip() for part in also.split(",") if part.strip()]
    if not all(number.isascii() and number.isdigit() for number in numbers):
        raise BadInputError(f"--also is {also[:40]!r}. Write numbers of contacts, such as 3,5.")
    return Choice(agreed, frozenset(map(int, numbers)))


def _show(judged: "tuple[Judged, ...]", done: bool) -> None:
    from estimator import console
    from estimator.exchange.taking_contacts import TAKEN, Fate, counts

    rows = [
        (str(each.number), each.contact.code, each.contact.name, each.contact.contact, each.fate.value, each.why)
        for each in judged[:MOST_SHOWN]
    ]
    console.table_of(("no.", "code", "name", "contact", "what", "why"), rows)
    if len(judged) > MOST_SHOWN:
        print(f"And {len(judged) - MOST_SHOWN} more.")
    count = counts(judged)
    taken = sum(count[fate] for fate in TAKEN)
    print(f"{taken} {'taken in' if done else 'would be taken in'}, {count[Fate.KNOWN]} known already, "
          f"{count[Fate.DUPLICATE]} duplicates, {count[Fate.TO_BE_ASKED]} to be asked first, "
          f"{count[Fate.UNUSABLE]} unusable.")  # fmt: skip
    if count[Fate.TO_BE_ASKED]:
        print("Nobody is kept who has not agreed to a record. Ask, then say it with --agreed-on DAY, or in the file.")
    if not done:
        print("Nothing was written. Do it with --yes.")
