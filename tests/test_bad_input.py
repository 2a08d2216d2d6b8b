"""What bad input gets at the command: one sentence that says what is wrong and what to do, an exit code, no traceback,
no half-written file. Every photograph here is a sample photograph with one thing done to it."""

import io
import json
import resource
import shutil
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from estimator import cli

ROOT = Path(__file__).resolve().parent.parent
SAMPLES = ROOT / "sample_images"
CARD = (slice(590, 915), slice(545, 985))  # rows, columns of the sample photograph that hold its card


@pytest.fixture
def command(monkeypatch, capsys):
    """Runs the command in this process; returns its exit code and all that it said."""

    def run(*words) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["tressmeter", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        text = said.out + said.err
        assert "Traceback" not in text
        code = ended.value.code
        return (0 if code is None else int(code)), " ".join(text.split())

    return run


def _sample(name: str = "strands_before.jpg") -> np.ndarray:
    return np.asarray(Image.open(SAMPLES / name).convert("RGB")).copy()


def _saved(tmp_path: Path, pixels: np.ndarray, name: str = "photo.jpg") -> Path:
    path = tmp_path / name
    Image.fromarray(pixels).save(path, quality=95)
    return path


def _without_card(pixels: np.ndarray) -> np.ndarray:
    pixels[CARD] = np.median(pixels[960:, 20:200].reshape(-1, 3), axis=0)
    return pixels


def _half_card(pixels: np.ndarray) -> np.ndarray:
    rows, columns = CARD
    pixels[rows, (columns.start + columns.stop) // 2 : columns.stop] = np.median(pixels[960:, 20:200].reshape(-1, 3), 0)
    return pixels


def _two_cards(pixels: np.ndarray) -> np.ndarray:
    card = pixels[CARD]
    pixels[CARD[0], 40 : 40 + card.shape[1]] = card
    return pixels


# What is done to the sample photograph, the exit code, and the code of the finding that must be among those told.
CAPTURE_FAULTS = {
    "no card": (_without_card, 1, "[no_card]"),
    "half a card": (_half_card, 1, "[card_covered]"),
    "two cards": (_two_cards, 0, "[two_cards]"),
    "mirrored photo": (lambda pixels: pixels[:, ::-1], 0, "[mirrored]"),
    "black photo": (lambda pixels: pixels * 0, 1, "[underexposed]"),
    "white photo": (lambda pixels: pixels * 0 + 255, 1, "[overexposed]"),
}


@pytest.mark.slow
@pytest.mark.parametrize("fault", CAPTURE_FAULTS)
def test_capture_fault_is_named_with_its_remedy(fault, tmp_path, command):
    change, expected_code, expected_word = CAPTURE_FAULTS[fault]
    zones = json.loads((SAMPLES / "strands_zones.json").read_text())
    photo = _saved(tmp_path, np.ascontiguousarray(change(_sample())))
    shutil.copy(SAMPLES / "strands_zones.png", tmp_path / "zones.png")
    (tmp_path / "zones.json").write_text(json.dumps(zones))
    code, said = command("read", photo, "--zones", tmp_path / "zones.png")
    assert expected_word in said
    assert code == expected_code


@pytest.mark.slow
def test_another_makers_card_is_not_taken_for_ours(tmp_path, command):
    from tests.synthetic.card_scene import CardScene, Layout, photograph

    reading_order = tuple(np.random.default_rng(3).permutation(24))
    path = tmp_path / "photo.jpg"
    path.write_bytes(photograph(CardScene(layout=Layout(order=reading_order))).jpeg())
    code, said = command("correct", path)
    assert code == 1
    assert "other_card" in said or "no_card" in said
    assert "usable" not in said


def _png_of_size(width_px: int, height_px: int) -> bytes:
    """A PNG header that claims this size, with almost nothing behind it."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return len(content).to_bytes(4, "big") + kind + content + zlib.crc32(kind + content).to_bytes(4, "big")

    header = width_px.to_bytes(4, "big") + height_px.to_bytes(4, "big") + bytes([8, 2, 0, 0, 0])
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def _bytes_of(picture: Image.Image, file_format: str, **options) -> bytes:
    out = io.BytesIO()
    picture.save(out, file_format, **options)
    return out.getvalue()


def _unreadable() -> dict[str, bytes]:
    whole = (SAMPLES / "strands_before.jpg").read_bytes()
    small = Image.fromarray(_sample()[:200, :200])
    return {
        "1-pixel photo": _bytes_of(small.crop((0, 0, 1, 1)), "PNG"),
        "300-megapixel photo": _png_of_size(20_000, 15_000),
        "truncated file": whole[: len(whole) * 2 // 3],
        "text file named .jpg": b"zone,level\ncrown,7\n" * 50,
        "PDF": b"%PDF-1.7\n1 0 obj << /Type /Catalog >> endobj\n" * 20,
        "animated picture": _bytes_of(small, "GIF", save_all=True, append_images=[small.rotate(90)], duration=100),
        "CMYK": _bytes_of(small.convert("CMYK"), "JPEG"),
        "grey": _bytes_of(small.convert("L"), "JPEG"),
        "empty file": b"",
    }


@pytest.mark.slow
@pytest.mark.parametrize("fault", _unreadable())
def test_file_that_is_no_whole_photograph_is_refused_in_a_sentence(fault, tmp_path, command):
    path = tmp_path / "photo.jpg"
    path.write_bytes(_unreadable()[fault])
    code, said = command("read", path)
    assert code == 1
    assert said.endswith(".")
    assert 20 < len(said) < 300


def test_unreadable_file_is_a_row_among_the_rows_of_many(tmp_path, command):
    broken, whole = tmp_path / "broken.jpg", SAMPLES / "strands_before.jpg"
    broken.write_bytes(b"not a photograph")
    code, _ = command("correct", broken, whole, "--out", tmp_path / "corrections.csv")
    lines = (tmp_path / "corrections.csv").read_text().splitlines()
    assert code == 0
    assert "retake" in lines[1]
    assert "unreadable" in lines[1]
    assert "usable" in lines[2]


def _polygons(**zones) -> str:
    return json.dumps({"setting": "board", "zones": zones})


LOCK = [[680, 170], [745, 170], [745, 500], [680, 500]]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("document", "word"),
    [
        (_polygons(crown=[[300, 300], [304, 300], [304, 305], [300, 305]]), "crown"),
        (_polygons(crown=[[30, 30], [180, 30], [180, 180], [30, 180]]), "crown"),
        ('{"setting": "board", "zones": {"crown": [[1,1],[9,1],[9,9]], "crown": [[1,1],[9,1],[9,9]]}}', "twice"),
        (_polygons(crown=[[300, 300], [9000, 300], [9000, 9000]]), "crown"),
        (_polygons(crown=[[300, 300], [310, 300]]), "3"),
        ("not json", "JSON"),
    ],
    ids=["20 pixels", "no hair", "duplicate names", "outside the photo", "two points", "no JSON"],
)
def test_zone_that_can_not_be_read_gets_a_sentence(document, word, tmp_path, command):
    zones = tmp_path / "zones.json"
    zones.write_text(document)
    code, said = command("read", SAMPLES / "strands_before.jpg", "--zones", zones)
    assert code == 1
    assert word in said


def test_not_a_number_on_the_shelf_is_told_by_its_row(tmp_path, command):
    (tmp_path / "shelf.csv").write_text("shade,lab_l,lab_a,lab_b\nwhite,87,-1,17\nviolet,nan,18,-33\n")
    (tmp_path / "cases.csv").write_text("case,lab_l,lab_a,lab_b,strength,parts\n0,60,5,30,0.5,violet:1\n")
    words = ("predict", "--shelf", tmp_path / "shelf.csv", "--cases", tmp_path / "cases.csv")
    code, said = command(*words, "--out", tmp_path / "out.csv")
    assert code == 1
    assert "violet" in said or "3" in said
    assert not (tmp_path / "out.csv").exists()


@pytest.mark.slow
def test_output_folder_that_can_not_be_written_gets_a_sentence(tmp_path, command):
    # A file where the folder should be: refused for every user, the owner of the machine included.
    (tmp_path / "taken").write_text("a file")
    code, said = command("demo", "--out", tmp_path / "taken")
    assert code == 1
    assert "taken" in said
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


@pytest.mark.slow
def test_disk_that_fills_up_while_the_report_is_written_leaves_nothing_half(tmp_path):
    # A limit on the size of a file stands in for a full disk: the write fails in the middle, as it would there.
    out = tmp_path / "reports"
    ran = subprocess.run(
        [sys.executable, "-m", "estimator", "demo", "--out", str(out)],
        cwd=ROOT, capture_output=True, text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000)),
    )  # fmt: skip
    assert ran.returncode == 1
    assert "Traceback" not in ran.stderr
    assert ran.stderr.strip().endswith(".")
    assert not out.exists() or not list(out.iterdir())


@pytest.mark.slow
def test_printable_card_is_written_once_and_only_in_a_size_there_is(tmp_path, command):
    code, _ = command("card", "print", "--out", tmp_path / "card.pdf", "--size", "A6")
    assert code == 0
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")
    code, said = command("card", "print", "--out", tmp_path / "card.pdf")
    assert code == 1
    assert "not overwritten" in said
    code, said = command("card", "print", "--out", tmp_path / "other.pdf", "--size", "A9")
    assert code == 2
    assert "A5" in said


@pytest.mark.slow
def test_a_print_can_not_be_measured_where_there_is_none(tmp_path, command):
    words = ("--printer", "inkjet, matt paper", "--out", tmp_path / "card.toml")
    code, said = command("card", "measure", SAMPLES / "strands_before.jpg", *words)
    assert code == 1
    assert "No printed card was found" in said
    code, said = command("card", "measure", *words)
    assert code == 2
    assert "--table" in said
    assert not (tmp_path / "card.toml").exists()


def test_missing_file_and_missing_option_are_told(tmp_path, command):
    code, said = command("read", tmp_path / "nowhere.jpg")
    assert code == 1
    assert "no photograph at" in said
    code, said = command("read", tmp_path)
    assert code == 2
    assert "--out" in said
