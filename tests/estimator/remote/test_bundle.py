"""What was sent: folders, zips and chats, bounded, and never unpacked to disk."""

import zipfile
from pathlib import Path

import pytest

from estimator.errors import BadInputError
from estimator.remote import bundle as module
from estimator.remote.bundle import bundle_of, open_bundle

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"
PHOTO = (SAMPLES / "strands_blurred.jpg").read_bytes()


def _zip(path: Path, files: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return path


def test_folder_and_zip_of_a_chat_give_the_same_photographs(tmp_path):
    files = {"chat/b.jpg": PHOTO, "chat/a.jpg": PHOTO + b"\0", "chat/messages.txt": b"hello"}
    for name, content in files.items():
        path = tmp_path / "folder" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    from_folder = open_bundle(tmp_path / "folder")
    from_zip = open_bundle(_zip(tmp_path / "chat.zip", files))
    assert [file.name for file in from_folder.photos] == [file.name for file in from_zip.photos] == ["a.jpg", "b.jpg"]
    assert from_folder.left_out == from_zip.left_out == ("messages.txt",)


def test_path_that_climbs_out_is_only_a_name_and_nothing_is_written(tmp_path):
    found = open_bundle(_zip(tmp_path / "sent.zip", {"../../evil/../photo.jpg": PHOTO}))
    assert [file.name for file in found.photos] == ["photo.jpg"]
    assert [path.name for path in tmp_path.rglob("*")] == ["sent.zip"]


def test_bomb_is_refused_before_it_is_unpacked(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "MOST_SENT_BYTES", 5_000_000)
    with pytest.raises(BadInputError, match="Choose fewer"):
        open_bundle(_zip(tmp_path / "bomb.zip", {f"{n}.jpg": b"\0" * 1_000_000 for n in range(9)}))


def test_size_that_a_zip_lies_about_is_not_believed(tmp_path, monkeypatch):
    path = _zip(tmp_path / "liar.zip", {"a.jpg": PHOTO})
    monkeypatch.setattr(module, "MOST_BYTES", 1000)
    with pytest.raises(BadInputError, match="no photograph"):
        open_bundle(path)


@pytest.mark.parametrize("content", [b"", b"no zip at all", b"PK\x03\x04 cut"])
def test_what_is_no_zip_is_told_with_what_to_do(tmp_path, content):
    path = tmp_path / "sent.zip"
    path.write_bytes(content)
    with pytest.raises(BadInputError, match="no zip"):
        open_bundle(path)


def test_missing_place_empty_folder_and_too_many_are_told(tmp_path, monkeypatch):
    with pytest.raises(BadInputError, match="nothing at"):
        open_bundle(tmp_path / "nowhere.zip")
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadInputError, match="no photograph"):
        open_bundle(tmp_path / "empty")
    monkeypatch.setattr(module, "MOST_PHOTOS", 2)
    with pytest.raises(BadInputError, match="more than 2"):
        open_bundle(_zip(tmp_path / "many.zip", {f"{n}.jpg": PHOTO for n in range(3)}))


def test_photographs_of_one_name_in_two_folders_are_told_apart(tmp_path):
    other = PHOTO + b"\0"
    found = open_bundle(_zip(tmp_path / "sent.zip", {"a/IMG_1.jpg": PHOTO, "b/IMG_1.jpg": other}))
    assert [(file.name, file.photo_bytes) for file in found.photos] == [("IMG_1.jpg", PHOTO), ("IMG_1 (2).jpg", other)]


def test_photographs_and_zips_dropped_together_are_one_bundle(tmp_path, monkeypatch):
    packed = _zip(tmp_path / "chat.zip", {"c/back.jpg": PHOTO, "c/chat.txt": b"hello"}).read_bytes()
    found = bundle_of([("front.jpg", PHOTO + b"\0"), ("chat.zip", packed), ("notes.txt", b"hello")])
    assert [file.name for file in found.photos] == ["front.jpg", "back.jpg"]
    assert found.left_out == ("chat.txt", "notes.txt")
    with pytest.raises(BadInputError, match="no zip"):
        bundle_of([("cut.zip", packed[:60])])
    monkeypatch.setattr(module, "MOST_SENT_BYTES", 3 * len(PHOTO))
    with pytest.raises(BadInputError, match="Choose fewer"):
        bundle_of([(f"{n}.zip", packed) for n in range(4)])
