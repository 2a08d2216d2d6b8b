"""What clients send before they come: the files of `intake/` in the salon's folder, sealed as the salon's others are.

`intake/invitations.json` lists invitations, `intake/open/ID` holds what is being given, `intake/sent/ID` what was sent.
The package `estimator.intake` fills them; here stands what erasing and encrypting need to know.
"""

import json
import os
import shutil
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

from estimator.care.questions import FACT_TABLE
from estimator.records.consent_scopes import Scope
from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.records.place import SalonPlace
from estimator.records.sealing import BrokenSealError
from estimator.records.search_keys import folded
from estimator.records.vault import Use, Vault, vault_of
from estimator.synced_folders import make_folder, make_private_folder, sync_folder
from estimator.whole_files import PART, write_whole

LIST_FILE, ENTRY_FILE, SENT_FILE = "invitations.json", "entry.json", "consultation.json"
HEALTH_TOPICS = frozenset({"health", "allergy", "scalp", "skin test"})  # of care's questions: what GDPR calls health


class SentInFiles:
    """The one place where these files are written and read. vault : How they lie; without it as the folder says."""

    def __init__(self, place: SalonPlace, vault: Vault | None = None) -> None:
        self.place, self.folder = place, intake_folder(place)
        self._given = vault

    @property
    def _vault(self) -> Vault:
        return self._given or vault_of(self.place.folder)

    def put(self, path: Path, content: bytes) -> None:
        """The file on the disk, whole. Raises RecordsError; then the old one stands."""
        try:
            make_private_folder(path.parent)
            write_whole(path, self._vault.seal(Use.DRAFTS, content, _bound(path)), "intake")
        except OSError as problem:
            raise RecordsError(
                f"The salon's machine could not keep this ({problem.strerror}). What was kept before stands. "
                "Try again later, and tell the salon."
            ) from problem

    def get(self, path: Path) -> bytes:
        """What is in the file. Raises FileNotFoundError, and RecordsError where it can't be read."""
        try:
            return self._vault.unseal(Use.DRAFTS, path.read_bytes(), _bound(path))
        except FileNotFoundError:
            raise
        except BrokenSealError as problem:
            raise RecordsError("A file of the inbox is damaged. Discard that consultation.") from problem
        except OSError as problem:
            raise RecordsError(
                f"A file of the inbox can't be read ({problem.strerror}). Check the permissions of the salon's folder."
            ) from problem

    def remove(self, folder: Path) -> None:
        """One folder is gone; out of sight first, so that a sudden end leaves no half of it. Raises RecordsError."""
        if not folder.is_dir():
            return
        try:
            make_folder(self.gone)
            aside = self.gone / f"{folder.name}-{os.getpid()}-{uuid4().hex[:8]}"
            folder.rename(aside)
            sync_folder(folder.parent)
            shutil.rmtree(aside)
        except OSError as problem:
            raise RecordsError(
                f"What a client sent could not be taken out whole ({problem.strerror}). Close what has it open, then "
                "try again."
            ) from problem

    @property
    def gone(self) -> Path:
        """Where a folder goes on its way out; whatever a sudden end leaves here is swept."""
        return self.folder / "gone"

    def whole_files(self) -> Iterator[Path]:
        """Every file that counts."""
        kept = (self.folder / LIST_FILE, *self.folder.glob("open/*/*"), *self.folder.glob("sent/*/*"))
        yield from (path for path in kept if path.is_file() and not path.name.startswith(PART))


def _bound(path: Path) -> str:
    """What a file opens together with only: it stays when what is open is sent."""
    return f"intake {path.parent.name if path.name != LIST_FILE else ''} {path.name}"


def intake_folder(place: SalonPlace) -> Path:
    """Where it all lies."""
    return place.folder / "intake"


def lock_of_sent_in(place: SalonPlace) -> Path:
    """Whoever holds this lock is the only one who writes there."""
    return intake_folder(place) / ".lock"


def locks_of_sent_in(place: SalonPlace) -> list[Path]:
    """The same, where anything lies there at all."""
    return [lock_of_sent_in(place)] if intake_folder(place).is_dir() else []


def forget_sent_in(place: SalonPlace, names: Collection[str]) -> int:
    """How many invitations and consultations of a client were here, and are gone. names : Code and name, any case."""
    if not intake_folder(place).is_dir():
        return 0
    files = SentInFiles(place)
    with alone(lock_of_sent_in(place)):
        rows = _told(files, files.folder / LIST_FILE)
        listed = rows.get("invitations", [])
        mine = _of_client(files, listed, names)
        for name in mine:
            files.remove(files.folder / "open" / name)
            files.remove(files.folder / "sent" / name)
        if any(each["id"] in mine for each in listed):
            kept = {**rows, "invitations": [each for each in listed if each["id"] not in mine]}
            files.put(files.folder / LIST_FILE, json.dumps(kept).encode("ascii"))
    return len(mine)


def forget_health_sent_in(place: SalonPlace, names: Collection[str]) -> int:
    """How many answers on health a client had sent, or was about to send; they are gone, with the consent to them."""
    if not intake_folder(place).is_dir():
        return 0
    files, gone = SentInFiles(place), 0
    with alone(lock_of_sent_in(place)):
        listed = _told(files, files.folder / LIST_FILE).get("invitations", [])
        for name in _of_client(files, listed, names):
            for path in (files.folder / "open" / name / ENTRY_FILE, files.folder / "sent" / name / SENT_FILE):
                told = _told(files, path)
                entry = told.get("entry", told)
                health = [fact for fact in entry.get("answers", {}) if of_health(fact)]
                consents = [each for each in entry.get("consents", []) if each["scope"] != Scope.HEALTH]
                if not health and consents == entry.get("consents", []):
                    continue
                answers = {fact: value for fact, value in entry["answers"].items() if fact not in health}
                changed = {**entry, "answers": answers, "consents": consents}
                whole = {**told, "entry": changed} if "entry" in told else changed
                files.put(path, json.dumps(whole).encode("ascii"))
                gone += len(health)
    return gone


def _of_client(files: SentInFiles, listed: list[dict[str, Any]], names: Collection[str]) -> set[str]:
    """Names of this client's invitations and consultations; those that can't be read are nobody's."""
    wanted = {folded(name) for name in names} - {""}
    mine = {str(each["id"]) for each in listed if folded(str(each["client"])) in wanted}
    sent = files.folder.glob("sent/*")
    return mine | {
        folder.name for folder in sent if folded(str(_told(files, folder / SENT_FILE).get("client", ""))) in wanted
    }


def of_health(fact: str) -> bool:
    """Whether a question of the consultation is one of health, which needs a consent of its own."""
    question = FACT_TABLE.question_of.get(fact)
    return question is not None and question.topic in HEALTH_TOPICS


def _told(files: SentInFiles, path: Path) -> dict[str, Any]:
    """What a file says; nothing where there is none, or it can't be read: then it names nobody we could find."""
    try:
        told = json.loads(files.get(path))
    except (FileNotFoundError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}


def convert_sent_in(place: SalonPlace, ready: SalonPlace, old: Vault, new: Vault) -> None:
    """Every file of `intake/` in the other form, in `ready`; the lock is held by who calls. Raises RecordsError."""
    before, after = SentInFiles(place, old), SentInFiles(ready, new)
    for path in before.whole_files():
        content, there = before.get(path), after.folder / path.relative_to(before.folder)
        after.put(there, content)
        if after.get(there) != content:
            raise RecordsError("A file of the inbox came out otherwise. Nothing was changed; do it again.")
