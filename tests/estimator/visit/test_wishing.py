"""Targets told by another zone, off a photograph, or as the lightest; shades measured from their swatches."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from estimator import visit
from estimator.errors import BadInputError
from estimator.files import load_zones
from estimator.plan_file import PlanTables, colours_from_text, requests_from_tables
from estimator.scale.level import level_of_colour
from estimator.target_entries import TargetInFile
from estimator.toning.plan import PlanSettings
from estimator.toning.shades import KnownBy, demo_shelf
from estimator.toning.targets import TargetKind
from estimator.visit.wishing import ReadColour, TargetWish
from estimator.zones.outline import Setting

SAMPLE = Path(__file__).parents[3] / "sample_images"
WELL = np.diag([1.0, 0.4, 0.6])


def read(lab):
    lab = np.array(lab, dtype=float)
    return ReadColour(lab, WELL, level_of_colour(lab, WELL))


READ = {"crown": read((62, 6, 26)), "back": read((58, 9, 30)), "nape": read((50, 11, 30))}


def test_a_zone_like_one_with_a_target_gets_that_target():
    wishes = {"back": TargetWish(like="crown"), "crown": TargetWish(8, "beige")}
    back, crown = visit.targets_from(wishes, READ)
    assert (back.zone, back.level, back.tone) == ("back", crown.level, crown.tone)


def test_a_zone_like_one_without_a_target_gets_its_reading():
    (back,) = visit.targets_from({"back": TargetWish(like="nape")}, READ)
    assert back.kind is TargetKind.LIKE_ZONE
    assert back.region.centre_lab_d65 == pytest.approx((50, 11, 30))


@pytest.mark.parametrize(
    ("wishes", "sentence"),
    [
        ({"back": TargetWish(like="crown"), "crown": TargetWish(like="back")}, "in a circle"),
        ({"back": TargetWish(like="fringe")}, "fringe was not read"),
        ({"back": TargetWish()}, "needs a level and a tone"),
        ({"back": TargetWish(level=8)}, "needs a level and a tone"),
        ({"back": TargetWish(no_warmer_than="plum")}, "'plum' is no tone"),
        ({"fringe": TargetWish(no_warmer_than="beige")}, "fringe was not read"),
    ],
)
def test_a_wish_that_can_not_be_one_is_told(wishes, sentence):
    with pytest.raises(BadInputError, match=sentence):
        visit.targets_from(wishes, READ)


@pytest.mark.parametrize(
    "entry",
    [{}, {"level": 8}, {"level": 8, "tone": "beige", "like": "crown"}, {"like": "crown", "no_warmer_than": "beige"}],
)
def test_a_target_in_a_file_is_told_in_one_way(entry):
    with pytest.raises(ValueError, match="only one of them"):
        TargetInFile(**entry)


def swatches(**labs):
    zones = [
        SimpleNamespace(name=name, reading=SimpleNamespace(lab_d65=np.array(lab, float), covariance=2 * WELL))
        for name, lab in labs.items()
    ]
    return SimpleNamespace(refused=False, zones=tuple(zones))


def test_a_shade_takes_the_colour_and_the_doubt_of_its_swatch():
    shade = replace(demo_shelf().shades[2], name="Evening plum")
    shelf = replace(demo_shelf(), shades=(shade,))
    measured = visit.measure_shades(shelf, swatches(evening_plum=(52, 15, -20), white=(85, 0, 13)))
    assert measured.shades[0].lab_d65_on_white == (52, 15, -20)
    assert np.array(measured.shades[0].lab_covariance) == pytest.approx(2 * WELL)
    assert measured.shades[0].known_by is KnownBy.PHOTO
    assert measured.white_lab_d65 == (85, 0, 13)


def test_a_swatch_of_no_shade_is_told():
    with pytest.raises(BadInputError, match="No shade on the shelf is called stranger"):
        visit.measure_shades(demo_shelf(), swatches(stranger=(52, 15, -20)))


READINGS = (
    "scene,photo,zone,lab_l,lab_a,lab_b,lab_l_low,lab_l_high\ns,one,crown,60,6,26,,\ns,all,crown,62,6,26,58.71,65.29\n"
)


def test_the_interval_of_a_table_becomes_the_spread_of_the_reading():
    colour = colours_from_text(READINGS)["crown"]
    assert colour.lab_d65[0] == 62  # the row of all photographs together counts
    assert np.sqrt(colour.covariance[0, 0]) == pytest.approx(2.0, abs=0.01)  # 3.29 is 1.645 standard deviations


@pytest.mark.parametrize(
    ("readings", "targets", "sentence"),
    [
        (READINGS, "zone,level,tone\ncrown,eight,beige\n", "Line 2: level is 'eight'"),
        (READINGS, "zone,level,tone\nback,8,beige\n", "back, but no reading"),
        (READINGS, "zone,level,tone,porosity\ncrown,8,beige,some\n", "Line 2: porosity is 'some'"),
        ("zone,lab_l,lab_a,lab_b\ncrown,x,1,2\n", "zone,level,tone\ncrown,8,beige\n", "no three numbers"),
        ("{}", "zone,level,tone\ncrown,8,beige\n", "no list of zones"),
        ("zone,lab_l,lab_a,lab_b\n", "zone,level,tone\ncrown,8,beige\n", "hold no zone"),
    ],
)
def test_tables_that_can_not_be_planned_from_are_told(readings, targets, sentence):
    with pytest.raises(BadInputError, match=sentence):
        requests_from_tables(PlanTables(readings, targets, demo_shelf()), PlanSettings())


@pytest.mark.slow
def test_a_place_on_a_photograph_reads_near_the_lock_that_it_lies_on():
    photo = (SAMPLE / "strands_before.jpg").read_bytes()
    whole = visit.read_photo(photo, load_zones(SAMPLE / "strands_zones.png", ()))
    lock = whole.zones[0]
    rows, columns = np.nonzero(lock.zone.mask)
    x = lock.zone.box.left + float(np.median(columns))
    y = lock.zone.box.top + float(np.median(rows))
    picked = visit.pick_colour(whole.corrected, (x, y, 12.0), setting=Setting.BOARD)
    # A spot of one lock: within what both readings, of another size and setting, state for themselves.
    away = np.abs(picked.lab_d65 - lock.reading.lab_d65)
    assert np.all(away < 3 * np.sqrt(np.diag(picked.covariance + lock.reading.covariance)) + 3)
    with pytest.raises(BadInputError, match="radius"):
        visit.pick_colour(whole.corrected, (x, y, 0.0))
    with pytest.raises(BadInputError, match="No hair"):
        visit.pick_colour(whole.corrected, (600.0, 480.0, 25.0))  # the bare board between two locks
