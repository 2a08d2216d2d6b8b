"""What a program really asked of the disk: every write, name and sync below a folder, in order, as `strace` saw it.

strace (Debian's package of that name) writes strings in full and in hexadecimal, and each file's number with its path.
"""

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_CALLS = (
    "open,openat,creat,close,dup,dup2,dup3,fcntl,lseek,write,pwrite64,writev,pwritev,pwritev2,sendfile,copy_file_range,"
    "fallocate,truncate,ftruncate,fsync,fdatasync,sync,syncfs,sync_file_range,rename,renameat,renameat2,link,linkat,"
    "symlink,symlinkat,unlink,unlinkat,mkdir,mkdirat,rmdir,mmap"
)
_LINE = re.compile(r"(?P<pid>\d+) +(?P<call>\w+)\((?P<words>.*)\) += (?P<result>-?\d+|0x[0-9a-f]+|\?)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"(\.\.\.)?')


@dataclass(frozen=True)
class Wrote:
    """Bytes given to a file. inode : A number of our own for the file, whatever its name."""

    inode: int
    start: int
    content: bytes


@dataclass(frozen=True)
class Cut:
    """A file made so long, shorter or longer."""

    inode: int
    size: int


@dataclass(frozen=True)
class Named:
    """A name in a folder now means this inode, and `gone_from`, where there was one, means nothing any more."""

    folder: int
    name: str
    inode: int
    gone_from: tuple[int, str] | None = None
    new_folder: bool = False


@dataclass(frozen=True)
class Unnamed:
    """A name taken out of a folder."""

    folder: int
    name: str


@dataclass(frozen=True)
class Synced:
    """A file, or the names in a folder, told to be on the disk."""

    inode: int


@dataclass(frozen=True)
class Told:
    """A line that the program told the world."""

    line: str


Step = Wrote | Cut | Named | Unnamed | Synced | Told


@dataclass(frozen=True)
class Tree:
    """A folder at rest: for each folder's inode its names, for each file's inode its bytes. The root is inode 0."""

    folders: dict[int, dict[str, int]]
    files: dict[int, bytes]


class UnfitLogError(Exception):
    """The log holds what can't be replayed, so nothing may be concluded from it."""


def why_not_here() -> str:
    """Why nothing can be recorded on this machine; "" where it can."""
    if not shutil.which("strace"):
        return "strace is not installed (apt-get install strace)"
    tried = subprocess.run(["strace", "-f", "-o", os.devnull, "true"], capture_output=True, text=True, check=False)
    return "" if tried.returncode == 0 else f"this machine lets nobody trace a program: {tried.stderr.strip()[:120]}"


def record(log: Path, module: str, *words: str, cwd: Path) -> None:
    """Run a module of Python to its end, with the log of all that it asked of the disk in `log`."""
    tracing = ["strace", "-f", "--seccomp-bpf", "-y", "-qq", "-xx", "-s", "100000000", "-o", str(log)]
    command = [*tracing, "-e", f"trace={_CALLS}", "-e", "signal=none", sys.executable, "-m", module, *words]
    ran = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)
    if ran.returncode:
        raise RuntimeError(ran.stderr[-3000:])


def tree_of(folder: Path) -> Tree:
    """The folder as it lies there now."""
    tree = Tree({0: {}}, {})
    numbers: dict[Path, int] = {folder: 0}
    for number, path in enumerate(sorted(folder.rglob("*")), 1):
        numbers[path] = number
        tree.folders[numbers[path.parent]][path.name] = number
        if path.is_dir():
            tree.folders[number] = {}
        else:
            tree.files[number] = path.read_bytes()
    return tree


def calls_of(log: Path) -> Iterator[tuple[str, list[str], int]]:
    """Every call that did not fail: its name, its words, its result."""
    begun: dict[str, str] = {}
    with log.open(encoding="ascii") as lines:
        for line in lines:
            pid = line.split(" ", 1)[0]
            if line.rstrip().endswith("<unfinished ...>"):
                begun[pid] = line.rstrip().removesuffix("<unfinished ...>").rstrip()
                continue
            if "resumed>" in line[:60]:
                line = begun.pop(pid) + line.split("resumed>", 1)[1]
            found = _LINE.match(line)
            if found and found["result"] != "?" and not found["result"].startswith("-"):
                yield found["call"], found["words"].split(", "), int(found["result"], 0)


def text_in(word: str) -> bytes:
    """The string in a word of a call. Raises UnfitLogError where it was cut short."""
    found = _TEXT.search(word)
    if found is None or found[2]:
        raise UnfitLogError(f"a string is missing or was cut short: {word[:80]}")
    return bytes.fromhex(found[1].replace("\\x", ""))


class Reader:
    """Follows one folder through the calls of a program; `steps` are those that touch it."""

    def __init__(self, root: Path, at_rest: Tree) -> None:
        self.root = str(root)
        self.folders = {number: dict(names) for number, names in at_rest.folders.items()}
        self.sizes = {number: len(content) for number, content in at_rest.files.items()}
        self.next_inode = max((*self.folders, *self.sizes)) + 1
        self.handles: dict[int, list[int]] = {}  # by the file's number: inode, place of the next write, appending
        self.steps: list[Step] = []

    def take(self, call: str, words: list[str], result: int) -> None:
        """One call more."""
        taken = getattr(self, f"_{call}", None)
        if taken is None:
            raise UnfitLogError(f"a call that can't be replayed: {call}")
        taken(words, result)

    # --- names

    def _resolved(self, path: bytes, base: str = "") -> tuple[int, str] | None:
        """The folder's inode and the name in it; None where the path lies elsewhere."""
        whole = os.path.normpath(os.path.join(base, path.decode()))  # noqa: PTH118 - no path of this machine is asked
        if not whole.startswith(self.root + "/"):
            return None
        *between, name = whole.removeprefix(self.root + "/").split("/")
        folder = 0
        for each in between:
            folder = self.folders[folder][each]
        return folder, name

    def _at(self, words: list[str]) -> tuple[int, str] | None:
        """The same for a call that takes a folder's number first."""
        return self._resolved(text_in(words[1]), _path_in(words[0]))

    def _made(self, place: tuple[int, str], folder: bool) -> int:
        inode, self.next_inode = self.next_inode, self.next_inode + 1
        self.folders[place[0]][place[1]] = inode
        self.steps.append(Named(*place, inode, new_folder=folder))
        return inode

    def _openat(self, words: list[str], result: int) -> None:
        self.handles.pop(result, None)
        place = self._at(words)
        if place:
            self._opened(place, words[2], result)
        elif text_in(words[1]).decode() == self.root:
            self.handles[result] = [0, 0, 0]

    def _opened(self, place: tuple[int, str], flags: str, result: int) -> None:
        inode = self.folders[place[0]].get(place[1])
        if inode in self.folders:
            self.handles[result] = [inode, 0, 0]
            return
        if inode is None:
            inode = self._made(place, folder=False)
            self.sizes[inode] = 0
        if "O_TRUNC" in flags and self.sizes[inode]:
            self._cut(inode, 0)
        self.handles[result] = [inode, 0, int("O_APPEND" in flags)]

    def _mkdir(self, words: list[str], _result: int) -> None:
        self._folder_made(self._resolved(text_in(words[0])))

    def _mkdirat(self, words: list[str], _result: int) -> None:
        self._folder_made(self._at(words))

    def _folder_made(self, place: tuple[int, str] | None) -> None:
        if place:
            self.folders[self._made(place, folder=True)] = {}

    def _rename(self, words: list[str], _result: int) -> None:
        self._renamed(self._resolved(text_in(words[0])), self._resolved(text_in(words[1])))

    def _renameat(self, words: list[str], _result: int) -> None:
        self._renamed(self._at(words[:2]), self._at(words[2:4]))

    _renameat2 = _renameat

    def _renamed(self, old: tuple[int, str] | None, new: tuple[int, str] | None) -> None:
        if old is None and new is None:
            return
        if old is None or new is None:
            raise UnfitLogError("a file came from elsewhere, or went there")
        inode = self.folders[old[0]].pop(old[1])
        self.folders[new[0]][new[1]] = inode
        self.steps.append(Named(*new, inode, old))

    def _unlink(self, words: list[str], _result: int) -> None:
        self._taken_out(self._resolved(text_in(words[0])))

    _rmdir = _unlink

    def _unlinkat(self, words: list[str], _result: int) -> None:
        self._taken_out(self._at(words))

    def _taken_out(self, place: tuple[int, str] | None) -> None:
        if place:
            del self.folders[place[0]][place[1]]
            self.steps.append(Unnamed(*place))

    # --- numbers of open files

    def _close(self, words: list[str], _result: int) -> None:
        self.handles.pop(_number_in(words[0]), None)

    def _dup(self, words: list[str], result: int) -> None:
        if _number_in(words[0]) in self.handles:
            self.handles[result] = self.handles[_number_in(words[0])]

    _dup2 = _dup3 = _dup

    def _fcntl(self, words: list[str], result: int) -> None:
        if words[1].startswith("F_DUPFD"):
            self._dup(words, result)

    def _lseek(self, words: list[str], result: int) -> None:
        if handle := self.handles.get(_number_in(words[0])):
            handle[1] = result

    # --- bytes

    def _write(self, words: list[str], result: int) -> None:
        if words[0].startswith("1<"):
            self.steps.append(Told(text_in(words[1]).decode().strip()))
        elif handle := self.handles.get(_number_in(words[0])):
            start = self.sizes[handle[0]] if handle[2] else handle[1]
            handle[1] = start + result
            self._wrote(handle[0], start, text_in(words[1])[:result])

    def _pwrite64(self, words: list[str], result: int) -> None:
        if handle := self.handles.get(_number_in(words[0])):
            self._wrote(handle[0], int(words[3]), text_in(words[1])[:result])

    def _wrote(self, inode: int, start: int, content: bytes) -> None:
        self.sizes[inode] = max(self.sizes[inode], start + len(content))
        self.steps.append(Wrote(inode, start, content))

    def _ftruncate(self, words: list[str], _result: int) -> None:
        if handle := self.handles.get(_number_in(words[0])):
            self._cut(handle[0], int(words[1]))

    def _cut(self, inode: int, size: int) -> None:
        self.sizes[inode] = size
        self.steps.append(Cut(inode, size))

    def _fsync(self, words: list[str], _result: int) -> None:
        if handle := self.handles.get(_number_in(words[0])):
            self.steps.append(Synced(handle[0]))

    _fdatasync = _fsync

    def _mmap(self, words: list[str], _result: int) -> None:
        # Writes to mapped memory are no calls. SQLite's -shm is mapped, and made anew after a loss of power.
        path = _path_in(words[4])
        if "MAP_SHARED" in words[3] and "PROT_WRITE" in words[2] and self._inside(path) and not path.endswith("-shm"):
            raise UnfitLogError("a file is written through memory")

    def _inside(self, path: str) -> bool:
        return path.startswith(self.root + "/")

    def _elsewhere(self, words: list[str], _result: int) -> None:
        if any(self._inside(_path_in(word)) for word in words if "<" in word):
            raise UnfitLogError("a call that can't be replayed writes into the folder")

    # What Python and SQLite do not use here is refused rather than half understood.
    _writev = _pwritev = _pwritev2 = _sendfile = _copy_file_range = _fallocate = _sync_file_range = _elsewhere


def _number_in(word: str) -> int:
    return int(word.split("<", 1)[0]) if word[0].isdigit() else -1


def _path_in(word: str) -> str:
    found = re.search(r"<((?:\\x[0-9a-f]{2})*)", word)
    return bytes.fromhex(found[1].replace("\\x", "")).decode(errors="replace") if found else ""


def steps_between(log: Path, root: Path, at_rest: Tree, flow: str) -> list[Step]:
    """What was asked of the disk below `root` between the lines "begin FLOW" and "end FLOW" that the program told."""
    reader, inside = Reader(root, at_rest), False
    for call, words, result in calls_of(log):
        if call == "write" and words[0].startswith("1<") and text_in(words[1]).strip() in (
            f"begin {flow}".encode(), f"end {flow}".encode(),
        ):  # fmt: skip
            inside = text_in(words[1]).startswith(b"begin")
        elif inside:
            reader.take(call, words, result)
    return reader.steps
