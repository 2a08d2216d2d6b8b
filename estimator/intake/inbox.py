"""The salon's side: invitations made, listed and revoked; what was sent, listed, read, linked and discarded.

In the salon's folder, `intake/open/ID` holds what a client gives and has not sent; sending renames it to
`intake/sent/ID`, so that a consultation is in the inbox whole or not at all.
"""

import json
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from estimator.errors import BadInputError
from estimator.intake.codes import hash_of_code, new_code, same
from estimator.intake.entry import Entry, SentConsultation, entry_from_json, entry_json
from estimator.intake.invitation import Invitation, State, invitation_for
from estimator.intake.invitation_book import InvitationBook, OpenBook
from estimator.intake.limits import Limits
from estimator.intake.seen_time import SeenTime
from estimator.records.errors import NotKeptError, RecordsError
from estimator.records.place import SalonPlace
from estimator.records.sent_in import SENT_FILE, SentInFiles, forget_sent_in, intake_folder
from estimator.remote.bundle import Bundle, SentFile

SENT_FORMAT = "tressmeter-sent-1"
MOST_CODE = 80  # letters of a client's code
MOST_OPEN = 200  # invitations open at a time
MOST_ENDED = 200  # kept in the list after their end, the latest
_ID = re.compile(r"[0-9a-f]{12}")


@dataclass(frozen=True)
class Invited:
    """A new invitation and its code, which is told this once and kept nowhere."""

    invitation: Invitation
    code: str


@dataclass(frozen=True)
class Listed:
    """One invitation as it stands."""

    invitation: Invitation
    state: State


class Inbox:
    """The invitations and sent consultations of one salon."""

    def __init__(self, place: SalonPlace, files: SentInFiles | None = None, time: SeenTime | None = None) -> None:
        self.place, self.folder = place, intake_folder(place)
        self.files = files or SentInFiles(place)
        self.time = time or SeenTime()
        self.book = InvitationBook(self.files, self.time)

    def open_folder(self, invitation_id: str) -> Path:
        """Where an open invitation keeps what it was given."""
        return self.folder / "open" / self._checked(invitation_id)

    def sent_folder(self, invitation_id: str) -> Path:
        """Where a sent consultation lies; `tressmeter remote read` takes it as it takes any folder."""
        return self.folder / "sent" / self._checked(invitation_id)

    @staticmethod
    def _checked(invitation_id: str) -> str:
        if not _ID.fullmatch(invitation_id):
            raise NotKeptError(f"{invitation_id[:40]!r} names no consultation. `tressmeter remote inbox` lists them.")
        return invitation_id

    @contextmanager
    def held(self) -> Iterator[OpenBook]:
        """The list of invitations for one change at a time, tidied first."""
        with self.book.held(self._tidy) as book:
            yield book

    # ---- invitations

    def invite(self, limits: Limits | None = None, client: str = "") -> Invited:
        """A new invitation. Raises BadInputError where too many are open."""
        code, invitation_id = new_code(), secrets.token_hex(6)
        with self.held() as book:
            standing = [each for each in book.invitations.values() if each.state_at(book.now) is State.OPEN]
            if len(standing) >= MOST_OPEN:
                raise BadInputError(f"{MOST_OPEN} invitations are open. Revoke those that are not needed.")
            if not standing:  # nothing waits for its end, so a clock that once ran ahead needs no longer be followed
                book.now = self.time.begin_anew()
            made = invitation_for(invitation_id, code, book.now, limits or Limits(), client.strip()[:MOST_CODE])
            book.keep(made)
        return Invited(made, code)

    def invitations(self) -> list[Listed]:
        """Every invitation that is kept, the latest first."""
        with self.held() as book:
            found = [Listed(each, each.state_at(book.now)) for each in book.invitations.values()]
        return sorted(found, key=lambda listed: listed.invitation.made_utc, reverse=True)

    def revoke(self, invitation_id: str) -> bool:
        """Whether it was open until now; what it was given and not sent is gone with it. Raises NotKeptError."""
        with self.held() as book:
            found = book.invitations.get(invitation_id)
            if found is None:
                raise NotKeptError(
                    f"There is no invitation {invitation_id[:40]!r}. `tressmeter remote invitations` lists them."
                )
            was_open = found.state_at(book.now) is State.OPEN
            if was_open:
                book.keep(replace(found, ended=State.REVOKED))
                self.files.remove(self.open_folder(invitation_id))
        return was_open

    @staticmethod
    def opened_by(book: OpenBook, code: str) -> Invitation | None:
        """The open invitation of this code; None for every other code, in the same time."""
        wanted = hash_of_code(code)
        fits = [each for each in book.invitations.values() if same(each.code_hash, wanted)]
        return fits[0] if fits and fits[0].state_at(book.now) is State.OPEN else None

    def _tidy(self, book: OpenBook) -> None:
        """Finish what a dead program had begun, and take out what was not sent in time."""
        for each in list(book.invitations.values()):
            if each.ended is State.OPEN and self.sent_folder(each.id).is_dir():
                book.keep(replace(each, ended=State.SENT))
        self._sweep(book)
        ended = [each for each in book.invitations.values() if each.state_at(book.now) is not State.OPEN]
        for each in sorted(ended, key=lambda invitation: invitation.made_utc)[:-MOST_ENDED]:
            del book.invitations[each.id]

    def _sweep(self, book: OpenBook) -> None:
        shutil.rmtree(self.files.gone, ignore_errors=True)
        for folder in _folders(self.folder / "open"):
            owner = book.invitations.get(folder.name)
            if owner is None or owner.state_at(book.now) is not State.OPEN:
                self.files.remove(folder)

    def take_out_open(self, invitation_id: str) -> None:
        """What an open invitation was given is gone. For whoever holds the list."""
        self.files.remove(self.open_folder(invitation_id))

    # ---- what was sent

    def sent(self) -> list[SentConsultation]:
        """Every consultation that was sent, the latest first; one that can't be read is told by `read`."""
        with self.held():
            found = [self._listed(folder) for folder in _folders(self.folder / "sent")]
        return sorted(found, key=lambda each: each.sent_utc, reverse=True)

    def _listed(self, folder: Path) -> SentConsultation:
        try:
            return self._read_sent(folder)
        except RecordsError:  # listed as empty, so that it can be discarded
            return SentConsultation(folder.name, datetime.fromtimestamp(folder.stat().st_mtime, UTC), "", Entry())

    def read(self, sent_id: str) -> tuple[SentConsultation, Bundle]:
        """One consultation, and its photographs as any other bundle. Raises NotKeptError, RecordsError."""
        folder = self._there(sent_id)
        told = self._read_sent(folder)
        try:
            photos = tuple(SentFile(each.name, self.files.get(folder / each.name)) for each in told.entry.photos)
        except FileNotFoundError as problem:
            raise RecordsError(
                f"A photograph of consultation {sent_id} is missing. Discard it, and ask the client to send it again."
            ) from problem
        return told, Bundle(photos, ())

    def _read_sent(self, folder: Path) -> SentConsultation:
        try:
            told = json.loads(self.files.get(folder / SENT_FILE))
            if told["format"] != SENT_FORMAT:
                raise ValueError(told["format"])
            sent_utc = datetime.fromisoformat(told["sent_utc"])
            return SentConsultation(folder.name, sent_utc, str(told["client"]), entry_from_json(told["entry"]))
        except (ValueError, KeyError, TypeError, FileNotFoundError) as problem:
            raise RecordsError(
                f"Consultation {folder.name} can't be read any more. Discard it, and ask the client to send it again."
            ) from problem

    def _there(self, sent_id: str) -> Path:
        folder = self.sent_folder(sent_id)
        if not folder.is_dir():
            raise NotKeptError(f"There is no consultation {sent_id}. `tressmeter remote inbox` lists them.")
        return folder

    def link(self, sent_id: str, client: str) -> None:
        """Say whose consultation it is, so that it goes when the client is erased. Raises NotKeptError."""
        folder = self._there(sent_id)
        if not client.strip():
            raise BadInputError("A consultation is linked to a client's code. Write the code.")
        with self.held() as book:
            changed = replace(self._read_sent(folder), client=client.strip()[:MOST_CODE])
            self.files.put(folder / SENT_FILE, sent_text(changed))
            if sent_id in book.invitations:
                book.keep(replace(book.invitations[sent_id], client=changed.client))

    def discard(self, sent_id: str) -> None:
        """Take one consultation out, whole. Raises NotKeptError."""
        folder = self._there(sent_id)
        with self.held():
            self.files.remove(folder)

    def forget_client(self, *names: str) -> int:
        """How many consultations and invitations of this client were here, sent or not, and are gone now."""
        return forget_sent_in(self.place, names)


def names_consultation(text: str) -> bool:
    """Whether a text has the form of a consultation's name."""
    return bool(_ID.fullmatch(text))


def sent_text(consultation: SentConsultation) -> bytes:
    """What is written of a consultation."""
    told = {"sent_utc": consultation.sent_utc.isoformat(), "client": consultation.client}
    return json.dumps({"format": SENT_FORMAT, **told, "entry": entry_json(consultation.entry)}).encode("ascii")


def _folders(parent: Path) -> list[Path]:
    return sorted(path for path in parent.glob("*") if _ID.fullmatch(path.name) and path.is_dir())
