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
from estimator.records.photo_files import write_whole
from estimator.records.place import SalonPlace
from estimator.synced_folders import make_folder, sync_folder

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
    """The drafts of one salon."""

    def __init__(self, place: SalonPlace) -> None:
        self.place = place

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
        folder = self._folder(draft_id)
        told = {"format": FORMAT, "client": client, "content": content, "photos": sorted(photos)}
        try:
            make_folder(folder)
            for sha256, bytes_of in photos.items():
                if not self._photo(folder, sha256).exists():
                    write_whole(self._photo(folder, sha256), bytes_of(), "photo")
            write_whole(folder / "draft.json", json.dumps(told, ensure_ascii=False).encode(), "draft")
            self._drop_photos(folder, set(photos))
        except OSError as problem:
            raise RecordsError(
                f"The draft could not be kept ({problem.strerror}). "
                "It lives on while this page is open; free some space."
            ) from problem

    def load(self, draft_id: str) -> KeptDraft | None:
        """The draft; None where there is none, or it can't be read any more."""
        folder = self._folder(draft_id)
        try:
            told = json.loads((folder / "draft.json").read_bytes())
            if told["format"] != FORMAT:
                return None
            photos = {sha256: self._photo(folder, sha256).read_bytes() for sha256 in told["photos"]}
            return KeptDraft(told["content"], photos)
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def listed(self) -> list[ListedDraft]:
        """Every draft, the last changed first."""
        found = []
        for path in self._files():
            try:
                client = str(json.loads(path.read_bytes())["client"])
                changed = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            except (OSError, ValueError, KeyError, TypeError):
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

    @staticmethod
    def _photo(folder: Path, sha256: str) -> Path:
        if not _HASH.fullmatch(sha256):
            raise BadInputError("A photograph of a draft has no proper hash.")
        return folder / f"{sha256}.photo"

    @staticmethod
    def _drop_photos(folder: Path, wanted: set[str]) -> None:
        for path in folder.glob("*.photo"):
            if path.stem not in wanted:
                path.unlink(missing_ok=True)
        for part in folder.glob(".part-*"):
            if f"-{os.getpid()}-" not in part.name:
                part.unlink(missing_ok=True)
