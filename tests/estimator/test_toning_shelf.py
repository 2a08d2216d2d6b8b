"""The shelf: what a file may hold, what it gets when it holds something else, and the invented shades."""

import pytest

from estimator.errors import BadInputError, EmptyShelfError
from estimator.toning.shades import demo_shelf
from estimator.toning.shelf_file import load_shelf

HEAD = "name,family,depth_level,kind,lab_l,lab_a,lab_b,tube_price,tube_grams\n"
ROW = "Plum,violet,8,demi-permanent acidic,55,17,-29,9,60\n"


def test_a_shelf_is_read_with_prices_and_its_own_white_hair():
    shelf = load_shelf(HEAD + ROW + "white,,,,84,0,15,,\n")
    assert shelf.white_lab_d65 == (84, 0, 15)
    assert shelf.shade("Plum").price_per_gram == pytest.approx(0.15)
    assert not shelf.demo


def test_the_demo_shelf_is_marked_and_large_enough():
    shelf = demo_shelf()
    assert shelf.demo
    assert all(shade.demo and shade.name.endswith(", demo") for shade in shelf.shades)
    assert 10 <= len(shelf.shades) <= 14
    assert not any(letter.isdigit() for shade in shelf.shades for letter in shade.name)  # no shade numbers


def test_a_spreadsheet_formula_stays_text():
    assert load_shelf(HEAD + ROW.replace("Plum", "=1+1")).shades[0].name == "=1+1"
    with pytest.raises(BadInputError, match="lab_l is '=1\\+1'"):
        load_shelf(HEAD + ROW.replace("55", "=1+1"))


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (ROW.replace("55", "nan"), "lab_l is nan"),
        (ROW.replace("55", ""), "lab_l is empty"),
        (ROW.replace("55", "155"), "must lie from 0 to 100"),
        (ROW.replace("violet", "mauvelet"), "family is 'mauvelet'"),
        (ROW.replace("demi-permanent acidic", "demi"), "kind is 'demi'"),
        (ROW.replace(",8,", ",12,"), "depth_level is 12"),
        (ROW.replace("Plum", ""), "has no name"),
        (ROW + ROW.replace("Plum", "PLUM"), "stands already on line 2"),
        (ROW.replace(",60", ",0"), "tube_grams is 0"),
    ],
)
def test_a_faulty_row_is_told_with_its_line(row, sentence):
    with pytest.raises(BadInputError, match=sentence):
        load_shelf(HEAD + row)


def test_all_faults_are_told_at_once():
    with pytest.raises(BadInputError) as told:
        load_shelf(HEAD + ROW.replace("55", "nan") + ROW.replace("Plum", "Rose").replace("violet", "pink"))
    assert "Line 2" in str(told.value)
    assert "Line 3" in str(told.value)


@pytest.mark.parametrize("text", [HEAD, HEAD + "white,,,,84,0,15,,\n", HEAD + "\n\n"])
def test_an_empty_shelf_says_so(text):
    with pytest.raises(EmptyShelfError, match="holds no shade"):
        load_shelf(text)


def test_another_file_is_refused():
    with pytest.raises(BadInputError, match="lacks the column"):
        load_shelf("%PDF-1.7 nothing of a shelf")
