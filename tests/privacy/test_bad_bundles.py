"""Bundles and exports made to do harm: bombs, climbing names, links, ten thousand members, lies about sizes."""

import io
import json
import os
import struct
import time
import zipfile
from pathlib import Path

import pytest

from estimator.records.exporting import FORMAT, export_client
from estimator.records.store import open_store
from estimator.records.visits import keep_visit
from tests.estimator.records.invented import visit
from tests.privacy.test_bad_files import MOST_SECONDS, _check, _said

pytestmark = pytest.mark.slow

SAMPLES = Path(__file__).parents[2] / "sample_images"
PHOTO = (SAMPLES / "strands_blurred.jpg").read_bytes()  # told of, and never measured


def _zip(path: Path, members) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return path


def _nested(depth: int) -> bytes:
    content = PHOTO
    for _ in range(depth):
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w") as archive:
            archive.writestr("inner.zip", content)
        content = stream.getvalue()
    return content


def _bomb(path: Path) -> None:
    _zip(path, ((f"{n}.jpg", bytes(40_000_000)) for n in range(20)))


def _one_large(path: Path) -> None:
    _zip(path, [("a.jpg", bytes(61_000_000))])


def _many(path: Path) -> None:
    _zip(path, ((f"{n}.jpg", b"\xff\xd8\xff") for n in range(10_000)))


def _nested_zip(path: Path) -> None:
    path.write_bytes(_nested(5))


def _lying(path: Path) -> None:
    """Both places that tell the unpacked size say 10 bytes; what is packed swells to 50 MB."""
    _zip(path, [("a.jpg", bytes(50_000_000))])
    whole = path.read_bytes().replace(struct.pack("<I", 50_000_000), struct.pack("<I", 10))
    path.write_bytes(whole)


def _broken_packing(path: Path) -> None:
    _zip(path, [("a.jpg", PHOTO)])
    whole = bytearray(path.read_bytes())
    whole[60:90] = bytes(range(30))
    path.write_bytes(bytes(whole))


def _overlapping(path: Path) -> None:
    """Every entry of the directory points at one and the same member."""
    _zip(path, [("a.jpg", bytes(1_000_000)), ("b.jpg", bytes(1_000_000))])
    whole = bytearray(path.read_bytes())
    second = whole.rindex(b"PK\x01\x02")
    whole[second + 42 : second + 46] = bytes(4)
    path.write_bytes(bytes(whole))


def _locked(path: Path) -> None:
    _zip(path, [("a.jpg", PHOTO)])
    whole = bytearray(path.read_bytes())
    for mark, flags in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        whole[whole.index(mark) + flags] |= 1
    path.write_bytes(bytes(whole))


def _unknown_packing(path: Path) -> None:
    _zip(path, [("a.jpg", PHOTO)])
    whole = bytearray(path.read_bytes())
    for mark, method in ((b"PK\x03\x04", 8), (b"PK\x01\x02", 10)):
        whole[whole.index(mark) + method] = 97
    path.write_bytes(bytes(whole))


def _links(path: Path) -> None:
    """A zip whose member says that it is a link to a private file of this machine."""
    with zipfile.ZipFile(path, "w") as archive:
        info = zipfile.ZipInfo("a.jpg")
        info.external_attr = (0o120777) << 16
        archive.writestr(info, "/etc/passwd")


def _folder_of_links(path: Path) -> None:
    path.mkdir()
    (path / "a.jpg").symlink_to(SAMPLES / "head.jpg")
    (path / "below").symlink_to(SAMPLES)
    (path / "round").symlink_to(path)


def _folder_of_odd_things(path: Path) -> None:
    path.mkdir()
    os.mkfifo(path / "a.jpg")
    (path / "b.jpg").mkdir()
    (path / "c.jpg").symlink_to("/dev/zero")


def _folder_of_ten_thousand(path: Path) -> None:
    path.mkdir()
    for number in range(2_100):  # the rule says 2,000
        (path / f"{number}.jpg").write_bytes(b"")


HARMFUL = {
    "a bomb": _bomb, "one large member": _one_large, "ten thousand members": _many, "a zip in a zip": _nested_zip,
    "a lie about the size": _lying, "broken packing": _broken_packing, "members that overlap": _overlapping,
    "a password": _locked, "an unknown packing": _unknown_packing, "a link in a zip": _links,
    "a folder of links": _folder_of_links, "a folder of pipes": _folder_of_odd_things,
    "a folder of thousands": _folder_of_ten_thousand,
}  # fmt: skip


@pytest.fixture
def at(tmp_path, monkeypatch):
    """An empty folder to stand in."""
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    return here


SLOW_TO_MAKE = {"a bomb", "one large member", "a lie about the size", "ten thousand members", "swells"}


def _marked(kinds):
    return [pytest.param(kind, marks=pytest.mark.slow if kind in SLOW_TO_MAKE else ()) for kind in kinds]


@pytest.mark.parametrize("kind", _marked(HARMFUL))
def test_what_a_client_sent_to_do_harm_is_told_and_nothing_is_written(kind, tmp_path, at, command):
    sent = tmp_path / "sent.zip"
    HARMFUL[kind](sent)
    code, said = _said(command, ("remote", "read", sent))
    _check(code, said)
    assert "root:" not in said
    assert list(at.iterdir()) == []


CLIMBING = (
    *("../../up.jpg", "/tmp/absolute.jpg", "..\\..\\up.jpg", "C:\\x.jpg", "a/../../b.jpg", "nul\x01.jpg", "~/x.jpg"),
)  # fmt: skip


@pytest.mark.parametrize("name", CLIMBING)
def test_a_member_that_climbs_out_is_only_a_name(name, tmp_path, at, command):
    before = set(tmp_path.rglob("*"))
    sent = _zip(tmp_path / "sent.zip", [(name, PHOTO)])
    command("remote", "read", sent, "--out", at / "reply.txt")
    assert set(tmp_path.rglob("*")) - before == {sent, at / "reply.txt"}
    assert not Path("/tmp/absolute.jpg").exists()


@pytest.fixture
def exported(tmp_path, place):
    with open_store(place) as store:
        keep_visit(store, visit("M-7"))
        export_client(store, "M-7", tmp_path / "client.zip")
    return tmp_path / "client.zip"


def _changed(exported: Path, path: Path, change) -> Path:
    """The export with its members changed and its manifest made to fit."""
    import hashlib

    with zipfile.ZipFile(exported) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    about = json.loads(members.pop("manifest.json"))
    members, about = change(members, about)
    about["sha256"] = {name: hashlib.sha256(content).hexdigest() for name, content in members.items()}
    return _zip(path, [*members.items(), ("manifest.json", json.dumps(about))])


def _climbing(members, about):
    members["../../up.txt"] = b"x"
    about["files"] = {**about["files"], "0" * 64: "../../up.txt"}
    return members, about


def _swelling(members, about):
    members["client.json"] = b" " * 200_000_000
    return members, about


def _deep(members, about):
    members["client.json"] = b"[" * 100_000
    return members, about


def _renamed_tables(members, about):
    rows = json.loads(members["client.json"])
    rows["sqlite_master"] = [{"name": "x"}]
    members["client.json"] = json.dumps(rows).encode()
    return members, about


def _strange_columns(members, about):
    rows = json.loads(members["client.json"])
    rows["client"][0]["code); DROP TABLE client; --"] = 1
    members["client.json"] = json.dumps(rows).encode()
    return members, about


def _strange_values(members, about):
    rows = json.loads(members["client.json"])
    rows["visit"][0]["day"] = {"a": 1}
    members["client.json"] = json.dumps(rows).encode()
    return members, about


def _of_somebody_else(members, about):
    rows = json.loads(members["client.json"])
    rows["note"].append({**rows["note"][0], "id": "e" * 32, "client_id": "f" * 32, "visit_id": None})
    members["client.json"] = json.dumps(rows).encode()
    return members, about


EXPORTS = {
    "holds rows of somebody else": _of_somebody_else,
    "climbs": _climbing, "swells": _swelling, "is deep": _deep, "names other tables": _renamed_tables,
    "names other columns": _strange_columns, "holds other values": _strange_values,
}  # fmt: skip


@pytest.mark.parametrize("kind", _marked(EXPORTS))
def test_an_export_made_to_do_harm_is_refused_and_nothing_is_taken_in(kind, exported, tmp_path, at, command):
    bad = _changed(exported, tmp_path / "bad.zip", EXPORTS[kind])
    other = tmp_path / "other"
    with open_store(type_of_place(other)):
        pass
    code, said = _said(command, ("records", "import", bad, "--salon", other))
    _check(code, said)
    assert not list(other.glob("files/??/??/*"))
    assert not list(tmp_path.rglob("up.txt"))
    assert command("records", "find", "m", "--salon", other)[1].startswith("No client")


def type_of_place(folder: Path):
    from estimator.records.place import SalonPlace

    return SalonPlace(folder)


def test_an_export_of_the_right_form_is_taken_in(exported, tmp_path, command):
    same = _changed(exported, tmp_path / "same.zip", lambda members, about: (members, about))
    begun = time.process_time()
    assert command("records", "import", same, "--salon", tmp_path / "other")[0] == 0
    assert time.process_time() - begun < MOST_SECONDS
    assert FORMAT.startswith("tressmeter-client")
