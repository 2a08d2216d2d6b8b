"""Contacts as CSV, out and in: columns by their usual names, or as a person says."""

import csv
import io
from collections.abc import Mapping

from estimator.errors import BadInputError
from estimator.exchange.contacts import Agreed, Contact, bounded, checked_count, day_of, joined
from estimator.spreadsheet_cells import csv_text, from_cell

COLUMNS = ("code", "name", "email", "phone", "contact", "record_consent_on", "record_consent_how", "uid")
# What address books call these columns, without spaces, hyphens and case.
_KNOWN_AS = {
    "code": ("code", "clientcode", "client"),
    "name": ("name", "fullname", "displayname"),
    "first name": ("firstname", "givenname", "forename"),
    "last name": ("lastname", "familyname", "surname"),
    "email": ("email", "mail", "emailaddress", "email1value"),
    "phone": ("phone", "telephone", "tel", "phonenumber", "phone1value"),
    "mobile": ("mobile", "mobilephone", "cell", "cellphone"),
    "contact": ("contact",),
    "record_consent_on": ("recordconsenton",),
    "record_consent_how": ("recordconsenthow",),
    "uid": ("uid",),
}


def contacts_to_csv(contacts: tuple[Contact, ...]) -> str:
    """The contacts as CSV: `contact` holds every way to reach a client, `email` and `phone` the first of each."""
    return csv_text(COLUMNS, map(_row, contacts))


def _row(contact: Contact) -> dict[str, str]:
    agreed = contact.agreed
    return {
        "code": contact.code,
        "name": contact.name,
        "email": contact.emails[0] if contact.emails else "",
        "phone": contact.phones[0] if contact.phones else "",
        "contact": contact.contact,
        "record_consent_on": agreed.on.isoformat() if agreed else "",
        "record_consent_how": agreed.how if agreed else "",
        "uid": contact.uid,
    }


def columns_from_text(text: str) -> dict[str, str]:
    """What a person says of columns: "name=Client,phone=Mobile no" by our name. Raises BadInputError."""
    chosen: dict[str, str] = {}
    for part in filter(None, (piece.strip() for piece in text.split(","))):
        ours, equals, theirs = (piece.strip() for piece in part.partition("="))
        if not equals or not theirs or ours not in _KNOWN_AS:
            raise BadInputError(
                f"--columns holds {part!r}. Write ours=theirs, such as name=Client; ours are: {', '.join(_KNOWN_AS)}."
            )
        chosen[ours] = theirs
    return chosen


def contacts_of_csv(text: str, chosen: Mapping[str, str]) -> tuple[Contact, ...]:
    """The contacts in a CSV file; commas, semicolons or tabs between cells.

    chosen : The file's column for each of ours that a person named; the rest is found by its usual names.

    Raises
    ------
    BadInputError : No column holds a name, a chosen column is not there, or the file is no CSV.
    """
    rows = _rows(bounded(text))
    head = [cell.strip() for cell in rows[0]] if rows else []
    place = _places(head, chosen)
    if not {"name", "first name", "last name", "code"} & set(place):
        raise BadInputError(
            f"No column of the file holds a name. It has: {', '.join(head[:20])[:300]}. "
            "Say which with --columns name=COLUMN."
        )
    return checked_count(tuple(_contact(_Cells(row, place), n) for n, row in enumerate(rows[1:], start=2)))


def _rows(text: str) -> list[list[str]]:
    plain = text.removeprefix("\ufeff")
    first = plain.split("\n", 1)[0]
    between = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(plain, newline=""), delimiter=between, strict=True)
    try:
        return [row for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as broken:
        raise BadInputError(
            f"The file is no whole CSV near line {reader.line_num} ({broken}). Save it again as CSV (UTF-8)."
        ) from None


def _places(head: list[str], chosen: Mapping[str, str]) -> dict[str, int]:
    """Where each of our columns stands in the file."""
    missing = [theirs for theirs in chosen.values() if theirs not in head]
    if missing:
        raise BadInputError(f"The file has no column {missing[0][:60]!r}. It has: {', '.join(head[:20])[:300]}.")
    plain = ["".join(sign for sign in cell.casefold() if sign.isalnum()) for cell in head]
    found = {
        ours: next(plain.index(word) for word in words if word in plain)
        for ours, words in _KNOWN_AS.items()
        if set(words) & set(plain)
    }
    return found | {ours: head.index(theirs) for ours, theirs in chosen.items()}


class _Cells:
    """One row, by our names of its columns."""

    def __init__(self, row: list[str], place: Mapping[str, int]) -> None:
        self._row, self._place = row, place

    def __getitem__(self, ours: str) -> str:
        place = self._place.get(ours)
        return from_cell(self._row[place]) if place is not None and place < len(self._row) else ""


def _contact(cells: _Cells, number: int) -> Contact:
    name = cells["name"] or joined_name(cells["first name"], cells["last name"])
    ways = cells["contact"] or joined(cells["email"], cells["phone"], cells["mobile"])
    agreed = None
    if cells["record_consent_on"].strip():
        day = day_of(cells["record_consent_on"], f"Row {number}")
        agreed = Agreed(day, cells["record_consent_how"] or "as the file says")
    return Contact(name, ways, cells["code"], cells["uid"], agreed)


def joined_name(first: str, last: str) -> str:
    """A whole name from its parts."""
    return " ".join(part for part in (first.strip(), last.strip()) if part)
