"""A folder as a disk could show it after a loss of power, from the log of what was asked of that disk.

The disk is as unkind as POSIX allows: only what was synced is sure. A write to a file is sure once that file was
synced, a name once its folder was. The rest is on the disk or not, file by file, name by name, sector by sector.
"""

import random
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from tests.estimator.records.write_log import Cut, Named, Step, Synced, Told, Tree, Unnamed, Wrote

# How unsure names and unsure bytes fared. "torn": each sector of that many bytes as at a moment of its own.
FATES = (
    ("dropped", "dropped"),
    ("kept", "dropped"),
    ("kept", "torn 512"),
    ("some", "torn 4096"),
    ("first", "first"),
    ("some", "torn 512"),
    ("dropped", "kept"),
    ("some", "dropped"),
    ("first", "torn 4096"),
    ("kept", "kept"),
)


@dataclass(frozen=True)
class Loss:
    """A loss of power after so many steps. seed : Of every choice that the disk had; its remainder is the fate."""

    after: int
    seed: int

    @property
    def fate(self) -> tuple[str, str]:
        return FATES[self.seed % len(FATES)]


def losses(steps: list[Step], count: int, seed: int) -> list[Loss]:
    """So many losses of power: just after each thing told, before, at and after each sync, and anywhere.

    A fifth of them come just after something was told: there the program has promised, and the disk may be behind.
    """
    chance, last = random.Random(seed), len(steps)
    told = [at + 1 for at, step in enumerate(steps) if isinstance(step, Told)]
    near = [at + d for at, step in enumerate(steps) if isinstance(step, Synced) for d in (0, 1, 2) if at + d <= last]
    fates = [(after, fate) for fate in range(len(FATES)) for after in told]
    chosen = chance.sample(fates, min(len(fates), max(1, count // 5)))
    chosen += [(after, chance.randrange(len(FATES))) for after in chance.sample(near, min(len(near), count // 2))]
    chosen += [(chance.randint(0, last), chance.randrange(len(FATES))) for _ in range(count)]
    first = 1000 * len(FATES) * seed
    return [Loss(after, first + len(FATES) * n + fate) for n, (after, fate) in enumerate(chosen[:count])]


def told_before(steps: list[Step], loss: Loss) -> list[str]:
    """What the program had told the world by then."""
    return [step.line for step in steps[: loss.after] if isinstance(step, Told)]


def rebuild(at_rest: Tree, steps: list[Step], loss: Loss, folder: Path) -> None:
    """The folder as the disk shows it after the loss, written to a new `folder`."""
    done, chance = steps[: loss.after], random.Random(loss.seed)
    names, sizes = loss.fate
    folders = _folders(at_rest, done, names, chance)
    files = _files(at_rest, done, sizes, chance)
    _write_out(folders, files, 0, folder)


def _last_syncs(done: list[Step]) -> dict[int, int]:
    return {step.inode: at for at, step in enumerate(done) if isinstance(step, Synced)}


def _folders(at_rest: Tree, done: list[Step], fate: str, chance: random.Random) -> dict[int, dict[str, int]]:
    """The names of each folder: sure ones, and those of the unsure that this disk has kept, in their order."""
    synced = _last_syncs(done)
    folders = {number: dict(names) for number, names in at_rest.folders.items()}
    folders |= {step.inode: {} for step in done if isinstance(step, Named) and step.new_folder}
    stops = chance.randint(0, len(done))
    for at, step in enumerate(done):
        if not isinstance(step, Named | Unnamed):
            continue
        stays = {"dropped": False, "kept": True, "some": chance.random() < 0.5, "first": at < stops}[fate]
        if not (stays or synced.get(step.folder, -1) > at):
            continue
        if isinstance(step, Unnamed):
            folders[step.folder].pop(step.name, None)
            continue
        if step.gone_from:
            folders[step.gone_from[0]].pop(step.gone_from[1], None)
        folders[step.folder][step.name] = step.inode
    return folders


def _files(at_rest: Tree, done: list[Step], fate: str, chance: random.Random) -> dict[int, bytes]:
    """The bytes of each file."""
    synced = _last_syncs(done)
    sure: dict[int, bytearray] = defaultdict(bytearray)
    sure.update({inode: bytearray(content) for inode, content in at_rest.files.items()})
    unsure: dict[int, list[Wrote | Cut]] = defaultdict(list)
    for at, step in enumerate(done):
        if isinstance(step, Wrote | Cut):
            if synced.get(step.inode, -1) > at:
                _apply(sure[step.inode], step)
            else:
                unsure[step.inode].append(step)
    stops = chance.random()
    for inode, pending in unsure.items():
        sure[inode] = _survived(sure[inode], pending, fate, stops, chance)
    return {inode: bytes(content) for inode, content in sure.items()}


def _apply(content: bytearray, step: Wrote | Cut) -> None:
    if isinstance(step, Cut):
        del content[step.size :]
        content.extend(bytes(step.size - len(content)))
        return
    content.extend(bytes(max(0, step.start - len(content))))
    content[step.start : step.start + len(step.content)] = step.content


def _survived(sure: bytearray, pending: list[Wrote | Cut], fate: str, stops: float, chance: random.Random) -> bytearray:
    """What a file holds whose last writes were never synced."""
    moments = [bytearray(sure)]
    for step in pending:
        moments.append(bytearray(moments[-1]))
        _apply(moments[-1], step)
    if fate == "dropped":
        return moments[0]
    if fate == "kept":
        return moments[-1]
    if fate == "first":
        return moments[round(stops * len(pending))]
    return _torn(moments, int(fate.split()[1]), chance)


def _torn(moments: list[bytearray], sector: int, chance: random.Random) -> bytearray:
    """Each sector, and the length, as at some moment since the last sync; a hole is zeros."""
    whole = bytearray(len(chance.choice(moments)))
    for start in range(0, len(whole), sector):
        piece = chance.choice(moments)[start : start + sector]
        most = len(whole) - start
        whole[start : start + len(piece[:most])] = piece[:most]
    return whole


def _write_out(folders: dict[int, dict[str, int]], files: dict[int, bytes], number: int, folder: Path) -> None:
    folder.mkdir()
    for name, inode in folders[number].items():
        if name.endswith("-shm"):
            continue
        if inode in files:
            (folder / name).write_bytes(files[inode])
        elif inode in folders:
            _write_out(folders, files, inode, folder / name)
        else:
            (folder / name).write_bytes(b"")
