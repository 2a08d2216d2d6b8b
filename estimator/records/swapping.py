"""A folder's files exchanged for others that were made ready inside it: all of them or none, whenever a program dies.

What is being made stands in `building-...`; giving that folder the name `converting` is the moment from which the new
files count. Whoever finds `converting` moves them into place before doing anything else; whoever finds a `building-...`
that nobody works on takes it out.
"""

import json
import shutil
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

from estimator.records.errors import RecordsError
from estimator.records.folder_lock import alone
from estimator.synced_folders import sync_folder
from estimator.whole_files import bring_all_to_disk, write_whole

_BUILDING, _CONVERTING, _PLAN = "building-", "converting", "plan.json"


def lock_of(folder: Path) -> Path:
    """Whoever holds this lock is the only one who tidies, notes files or exchanges them in the folder."""
    return folder / "pending" / ".lock"


def is_settled(folder: Path) -> bool:
    """Whether no exchange has been decided on that is not finished."""
    return not (folder / _CONVERTING).exists()


def settle(folder: Path) -> None:
    """Finish an exchange that was decided on, whoever began it. Raises RecordsError where it can't be finished."""
    if is_settled(folder):
        return
    with alone(lock_of(folder)):
        finish(folder)


def new_building(folder: Path) -> Path:
    """An empty folder in which to make the new files."""
    building = folder / f"{_BUILDING}{uuid4().hex[:8]}"
    building.mkdir()
    return building


def clear_building(folder: Path) -> None:
    """Take out what programs that died had begun to make. The lock is held, or nothing is taken out."""
    if any(folder.glob(f"{_BUILDING}*")):
        with suppress(RecordsError), alone(lock_of(folder), wait_seconds=0.0):
            drop_building(folder)


def drop_building(folder: Path) -> None:
    """Take out whatever was being made; the lock is held by who calls."""
    for building in folder.glob(f"{_BUILDING}*"):
        shutil.rmtree(building, ignore_errors=True)


def decide(building: Path, gone: Collection[str]) -> None:
    """From here on the files in `building` count; those named in `gone` go, and so do those they take the place of."""
    new = sorted(path.name for path in building.iterdir())
    write_whole(building / _PLAN, json.dumps({"new": new, "gone": sorted(gone)}).encode(), "plan")
    bring_all_to_disk(building)
    building.rename(building.with_name(_CONVERTING))
    sync_folder(building.parent)


def finish(folder: Path) -> None:
    """Move the new files into place; done twice it does no harm. The lock is held by who calls. Raises RecordsError."""
    ready = folder / _CONVERTING
    try:
        plan = json.loads((ready / _PLAN).read_bytes())
    except FileNotFoundError:
        with suppress(OSError):  # all is in place; gone already, or the loss of power took back this last step alone
            ready.rmdir()
            sync_folder(folder)
        return
    try:
        for name in plan["new"]:
            if (ready / name).exists():
                _take_out(folder / name)
                (ready / name).rename(folder / name)
        for name in plan["gone"]:
            _take_out(folder / name)
        sync_folder(folder)
        (ready / _PLAN).unlink()
        ready.rmdir()
        sync_folder(folder)
    except OSError as problem:
        raise RecordsError(
            f"The records are being put into another form, and that can't be finished ({problem.strerror}). Nothing "
            "is lost. Close other programs that have the folder open, then do it again."
        ) from problem
    drop_building(folder)


def _take_out(path: Path) -> None:
    """The name is free at once, so that the new file can have it; a whole tree is deleted after that."""
    if path.is_dir():
        path.rename(path.with_name(f"{_BUILDING}{uuid4().hex[:8]}"))
    else:
        path.unlink(missing_ok=True)
