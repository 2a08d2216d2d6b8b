"""The list of invitations in the salon's folder, and the last time seen: read and written whole, one at a time."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from estimator.errors import BadInputError
from estimator.intake.invitation import Invitation, invitation_from_json, invitation_json
from estimator.intake.seen_time import BEGINNING, SeenTime
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.sent_in import LIST_FILE, SentInFiles, lock_of_sent_in

FORMAT = "tressmeter-invitations-1"
_WRITTEN_EVERY = timedelta(seconds=30)  # the time seen is brought to the disk no oftener while nothing else changes


@dataclass
class OpenBook:
    """The list while it is held: nobody else reads or writes it meanwhile."""

    now: datetime
    invitations: dict[str, Invitation] = field(default_factory=dict)

    def keep(self, changed: Invitation) -> None:
        """`changed` in place of what stood under its name."""
        self.invitations[changed.id] = changed


class InvitationBook:
    """The invitations of one salon."""

    def __init__(self, files: SentInFiles, time: SeenTime) -> None:
        self.files, self.time = files, time

    @contextmanager
    def held(self, at_each_opening: Callable[[OpenBook], None] = lambda book: None) -> Iterator[OpenBook]:
        """The list, for one change at a time; what was changed inside is on the disk afterwards, unless it raised.

        at_each_opening : Done first, with the list in hand. Raises RecordsError where the list can't be read.
        """
        with alone(lock_of_sent_in(self.files.place)):
            kept_time, invitations = self._read()
            book = OpenBook(self.time.now(kept_time), dict(invitations))
            at_each_opening(book)
            # The time seen is on the disk before anything else: what has ended stays ended if the inside fails.
            if book.invitations != invitations or book.now - kept_time > _WRITTEN_EVERY:
                self._write(book)
            before = dict(book.invitations)
            yield book
            if book.invitations != before:
                self._write(book)

    def _read(self) -> tuple[datetime, dict[str, Invitation]]:
        try:
            told = json.loads(self.files.get(self.files.folder / LIST_FILE))
            if told["format"] != FORMAT:
                raise ValueError(told["format"])
            found = [invitation_from_json(each) for each in told["invitations"]]
            return datetime.fromisoformat(told["seen_utc"]), {each.id: each for each in found}
        except FileNotFoundError:
            return BEGINNING, {}
        except (ValueError, KeyError, TypeError, BadInputError) as problem:
            raise RecordsError(
                f"The list of invitations ({LIST_FILE}) can't be read, so no code opens anything. Move the file away, "
                "and invite anew; what was sent stays in the inbox."
            ) from problem

    def _write(self, book: OpenBook) -> None:
        rows = [invitation_json(each) for each in book.invitations.values()]
        told = {"format": FORMAT, "seen_utc": book.now.isoformat(), "invitations": rows}
        self.files.put(self.files.folder / LIST_FILE, json.dumps(told).encode("ascii"))
