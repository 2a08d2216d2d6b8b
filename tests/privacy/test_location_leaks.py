"""Nothing private in a photograph is kept or leaves: place, serial numbers, names, notes, hidden pictures."""

import base64
import io
import zipfile
import zlib
from pathlib import Path

import pytest

from calibration.opening import open_photo
from estimator.records.drafts import Drafts
from tests.counts import NIGHT
from tests.privacy import salted_photos as salted
from tests.privacy.salted_photos import found_seeds

ROOT = Path(__file__).parents[2]
SMALL = salted.sample_pixels("strands_before.jpg")[:64, :96]
MADE = {name: make(SMALL) for name, make in salted.WITH_PIXELS.items()} | {"heic": salted.salted_heic()}
CLEANED = list(MADE)


def test_there_are_forty_seeds_and_the_search_finds_each_in_the_photograph_itself():
    assert sum(len(photo.seeds) for photo in MADE.values()) >= 40
    for photo in MADE.values():
        open_photo(photo.content)  # a whole photograph, for all that is in it
        # EXIF is written in one byte order; the other stands in the list in case a copy turns it.
        missing = set(photo.seeds) - set(found_seeds(photo.content, photo.seeds))
        assert missing <= {"gps >", "gps longitude >"}


def test_the_search_sees_through_every_packing():
    seed = {"x": b"Zq0123456789Xv"}
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.txt", b"...." + base64.b64encode(b"padding " * 9 + seed["x"]))
    packed = {
        "raw": b"..." + seed["x"],
        "two bytes": b"." + seed["x"].decode().encode("utf-16-be"),
        "hexadecimal": seed["x"].hex().encode(),
        "deflated": b"%PDF stream\n" + zlib.compress(b"q " + seed["x"]) + b"endstream",
        "base64 in a zip": stream.getvalue(),
        "base64 at any shift": base64.b64encode(b"ab" + seed["x"] + b"cd"),
    }
    assert [way for way, content in packed.items() if found_seeds(content, seed) != ["x"]] == []


@pytest.mark.parametrize("kind", CLEANED)
def test_a_clean_copy_holds_nothing_private(kind, tmp_path, command):
    (tmp_path / f"photo.{kind}").write_bytes(MADE[kind].content)
    assert command("clean", tmp_path / f"photo.{kind}", "--out", tmp_path / "copy.bin")[0] == 0
    assert found_seeds((tmp_path / "copy.bin").read_bytes(), MADE[kind].seeds) == []


@pytest.mark.parametrize("kind", CLEANED)
def test_an_unfinished_visit_holds_nothing_private(kind, place):
    _kept_as_draft(MADE[kind].content, place)
    assert _hits(place.folder, MADE[kind].seeds) == []


def _kept_as_draft(photo_bytes: bytes, place) -> None:
    """The draft as the page keeps it."""
    from estimator.pages.draft import Draft, Shot
    from estimator.pages.draft_json import as_json
    from estimator.records.photo_files import hash_of

    told = as_json(Draft(before=Shot(photo_bytes, hash_of(photo_bytes))))
    Drafts(place).keep("a" * 32, "", told.content, told.photos)


def _hits(folder: Path, seeds) -> list[str]:
    """Every file below the folder that holds a value, and where it came from."""
    return [
        f"{path.name}: {found}"
        for path in sorted(folder.rglob("*"))
        if path.is_file() and (found := found_seeds(path.read_bytes(), seeds))
    ]


VISIT = (ROOT / "sample_images" / "visit.toml").read_text("utf-8")
CONSENTS = "".join(
    f'\n[[consent]]\nscope = "{scope}"\ngiven_on = 2026-10-05\nhow = "signed"\n' for scope in ("portfolio", "teaching")
)


@pytest.fixture(
    params=[pytest.param(kind, marks=NIGHT if kind in ("webp", "tif", "png") else ()) for kind in salted.WITH_PIXELS]
)
def whole_visit(request, tmp_path, command):
    """Everything that a visit of salted photographs leaves behind, and the seeds."""
    kind, sent = request.param, tmp_path / "in"
    sent.mkdir()
    seeds: dict[str, bytes] = {}
    for name in ("strands_before", "strands_after"):
        photo = salted.WITH_PIXELS[kind](salted.sample_pixels(f"{name}.jpg"))
        (sent / f"{name}.{kind}").write_bytes(photo.content)
        seeds |= photo.seeds
    for name in ("strands_zones.png", "strands_zones.json"):
        (sent / name).write_bytes((ROOT / "sample_images" / name).read_bytes())
    text = VISIT.replace("demo = true", "demo = false").replace(".jpg", f".{kind}") + CONSENTS
    (sent / "visit.toml").write_text(text, "utf-8")
    out, file = tmp_path / "out", sent / "visit.toml"
    commands = [
        ("visit", file, "--out", out, "--keep", tmp_path / "salon"),
        ("sheet", "class", file, "--out", out / "class.pdf"),
        ("sheet", "portfolio", file, "--out", out / "hair.png"),
        ("export", "Marigold", out / "client.zip"),
        ("backup", out / "backup.zip"),
    ]
    if kind == "jpg":  # words and figures alone, the same whatever the photograph's format
        photo = sent / f"strands_before.{kind}"
        commands += [
            ("sheet", "bowls", file, "--out", out / "bowls.pdf"),
            *(("sheet", "letter", file, "--out", out / f"letter.{ending}") for ending in ("txt", "html", "pdf")),
            ("read", photo, "--zones", sent / "strands_zones.png", "--explain", "--out", out / "rows.csv"),
            ("read", photo, "--zones", sent / "strands_zones.png", "--json"),
            ("correct", photo, "--out", out / "corrections.csv"),
            ("remote", "read", sent, "--out", out / "reply.html"),
            ("records", "trend", "Marigold", "--out", out / "trend.html"),
            ("records", "show", "Marigold"),
            ("lift", "plan", file, "--out", out),
            ("care", "calendar", file, "--out", out / "dates.ics"),
        ]
    for words in commands:
        code, said = command(*words)
        assert code == 0, (words, said)
        (out / f"said-{len(list(out.iterdir()))}.txt").write_text(said, "utf-8")
    return tmp_path, seeds


@pytest.mark.slow
def test_no_file_that_a_visit_leaves_behind_holds_anything_private(whole_visit):
    folder, seeds = whole_visit
    assert len(list((folder / "out").iterdir())) >= 11
    assert _hits(folder / "in", seeds)  # the search does find what is there
    assert _hits(folder / "out", seeds) == []
    assert _hits(folder / "salon", seeds) == []
