"""Everything that writes to a salon, done by a child while something hinders it, and what must hold afterwards."""

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from estimator.errors import EstimatorError
from estimator.records.adding import add_note
from estimator.records.archive import opened_archive
from estimator.records.backing_up import FORMAT as BACKUP
from estimator.records.backing_up import back_up
from estimator.records.clients import client
from estimator.records.drafts import Drafts
from estimator.records.erasing import erase_client
from estimator.records.errors import NotKeptError
from estimator.records.exporting import FORMAT as EXPORT
from estimator.records.exporting import export_client, import_client
from estimator.records.photo_files import hash_of
from estimator.records.place import SalonPlace
from estimator.records.showing import client_page
from estimator.records.store import Store, open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.drills import faults_of, finished, tell
from tests.estimator.records.invented import DAY, photo, visit

DRAFT = "d" * 32
LARGE = b"large" * 40_000
SECRET = "Quillon Featherby"


@dataclass(frozen=True)
class Ground:
    """Where it all happens: the salon, and a folder for what is handed out."""

    folder: Path

    @property
    def place(self) -> SalonPlace:
        return SalonPlace(self.folder / "salon")

    @property
    def out(self) -> Path:
        return self.folder / "out"


def prepare(ground: Ground) -> None:
    """Clients who stay, go and come, and a draft, as every act needs them."""
    ground.out.mkdir(exist_ok=True)
    with open_store(SalonPlace(ground.folder / "other")) as other:
        keep_visit(other, visit("comes"))
        export_client(other, "comes", ground.folder / "comes.zip")
    shutil.rmtree(ground.folder / "other")
    with open_store(ground.place) as store:
        keep_visit(store, visit("stays"))
        refill(store)


def refill(store: Store) -> None:
    """The salon as it was before an act."""
    for code in ("kept", "comes"):
        try:
            erase_client(store, code)
        except NotKeptError:
            continue
    keep_visit(store, visit("goes", client_name=SECRET))
    Drafts(store.place).keep(DRAFT, "M. D.", {"step": 1}, {})


def _keep(ground: Ground, store: Store) -> None:
    keep_visit(store, visit("kept", photos=(photo("kept", size=150_000), photo("kept after", "after"))))


def _note(ground: Ground, store: Store) -> None:
    add_note(store, "stays", DAY, "a new note")


def _erase(ground: Ground, store: Store) -> None:
    erase_client(store, "goes")


def _back_up(ground: Ground, store: Store) -> None:
    back_up(store, ground.out / "backup.zip")


def _export(ground: Ground, store: Store) -> None:
    export_client(store, "stays", ground.out / "export.zip")


def _import(ground: Ground, store: Store) -> None:
    import_client(store, ground.folder / "comes.zip")


def _draft(ground: Ground, store: Store) -> None:
    Drafts(store.place).keep(DRAFT, "M. D.", {"step": 2}, {hash_of(LARGE): lambda: LARGE})


ACTS: dict[str, Callable[[Ground, Store], None]] = {
    "keep": _keep,
    "note": _note,
    "erase": _erase,
    "back up": _back_up,
    "export": _export,
    "import": _import,
    "draft": _draft,
}


def nothing() -> None:
    """Nothing hinders."""


def answer_of(
    ground: Ground, act: str, first: Callable[[], None] = nothing, hinder: Callable[[], None] = nothing
) -> str:
    """ "done", or "refused" with the sentence that a person reads, or "fault" where it was no sentence of ours.

    first, hinder : Done in the child before the salon is opened, and between that and the act.
    """

    def work(mouth: int) -> None:
        try:
            first()
            with open_store(ground.place) as store:
                hinder()
                ACTS[act](ground, store)
            tell(mouth, "done")
        except EstimatorError as problem:
            tell(mouth, f"refused {problem}")
        except BaseException as problem:
            tell(mouth, f"fault {type(problem).__name__}: {problem}")

    return (finished(work) or ["fault: it died without a word"])[-1]


def faults_after(ground: Ground, act: str, answer: str) -> list[str]:
    """What does not hold once nothing hinders any more: nothing half, nothing stray, and all that was told of there."""
    done = answer == "done"
    with open_store(ground.place) as store:
        faults = faults_of(store)
        for code, wanted in {"stays": (True,), "kept": (act == "keep" and done,), "comes": (act == "import" and done,),
                             "goes": (act != "erase", not done)}.items():  # fmt: skip
            if _is_there(store, code) not in wanted:
                faults.append(f"{code} is {'there' if _is_there(store, code) else 'gone'}")
        if ("a new note" in client_page(store, "stays").notes) != (act == "note" and done):
            faults.append("the note")
        draft = Drafts(store.place).load(DRAFT)
        if draft is None or draft.content != {"step": 2 if act == "draft" and done else 1}:
            faults.append("the draft")
        gone = not _is_there(store, "goes")
        if act == "erase" and gone != (done or "taken out for good" in answer):
            faults.append("what was said of the erasure is not so")
        _undo_note(store)
    if gone:
        faults += [f"the name is in {path.name}" for path in ground.place.folder.rglob("*") if _holds_name(path)]
    return faults + _faults_out(ground, act, done)


def _undo_note(store: Store) -> None:
    if "a new note" in client_page(store, "stays").notes:
        store.undo()


def _holds_name(path: Path) -> bool:
    return path.is_file() and SECRET.encode() in path.read_bytes()


def _is_there(store: Store, code: str) -> bool:
    try:
        client(store, code)
    except NotKeptError:
        return False
    return True


def _faults_out(ground: Ground, act: str, done: bool) -> list[str]:
    there = {path.name for path in ground.out.iterdir()}
    made = {"back up": "backup.zip", "export": "export.zip"}.get(act) if done else None
    wanted = {made} if made else set()
    faults = [] if there == wanted else [f"handed out: {sorted(there)}"]
    for path in ground.out.iterdir():
        if not path.name.startswith("."):
            with opened_archive(path, BACKUP if path.name == "backup.zip" else EXPORT):
                pass
        path.unlink()
    return faults


# --- a disk of so many bytes


@contextmanager
def small_disk(folder: Path, size: int) -> Iterator[str]:
    """A disk of its own mounted at `folder`; "" or why that can't be done here."""
    folder.mkdir(exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    if os.getuid() != 0 or not shutil.which("mount"):
        yield "a disk can be mounted by root alone"
        return
    mounted = subprocess.run(command, capture_output=True, text=True, check=False)
    if mounted.returncode:
        yield f"this machine lets nobody mount a disk: {mounted.stderr.strip()[:120]}"
        return
    try:
        yield ""
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def free_bytes(folder: Path) -> int:
    told = os.statvfs(folder)
    return told.f_bavail * told.f_frsize


@contextmanager
def filled_up(folder: Path, left: int) -> Iterator[None]:
    """The disk of `folder` filled by somebody else, until so many bytes are left."""
    ballast = folder / "ballast"
    with ballast.open("wb") as file:
        os.posix_fallocate(file.fileno(), 0, max(1, free_bytes(folder) - left))
    try:
        yield
    finally:
        ballast.unlink()


# --- a folder without leave to write

NOBODY = 65534  # the number of the user without rights on every Linux (Linux Standard Base names it nobody)


def give_to(folder: Path, user: int) -> None:
    """Everything in the folder belongs to this user; needs root."""
    for path in (folder, *folder.rglob("*")):
        os.chown(path, user, user)


def allow_writing(folder: Path, allowed: bool) -> None:
    """Whether its owner may write anything in the folder."""
    for path in (folder, *folder.rglob("*")):
        path.chmod((0o755 if allowed else 0o555) if path.is_dir() else (0o644 if allowed else 0o444))


def become_nobody() -> None:
    """Without the rights of root, which no file refuses; a child can't get them back."""
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)
