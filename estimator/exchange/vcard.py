"""Contacts as vCard: 4.0 (RFC 6350) out, 4.0 and 3.0 (RFC 2426) in."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from estimator.errors import BadInputError
from estimator.exchange.contacts import Agreed, Contact, bounded, checked_count, day_of, joined
from estimator.exchange.content_lines import escaped_text, folded_lines, plain_text, unfolded_lines

CODE, WAYS = "X-TRESSMETER-CODE", "X-TRESSMETER-CONTACT"
AGREED_ON, AGREED_HOW = "X-TRESSMETER-RECORD-CONSENT-ON", "X-TRESSMETER-RECORD-CONSENT-HOW"
_UID = "urn:uuid:"
_NAME = re.compile(r"(?:[A-Za-z0-9-]+\.)?([A-Za-z0-9-]+)")
READ_VERSIONS = ("3.0", "4.0")


def vcards_of(contacts: tuple[Contact, ...]) -> str:
    """The contacts as one vCard 4.0 file, lines ending in CRLF."""
    return "".join(line for contact in contacts for line in _card(contact))


def _card(contact: Contact) -> Iterator[str]:
    yield from folded_lines(["BEGIN:VCARD", "VERSION:4.0", "PRODID:-//Tressmeter//Records//EN", "KIND:individual"])
    told = [("FN", contact.name or contact.code)]
    told += [("EMAIL", email) for email in contact.emails] + [("TEL", phone) for phone in contact.phones]
    if joined(*contact.emails, *contact.phones) != contact.contact:
        told.append((WAYS, contact.contact))
    if not contact.name:
        told.append(("X-TRESSMETER-NAMELESS", "1"))  # FN may not be empty (RFC 6350, 6.2.1), so it repeats the code
    if contact.code:
        told.append((CODE, contact.code))
    if contact.agreed:
        told += [(AGREED_ON, contact.agreed.on.isoformat()), (AGREED_HOW, contact.agreed.how)]
    lines = [f"{name}:{escaped_text(value)}" for name, value in told]
    if contact.uid:
        lines.append(f"UID:{_UID}{_hyphened(contact.uid)}")
    yield from folded_lines([*lines, "END:VCARD"])


def _hyphened(uid: str) -> str:
    return "-".join((uid[:8], uid[8:12], uid[12:16], uid[16:20], uid[20:]))


# --- and back


@dataclass(frozen=True)
class _Property:
    name: str
    parameters: str
    value: str


def contacts_of_vcard(text: str) -> tuple[Contact, ...]:
    """The contacts in a vCard file of any program; pictures, addresses, birthdays and notes are left where they are.

    Raises
    ------
    BadInputError : It is no vCard file, of another version, or damaged; the sentence names the card.
    """
    cards: list[list[_Property]] = []
    open_card: list[_Property] | None = None
    for line in unfolded_lines(bounded(text)):
        told = _property(line)
        if told is None:
            continue
        if (told.name, told.value.upper()) == ("BEGIN", "VCARD"):
            if open_card is not None:
                raise BadInputError(f"Card {len(cards) + 1} of the vCard file does not end. Export the file again.")
            open_card = []
        elif (told.name, told.value.upper()) == ("END", "VCARD"):
            if open_card is None:
                raise BadInputError(f"Card {len(cards) + 1} of the vCard file has no beginning. Export it again.")
            cards.append(open_card)
            open_card = None
        elif open_card is not None:
            open_card.append(told)
    if open_card is not None:
        raise BadInputError(f"Card {len(cards) + 1} of the vCard file does not end: the file is cut short.")
    return checked_count(tuple(_contact(card, number) for number, card in enumerate(cards, start=1)))


def _property(line: str) -> _Property | None:
    """The parts of a content line; a colon within quotation marks belongs to a parameter. None for a line without."""
    quoted = False
    for place, sign in enumerate(line):
        if sign == '"':
            quoted = not quoted
        elif sign == ":" and not quoted:
            head, value = line[:place], line[place + 1 :]
            name, _, parameters = head.partition(";")
            match = _NAME.fullmatch(name.strip())
            return _Property(match[1].upper(), parameters.upper(), value) if match else None
    return None


def _contact(card: list[_Property], number: int) -> Contact:
    version = next((told.value.strip() for told in card if told.name == "VERSION"), "")
    if version not in READ_VERSIONS:
        raise BadInputError(
            f"Card {number} is vCard {version[:20] or 'without a version'}; 3.0 and 4.0 are read. Export the file as "
            "one of these."
        )
    said = {told.name: plain_text(told.value).strip() for told in reversed(card)}  # the first of each name counts
    name = "" if "X-TRESSMETER-NAMELESS" in said else said.get("FN") or _from_parts(card)
    ways = joined(*(_way(told) for told in card if told.name in ("EMAIL", "TEL")))
    agreed = None
    if said.get(AGREED_ON):
        agreed = Agreed(day_of(said[AGREED_ON], f"Card {number}"), said.get(AGREED_HOW) or "as the file says")
    return Contact(name, said.get(WAYS, ways), said.get(CODE, ""), _uid(said.get("UID", "")), agreed)


def _from_parts(card: list[_Property]) -> str:
    """The name from N, where a card lacks FN: family name; given name; others."""
    told = next((each.value for each in card if each.name == "N"), "")
    family, given, *_ = [*re.split(r"(?<!\\);", told), "", ""]
    return " ".join(part for part in (plain_text(given).strip(), plain_text(family).strip()) if part)


def _way(told: _Property) -> str:
    value = plain_text(told.value).strip()
    return re.sub(r"^(tel|mailto):", "", value, flags=re.IGNORECASE).split(";")[0]


def _uid(text: str) -> str:
    digits = text.removeprefix(_UID).replace("-", "").lower()
    return digits if re.fullmatch(r"[0-9a-f]{32}", digits) else ""
