"""A client as an address book knows one: name, code, ways to reach; and who may be the same person."""

import re
from dataclasses import dataclass
from datetime import date

from estimator.errors import BadInputError
from estimator.records.search_keys import folded

MOST_CONTACTS = 20_000
MOST_BYTES = 50_000_000
_EMAIL = re.compile(r"[^\s@;,<>\"]+@[^\s@;,<>\"]+\.[^\s@;,<>\"]+")
_PHONE = re.compile(r"\+?[\d\s()/.\-]{5,30}")
_BETWEEN = "; "
# National and international forms of one number end in the same digits; fewer than these are extensions. [digits]
SAME_PHONE_DIGITS = 9
FEWEST_PHONE_DIGITS = 5


@dataclass(frozen=True)
class Agreed:
    """When and how a client agreed to the record."""

    on: date
    how: str


@dataclass(frozen=True)
class Contact:
    """One client.

    code : As the salon writes it; "" where the file has none. contact : How to reach them, as the records keep it.
    uid : 32 digits that name the client in the records; "" for strangers. agreed : None where the file does not say.
    """

    name: str
    contact: str = ""
    code: str = ""
    uid: str = ""
    agreed: Agreed | None = None

    @property
    def emails(self) -> tuple[str, ...]:
        """Every e-mail address in `contact`."""
        return tuple(piece for piece in pieces(self.contact) if _EMAIL.fullmatch(piece))

    @property
    def phones(self) -> tuple[str, ...]:
        """Every phone number in `contact`."""
        return tuple(piece for piece in pieces(self.contact) if is_phone(piece))

    @property
    def marks(self) -> frozenset[tuple[str, str]]:
        """What the same person shares with themselves: folded name, e-mail, end of the phone number."""
        found = {("e-mail", email.casefold()) for email in self.emails}
        found |= {("phone", phone_key(phone)) for phone in self.phones}
        name = folded(self.name)
        return frozenset(found | {("name", name)} if name else found)


def pieces(contact: str) -> list[str]:
    """The ways to reach somebody, one by one."""
    return [piece.strip() for piece in re.split(r"[;,\n]", contact) if piece.strip()]


def joined(*ways: str) -> str:
    """Ways to reach somebody as one text."""
    return _BETWEEN.join(way.strip() for way in ways if way.strip())


def is_phone(text: str) -> bool:
    """Whether the text is a phone number and nothing else."""
    return bool(_PHONE.fullmatch(text)) and len(re.sub(r"\D", "", text)) >= FEWEST_PHONE_DIGITS


def phone_key(phone: str) -> str:
    """The end of a phone number, by which its national and its international form are the same."""
    digits = re.sub(r"\D", "", phone)
    return digits[-SAME_PHONE_DIGITS:]


def initials(name: str) -> str:
    """A code made of a name, such as "M. D."."""
    words = [word for word in re.split(r"[\s\-]+", name) if word and word[0].isalpha()]
    return " ".join(f"{word[0].upper()}." for word in (words[:1] + words[-1:] if len(words) > 1 else words)) or "C."


def bounded(text: str) -> str:
    """The text of a file of contacts. Raises BadInputError where it is too large."""
    if len(text) > MOST_BYTES:
        raise BadInputError(f"The contacts have {len(text)} characters; {MOST_BYTES} are allowed. Split the file.")
    return text


def checked_count(contacts: tuple[Contact, ...]) -> tuple[Contact, ...]:
    """The contacts, once it is sure that there are some and not too many. Raises BadInputError."""
    if not contacts:
        raise BadInputError("The file holds no contact. Choose another one.")
    if len(contacts) > MOST_CONTACTS:
        raise BadInputError(f"The file holds {len(contacts)} contacts; {MOST_CONTACTS} are allowed. Split it.")
    return contacts


def day_of(text: str, where: str) -> date:
    """The day that a text names. Raises BadInputError."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise BadInputError(f"{where}: {text[:40]!r} is no day. Write it as 2026-10-05.") from None
