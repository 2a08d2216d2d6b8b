"""Visits that are not finished: kept on disk while they are being entered, found again after a reload.

A draft is a folder: `draft.json` with what was entered, and beside it each photograph once. It is written whole or not
at all, it holds no record yet, and no backup or export takes it along.
"""

import json
import os
import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from estimator.errors import BadInputError
from estimator.records.errors import RecordsError
from estimator.records.place import SalonPlace
from estimator.records.sealing import BrokenSealError
from estimator.records.vault import Use, Vault, vault_of
from estimator.synced_folders import make_private_folder, sync_folder
from estimator.whole_files import write_whole

FORMAT = "tressmeter-draft-1"
_ID, _HASH = re.compile(r"[0-9a-f]{32}"), re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class ListedDraft:
    """One draft in a list."""

    id: str
    client: str
    changed_utc: datetime


@dataclass(frozen=True, eq=False)
class KeptDraft:
    """What was entered, as JSON holds it, and the bytes of each photograph by the hash that the content names."""

    content: dict[str, Any]
    photos: Mapping[str, bytes]


class Drafts:
    """The drafts of one salon. vault : How its files lie; without it as the folder says at each turn."""

    def __init__(self, place: SalonPlace, vault: Vault | None = None) -> None:
        self.place = place
        self._given = vault

    @property
    def _vault(self) -> Vault:
        return self._given or vault_of(self.place.folder)

    @staticmethod
    def new_id() -> str:
        """A name for a draft that can't be guessed: it stands in the page's address."""
        return uuid4().hex

    def keep(
        self, draft_id: str, client: str, content: dict[str, Any], photos: Mapping[str, Callable[[], bytes]]
    ) -> None:
        """The draft on the disk, in place of what it was before; photographs that are there already are not written.

        client : As entered so far, so that erasing a client finds the draft.
        photos : By its hash the way to each photograph's bytes, gone only for one that is not there yet.
        Raises RecordsError; then the draft stands as it stood.
        """
        folder, vault = self._folder(draft_id), self._vault
        told = {"format": FORMAT, "client": client, "content": content, "photos": sorted(photos)}
        whole = json.dumps(told, ensure_ascii=False).encode()
        try:
            make_private_folder(folder)
            paths = {sha256: _photo(folder, vault, sha256) for sha256 in photos}
            for sha256, path in paths.items():
                if not path.exists():
                    write_whole(path, vault.seal(Use.DRAFTS, photos[sha256](), draft_id + sha256), "photo")
            write_whole(folder / "draft.json", vault.seal(Use.DRAFTS, whole, draft_id), "draft")
            _drop_photos(folder, set(paths.values()))
        except OSError as problem:
            raise RecordsError(
                f"The draft could not be kept ({problem.strerror}). "
                "It lives on while this page is open; free some space."
            ) from problem

    def keep_day(self, listed: ListedDraft) -> None:
        """The draft counts as last changed when the listed one was."""
        moment = listed.changed_utc.timestamp()
        os.utime(self._folder(listed.id) / "draft.json", (moment, moment))

    def load(self, draft_id: str) -> KeptDraft | None:
        """The draft; None where there is none, or it can't be read any more."""
        folder, vault = self._folder(draft_id), self._vault
        try:
            told = _told(folder / "draft.json", vault)
            if told["format"] != FORMAT:
                return None
            sealed = {sha256: _photo(folder, vault, sha256).read_bytes() for sha256 in told["photos"]}
            photos = {
                sha256: vault.unseal(Use.DRAFTS, content, draft_id + sha256) for sha256, content in sealed.items()
            }
            return KeptDraft(told["content"], photos)
        except (OSError, ValueError, KeyError, TypeError, BrokenSealError):
            return None

    def listed(self) -> list[ListedDraft]:
        """Every draft, the last changed first."""
        found, vault = [], self._vault
        for path in self._files():
            try:
                client = str(_told(path, vault)["client"])
                changed = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            except (OSError, ValueError, KeyError, TypeError, BrokenSealError):
                continue
            found.append(ListedDraft(path.parent.name, client, changed))
        return sorted(found, key=lambda draft: draft.changed_utc, reverse=True)

    def _files(self) -> Iterator[Path]:
        if self.place.drafts.is_dir():
            yield from (path for path in self.place.drafts.glob("*/draft.json") if _ID.fullmatch(path.parent.name))

    def erase(self, draft_id: str) -> bool:
        """Whether there was such a draft to take out, with its photographs."""
        folder = self._folder(draft_id)
        if not folder.exists():
            return False
        shutil.rmtree(folder, ignore_errors=True)
        if folder.exists():
            raise RecordsError(
                "The draft could not be taken out whole. Close the page that has it open, then try again."
            )
        sync_folder(self.place.drafts)  # or a loss of power would bring it back
        return True

    def _folder(self, draft_id: str) -> Path:
        if not _ID.fullmatch(draft_id):
            raise BadInputError("That address names no draft. Begin a new visit.")
        return self.place.drafts / draft_id


def _told(path: Path, vault: Vault) -> Any:
    return json.loads(vault.unseal(Use.DRAFTS, path.read_bytes(), path.parent.name))


def _photo(folder: Path, vault: Vault, sha256: str) -> Path:
    if not _HASH.fullmatch(sha256):
        raise BadInputError("A photograph of a draft has no proper hash.")
    return folder / f"{vault.name_of(sha256)}.photo"


def _drop_photos(folder: Path, wanted: set[Path]) -> None:
    for path in folder.glob("*.photo"):
        if path not in wanted:
            path.unlink(missing_ok=True)
    for part in folder.glob(".part-*"):
        if f"-{os.getpid()}-" not in part.name:
            part.unlink(missing_ok=True)
