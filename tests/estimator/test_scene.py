"""A scene of rendered photographs: rows of the agreed form, refused photos as rows, changes with their intervals."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from estimator.errors import BadInputError
from estimator.scene import read_scene
from estimator.scene_rows import DIFFERENCE_COLUMNS, READING_COLUMNS, difference_rows, reading_rows
from estimator.zones.inputs import zone_spec_from_label_picture

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
ZONES = ["fringe", "crown", "nape", "back"]
# sample_images/truth.csv, strands after less before: exact, because the photographs are rendered.
TRUE_CHANGE = {"fringe": (-1.37, -4.91, 8.87), "crown": (-8.13, 0.10, -6.94), "nape": (-1.49, 2.23, 4.00)}


def spec(after=("after.jpg",)):
    document = (SAMPLES / "strands_zones.json").read_text()[:-1] + f', "after": {list(after)}}}'.replace("'", '"')
    return zone_spec_from_label_picture(document, (SAMPLES / "strands_zones.png").read_bytes())


@cache
def scene():
    names = {"before.jpg": "strands_before.jpg", "after.jpg": "strands_after.jpg", "shaken.jpg": "strands_blurred.jpg"}
    photos = {name: (SAMPLES / file).read_bytes() for name, file in names.items()}
    return read_scene(spec(), photos | {"letter.jpg": b"dear salon"})


@pytest.mark.slow
def test_rows_hold_every_zone_of_every_photo_and_of_all_together():
    rows = reading_rows("visit", scene())
    assert all(tuple(row) == READING_COLUMNS for row in rows)
    read = [(row["photo"], row["zone"]) for row in rows if row["lab_l"]]
    for photo in ("before.jpg", "after.jpg", "all", "all-after"):
        assert [zone for name, zone in read if name == photo] == ZONES


@pytest.mark.slow
def test_a_photo_that_can_not_be_used_is_one_row_that_says_why():
    rows = {row["photo"]: row for row in reading_rows("visit", scene())}
    assert rows["letter.jpg"]["verdict"] == rows["shaken.jpg"]["verdict"] == "retake"
    assert rows["letter.jpg"]["findings"]
    assert rows["letter.jpg"]["zone"] == rows["letter.jpg"]["lab_l"] == ""


@pytest.mark.slow
def test_changes_are_told_for_each_pair_and_each_zone():
    rows = difference_rows("visit", scene())
    assert all(tuple(row) == DIFFERENCE_COLUMNS for row in rows)
    assert [(row["photo_before"], row["photo_after"], row["zone"]) for row in rows] == [
        ("before.jpg", "after.jpg", zone) for zone in ZONES
    ]
    for row in rows:
        if row["zone"] in TRUE_CHANGE:
            change = np.array([float(row[axis]) for axis in ("d_l", "d_a", "d_b")])
            assert np.linalg.norm(change - TRUE_CHANGE[row["zone"]]) < 7.0


def test_a_change_is_known_better_than_either_reading():
    for pair in scene().differences:
        before = scene().photos[0].reading(pair.change.zone)
        assert pair.change.covariance[0, 0] < 2 * before.covariance[0, 0]


@pytest.mark.slow
def test_the_order_and_the_names_of_photos_change_no_number():
    renamed = {"b.jpg": "strands_after.jpg", "a.jpg": "strands_before.jpg"}
    other = read_scene(spec(after=("b.jpg",)), {name: (SAMPLES / file).read_bytes() for name, file in renamed.items()})
    for first, second in zip(scene().together, other.together, strict=True):
        assert np.array_equal(first.lab_d65, second.lab_d65)
        assert np.array_equal(first.covariance, second.covariance)


def test_outlines_of_another_photo_s_size_are_told():
    with pytest.raises(BadInputError, match="label picture has"):
        read_scene(spec(), {"head.jpg": (SAMPLES / "head.jpg").read_bytes()})


@pytest.mark.slow
def test_more_photographs_before_make_a_change_surer_and_every_pair_tells_the_same():
    # Two photographs of the same hair under one lamp: what each got wrong by itself averages, so the interval shrinks.
    photos = {name: (SAMPLES / file).read_bytes() for name, file in (
        ("one.jpg", "strands_before.jpg"), ("two.jpg", "strands_before.jpg"), ("after.jpg", "strands_after.jpg")
    )}  # fmt: skip
    changes = read_scene(spec(), photos).differences
    alone = {pair.change.zone: pair.change for pair in scene().differences}
    for zone in ZONES:
        told = [pair.change for pair in changes if pair.change.zone == zone]
        assert len(told) == 2
        assert told[0] is told[1]
        assert np.all(np.diag(told[0].covariance) <= np.diag(alone[zone].covariance))
