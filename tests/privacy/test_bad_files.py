"""What a command says of a file that it can't use: one sentence with what to do, soon, and nothing is left behind."""

import os
import resource
import signal
import time
import zipfile
import zlib
from pathlib import Path

import pytest

from estimator.lifting.clock_events import Event, Instant, Kind
from estimator.records.beside import salon_clock
from estimator.records.place import SALON_VARIABLE, SalonPlace
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import visit
from tests.privacy.test_erasure_drill import NOW

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
PHOTO, ZONES, VISIT = SAMPLES / "strands_before.jpg", SAMPLES / "strands_zones.png", SAMPLES / "visit.toml"
MOST_SECONDS = 2.0
MOST_BYTES = 1_500_000_000  # more than any command may take up, and a bomb is stopped before the machine is
DEEP = 60_000

# X is the file that can't be used, O a new file to write. Each command once for each kind of file that it takes.
COMMANDS = {
    "read a photograph": ("read", "X.jpg"),
    "read with zones": ("read", PHOTO, "--zones", "X.json"),
    "read with a scale": ("read", PHOTO, "--scale", "X.toml"),
    "read with a card": ("read", PHOTO, "--card", "X.toml"),
    "read with a station": ("read", PHOTO, "--station", "X.toml"),
    "read with a sheet": ("read", PHOTO, "--zones", ZONES, "--white-sheet", "X.jpg"),
    "compare before": ("compare", "X.jpg", PHOTO),
    "compare after": ("compare", PHOTO, "X.jpg", "--zones", ZONES),
    "correct": ("correct", "X.jpg"),
    "clean": ("clean", "X.jpg", "--out", "O.jpg"),
    "predict shelf": ("predict", "--shelf", "X.csv", "--cases", "C.csv", "--out", "O.csv"),
    "predict cases": ("predict", "--shelf", "S.csv", "--cases", "X.csv", "--out", "O.csv"),
    "plan a visit": ("plan", "X.toml"),
    "plan readings": ("plan", "X.csv", "--targets", "T.csv"),
    "plan targets": ("plan", "R.csv", "--targets", "X.csv"),
    "plan shelf": ("plan", "R.csv", "--targets", "T.csv", "--shelf", "X.csv"),
    "visit": ("visit", "X.toml", "--out", "O"),
    "trial": ("trial", "X.toml"),
    "rescue": ("rescue", "X.toml"),
    "learn": ("learn", "X.toml"),
    "learn into": ("learn", VISIT, "--outcomes", "X.jsonl"),
    "restore": ("restore", "X.zip", "O"),
    "doctor": ("doctor", "--from", "X.zip"),  # a folder may hold backups, so it is no fault
    "records import": ("records", "import", "X.zip"),
    "records take-contacts": ("records", "take-contacts", "X.csv"),
    "records import-all": ("records", "import-all", "X.zip"),
    "scale fit": ("scale", "fit", "X.jpg", "--zones", ZONES, "--levels", "crown=7,nape=5", "--out", "O.toml"),
    "scale table": ("scale", "fit", "--table", "X.csv", "--levels", "crown=7,nape=5", "--out", "O.toml"),
    "card measure": ("card", "measure", "X.jpg", "--printer", "ink", "--out", "O.toml"),
    "card table": ("card", "measure", "--table", "X.csv", "--size", "A6", "--printer", "ink", "--out", "O.toml"),
    "care check": ("care", "check", "X.toml"),
    "care form": ("care", "form", "X.toml", "--out", "O.pdf"),
    "care calendar": ("care", "calendar", "X.toml", "--out", "O.ics"),
    "lift plan": ("lift", "plan", "X.toml"),
    "lift strand": ("lift", "strand", "X.jpg@0"),
    "lift strand zones": ("lift", "strand", f"{PHOTO}@0", "--zones", "X.json"),
    "lift clock photo": ("lift", "clock", "photo", "crown", "X.jpg"),
    "exchange colours": ("exchange", "colours", "X.csv", "O.csv"),
    "exchange readings": ("exchange", "readings", "X.csv", "O.csv"),
    "exchange plan": ("exchange", "plan", "X.csv", "O.csv"),
    "exchange outcomes": ("exchange", "outcomes", "X.csv", "O.csv"),
    "remote read": ("remote", "read", "X.zip"),
    "remote facts": ("remote", "read", "B.zip", "--facts", "X.toml"),
    "sheet bowls": ("sheet", "bowls", "X.toml", "--out", "O.pdf"),
    "sheet letter": ("sheet", "letter", "X.toml", "--out", "O.txt"),
    "sheet portfolio": ("sheet", "portfolio", "X.toml", "--out", "O.png"),
    "sheet class": ("sheet", "class", "X.toml", "--out", "O.pdf"),
    "shelf check": ("shelf", "check", "X.csv"),
    "shelf measure": ("shelf", "measure", "X.jpg", "--shelf", "S.csv", "--out", "O.csv"),
    "shelf table": ("shelf", "measure", "--table", "X.csv", "--shelf", "S.csv", "--out", "O.csv"),
    "station learn": ("station", "learn", "X.jpg", "X.jpg", "X.jpg", "--name", "chair", "--out", "O.toml"),
}  # fmt: skip


def _bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for number in range(20):
            archive.writestr(f"{number}.jpg", bytes(40_000_000))


def _huge_png() -> bytes:
    head = (40_000).to_bytes(4, "big") * 2 + bytes([8, 2, 0, 0, 0])
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(100_000))), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        len(told).to_bytes(4, "big") + name + told + zlib.crc32(name + told).to_bytes(4, "big") for name, told in parts
    )


WRITERS = {
    "missing": lambda path: None,
    "empty": lambda path: path.write_bytes(b""),
    "folder": lambda path: path.mkdir(),
    "loop": lambda path: path.symlink_to(path),  # cannot be opened by anybody, the owner of the machine included
    "pipe": os.mkfifo,
    "endless": lambda path: path.symlink_to("/dev/zero"),
    "noise": lambda path: path.write_bytes(bytes(range(256)) * 40),
    "two bytes a letter": lambda path: path.write_bytes("zone,level\ncrown,7\n".encode("utf-16")),
    "61 MB": lambda path: os.truncate(path, 61_000_000) if path.write_bytes(b"\xff\xd8") else None,
    "picture that swells": lambda path: path.write_bytes(_huge_png()),
    "cut photograph": lambda path: path.write_bytes(PHOTO.read_bytes()[:3000]),
    "deep TOML": lambda path: path.write_text("a = " + "[" * DEEP),
    "deep table names": lambda path: path.write_text("[" + "a." * 8000 + "a]\n"),
    "deep JSON": lambda path: path.write_text("[" * DEEP),
    "long line": lambda path: path.write_text("a," * 1_000_000),
    "number too long": lambda path: path.write_text('{"a": ' + "9" * 10_000 + "}"),
    "TOML number too long": lambda path: path.write_text("a = " + "9" * 10_000),
    "PDF": lambda path: path.write_bytes(b"%PDF-1.7\n1 0 obj << /Type /Catalog >> endobj\n" * 20),
    "null": lambda path: path.write_text("zone,level\ncr\0own,7\n"),
}
EVERYDAY = len(WRITERS)  # each command with one kind of file, another one for each command


def _pairs():
    """Every command with every kind of file; of those for every day every other command with one kind."""
    for place, name in enumerate(COMMANDS):
        for number, kind in enumerate(WRITERS):
            if (name, kind) == ("doctor", "folder"):
                continue
            slow = place % 2 or (place + number) % EVERYDAY != 0
            yield pytest.param(name, kind, id=f"{name}, {kind}", marks=pytest.mark.slow if slow else ())


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """A folder with sound files for the other places of a command, and a salon with one visit and a running clock."""
    folder = tmp_path_factory.mktemp("bench")
    (folder / "S.csv").write_text("shade,lab_l,lab_a,lab_b\nwhite,87,-1,17\nviolet,60,18,-33\n")
    (folder / "C.csv").write_text("case,lab_l,lab_a,lab_b,strength,parts\n0,60,5,30,0.5,violet:1\n")
    (folder / "T.csv").write_text("zone,level,tone\ncrown,8,beige\n")
    (folder / "R.csv").write_text("zone,lab_l,lab_a,lab_b\ncrown,60,5,30\n")
    with zipfile.ZipFile(folder / "B.zip", "w") as archive:
        archive.write(PHOTO, "a.jpg")
    return folder


@pytest.fixture(scope="module")
def salon(tmp_path_factory):
    """A salon with a visit and a running clock, which no command here is to change."""
    place = SalonPlace(tmp_path_factory.mktemp("salon") / "salon")
    with open_store(place) as store:
        keep_visit(store, visit())
    start = {"most_minutes": 20.0, "check_minutes": 5.0}
    salon_clock(place.folder).add(Event(1, "1", Kind.START, "crown", Instant(NOW, 0.0, "boot"), **start))
    return place


@pytest.fixture
def salon_command(salon, command, monkeypatch, tmp_path):
    """The command in an empty folder, on that salon."""
    monkeypatch.setenv(SALON_VARIABLE, str(salon.folder))
    monkeypatch.chdir(tmp_path)
    return command


def _words(name: str, bad: Path, bench: Path, out: Path) -> list[object]:
    found: list[object] = []
    for word in COMMANDS[name]:
        if isinstance(word, str) and word.startswith("X."):
            found.append(bad.parent / word)
        elif word in ("S.csv", "C.csv", "T.csv", "R.csv", "B.zip"):
            found.append(bench / str(word))
        else:
            found.append(out / str(word) if isinstance(word, str) and word.split(".")[0] == "O" else word)
    return found


def _too_long(*_: object) -> None:
    raise TimeoutError("it hangs")


def _said(command, words) -> tuple[int, str]:
    """Exit code and words; one that hangs is broken off, and fails."""
    signal.signal(signal.SIGALRM, _too_long)
    signal.setitimer(signal.ITIMER_REAL, 5 * MOST_SECONDS)
    had = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (_now_bytes() + MOST_BYTES, had[1]))
    try:
        begun = time.process_time()
        code, said = command(*words)
        assert time.process_time() - begun <= MOST_SECONDS
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        resource.setrlimit(resource.RLIMIT_AS, had)
    return code, said


def _now_bytes() -> int:
    """What this program has taken up so far."""
    return int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()


def _check(code: int, said: str) -> None:
    assert code in (1, 2), said
    assert "failed in a way it should not" not in said
    assert "Traceback" not in said
    assert "free memory" not in said
    plain = " ".join(said.split())
    assert 15 < len(plain) < 1200
    if code == 1 and not plain.startswith("photo verdict"):  # a table with a row that says retake, and why
        assert plain.rstrip(" ╰─╯│").endswith("."), plain


@pytest.mark.slow
@pytest.mark.parametrize(("name", "kind"), list(_pairs()))
def test_a_file_that_can_not_be_used_is_told_and_nothing_is_left(name, kind, bench, tmp_path, salon_command):
    folder, out = tmp_path / "given", tmp_path / "out"
    folder.mkdir()
    out.mkdir()
    (named,) = {word.split("@")[0] for word in COMMANDS[name] if isinstance(word, str) and word.startswith("X.")}
    bad = folder / named
    WRITERS[kind](bad)
    code, said = _said(salon_command, _words(name, bad, bench, out))
    _check(code, said)
    assert list(out.iterdir()) == []
