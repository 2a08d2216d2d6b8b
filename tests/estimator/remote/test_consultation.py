"""Sent photographs: views, copies, screens and filters are found; what is left is read with wide intervals."""

import csv
import datetime
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from calibration.opening import open_photo
from calibration.pipeline import correct_bytes
from calibration.references import References
from estimator.care.facts import Facts
from estimator.cli import app
from estimator.errors import BadInputError
from estimator.files import neutral_point
from estimator.remote.bundle import Bundle, SentFile
from estimator.remote.consultation import AboutPhotos, consult, sort_photos
from estimator.remote.copies import looks_like_a_screen, picture_bits
from estimator.remote.reply import reply_to
from estimator.remote.views import asked_views, proposed_view, stated_views
from estimator.reports.client_letter import letter_text
from estimator.reports.document import Heading
from estimator.toning.targets import Target
from estimator.visit import Consultation

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"
HEAD, TURNED = ((SAMPLES / name).read_bytes() for name in ("head.jpg", "head_turned.jpg"))
DAY = datetime.date(2026, 11, 20)
UNKNOWN_CLIENT = Consultation(Facts(), DAY)


def _pixels(jpeg: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)


def _jpeg(bgr: np.ndarray, quality: int = 90) -> bytes:
    return cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()


def _sent(**photos: bytes) -> Bundle:
    return Bundle(tuple(SentFile(f"{name}.jpg", content) for name, content in photos.items()), ())


def _codes(bundle: Bundle) -> dict[str, set[str]]:
    return {photo.name: {mark.code for mark in photo.marks} for photo in sort_photos(bundle, AboutPhotos())}


@pytest.mark.slow
def test_smaller_copy_of_a_picture_counts_once_and_another_picture_counts():
    small = _jpeg(cv2.resize(_pixels(HEAD), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), 60)
    codes = _codes(_sent(a=small, b=HEAD, c=TURNED))
    assert "copy" in codes["a.jpg"]
    assert "copy" not in codes["b.jpg"] | codes["c.jpg"]


def test_bits_of_a_picture_hardly_move_with_size_and_quality():
    bits = picture_bits(open_photo(HEAD))
    for share, quality in ((0.5, 50), (0.7, 70)):
        again = picture_bits(open_photo(_jpeg(cv2.resize(_pixels(HEAD), None, fx=share, fy=share), quality)))
        assert (bits != again).sum() <= 4


def test_picture_of_a_screen_is_told_from_a_long_photograph():
    long = cv2.resize(_pixels(HEAD), (900, 1950))
    screen = long.copy()
    screen[:90], screen[-90:] = 250, 250
    cv2.putText(screen, "12:40", (40, 60), cv2.FONT_HERSHEY_SIMPLEX, 1.5, (0, 0, 0), 3)
    assert looks_like_a_screen(open_photo(_jpeg(screen)))
    assert not looks_like_a_screen(open_photo(_jpeg(long)))
    assert not looks_like_a_screen(open_photo(HEAD))


@pytest.mark.slow
def test_filter_that_makes_colours_vivid_is_suspected_and_plain_photographs_are_not():
    hsv = cv2.cvtColor(_pixels(HEAD), cv2.COLOR_BGR2HSV).astype(np.float32)
    hsv[..., 1] = np.clip(1.9 * hsv[..., 1], 0, 255)
    vivid = _jpeg(cv2.cvtColor(hsv.astype(np.uint8), cv2.COLOR_HSV2BGR))
    codes = _codes(_sent(vivid=vivid, plain=TURNED))
    assert "filter_suspected" in codes["vivid.jpg"]
    assert "filter_suspected" not in codes["plain.jpg"]


@pytest.mark.slow
def test_truth_lies_within_the_estimate_and_intervals_are_wider_than_at_the_chair():
    lines = (SAMPLES / "truth.csv").read_text(encoding="utf-8").splitlines()
    truth = [
        float(row["lab_l"]) for row in csv.DictReader(ln for ln in lines if ln[0] != "#") if row["photo"] == "head.jpg"
    ]
    found = consult(_sent(back=HEAD, left=TURNED), UNKNOWN_CLIENT)
    assert found.estimate is not None
    zone = found.photos[0].reading.zones[0].reading
    # The whole hair is one proposed zone: most of it is the lengths, whose lightness the interval must hold.
    assert zone.lab_low[0] <= np.median(truth) <= zone.lab_high[0]
    assert found.estimate.level_high - found.estimate.level_low > 1.0
    assert found.estimate.verified


@pytest.mark.slow
def test_views_come_from_a_person_first_and_from_names_as_a_proposal():
    assert proposed_view("IMG_back_2.jpg") == "back"
    assert proposed_view("left or right.jpg") == ""
    assert proposed_view("WA0001.jpg") == ""
    found = consult(_sent(back=HEAD), UNKNOWN_CLIENT, AboutPhotos({"back.jpg": "crown"}))
    assert (found.photos[0].view, found.photos[0].view_stated) == ("crown", True)
    assert set(found.missing_views) == {view.title for view in asked_views() if view.code != "crown"}
    with pytest.raises(BadInputError, match="no view"):
        stated_views(["back.jpg=sideways"], ["back.jpg"])


@pytest.mark.slow
def test_white_sheet_pointed_at_serves_where_there_is_no_card_and_is_marked():
    bare = _pixels(HEAD).copy()
    corners = correct_bytes(HEAD).sighting.corners_px
    middle = corners.mean(axis=0)
    wide = (middle + 1.4 * (corners - middle)).astype(np.int32)
    cv2.fillConvexPoly(bare, wide, (200, 205, 210))  # a plain sheet where the card was
    point = neutral_point(f"{middle[0]:.0f},{middle[1]:.0f},20")
    without, with_sheet = (
        consult(_sent(a=_jpeg(bare)), UNKNOWN_CLIENT, AboutPhotos(references=given))
        for given in ({}, {"a.jpg": References(neutral=point)})
    )
    assert without.estimate is None
    assert with_sheet.estimate is not None
    assert not with_sheet.estimate.verified
    assert "rough" in letter_text(reply_to(Heading("M.", "Saltmarsh Lane", DAY), with_sheet))


@pytest.mark.slow
def test_reply_tells_what_to_take_again_and_asks_what_is_open_and_holds_no_formula():
    blurred = (SAMPLES / "strands_blurred.jpg").read_bytes()
    found = consult(_sent(back=HEAD, front=blurred), UNKNOWN_CLIENT, wish=Target("hair", 9, "beige"))
    text = letter_text(reply_to(Heading("M.", "Saltmarsh Lane", DAY), found))
    assert "front.jpg: " in text
    assert "The photo is blurred" in text
    assert "How old are you?" in text
    assert "48 hours" in text
    assert "volume" not in text


@pytest.mark.slow
def test_photographs_that_can_not_be_measured_still_get_an_answer(tmp_path):
    (tmp_path / "sent").mkdir()
    (tmp_path / "sent" / "dark.jpg").write_bytes(_jpeg((_pixels(HEAD) * 0.02).astype(np.uint8)))
    ran = CliRunner().invoke(app, ["remote", "read", str(tmp_path / "sent"), "--out", str(tmp_path / "reply.txt")])
    assert ran.exit_code == 1
    assert "None of the photographs" in (tmp_path / "reply.txt").read_text(encoding="utf-8")


def test_sheet_is_written_as_page_and_on_paper(tmp_path):
    for name, begins in (("sheet.pdf", b"%PDF"), ("sheet.html", b"<!DOCTYPE")):
        ran = CliRunner().invoke(
            app, ["remote", "sheet", "--out", str(tmp_path / name), "--salon", "Saltmarsh <b>Lane"]
        )
        assert ran.exit_code == 0, ran.output
        assert (tmp_path / name).read_bytes().startswith(begins)
    html = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "<b>Lane" not in html
    assert html.count('role="img"') == 1 + len(asked_views())


def test_the_sheet_for_home_asks_what_the_page_asks_and_nothing_that_is_done_at_the_chair(tmp_path):
    CliRunner().invoke(app, ["remote", "sheet", "--out", str(tmp_path / "sheet.html")])
    html = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "How is your scalp?" in html
    # A wet strand, a lock in peroxide and a patch test are for the one who works with them: common practice.
    for words in ("wet strand", "in peroxide", "patch test", "seen by eye", "drop of water"):
        assert words not in html
