"""The tables of `tressmeter predict`: what they hold, and every fault told at once."""

import pytest

from estimator.errors import BadInputError
from estimator.toning.predictions import predict_cases

SHELF = "shade,lab_l,lab_a,lab_b\nwhite,87,-1,16\nviolet,54,18,-33\nblue,63,-19,-24\n"
HEAD = "case,lab_l,lab_a,lab_b,strength,parts\n"


def test_each_case_gets_its_row_in_its_order():
    rows = predict_cases(SHELF, HEAD + "b,60,6,28,0.5,violet:2;blue:1\na,60,6,28,0,violet:1\n")
    assert [row["case"] for row in rows] == ["b", "a"]
    assert list(rows[0]) == ["case", "lab_l", "lab_a", "lab_b"]
    assert [float(rows[1][column]) for column in ("lab_l", "lab_a", "lab_b")] == pytest.approx([60, 6, 28], abs=1e-3)
    assert float(rows[0]["lab_l"]) < 60


def test_names_and_order_of_shades_change_nothing():
    first = predict_cases(SHELF, HEAD + "1,60,6,28,0.5,violet:2;blue:1\n")
    renamed = "shade,lab_l,lab_a,lab_b\nx,63,-19,-24\ny,54,18,-33\nwhite,87,-1,16\n"
    assert predict_cases(renamed, HEAD + "1,60,6,28,0.5,x:1;y:2\n") == first


def test_white_counts_as_clear_among_the_parts():
    thinned = predict_cases(SHELF, HEAD + "1,60,6,28,0.8,violet:1;white:1\n")
    assert thinned == predict_cases(SHELF, HEAD + "1,60,6,28,0.4,violet:1\n")


def test_no_cases_give_no_rows():
    assert predict_cases(SHELF, HEAD) == []


def test_every_faulty_line_is_told_at_once():
    with pytest.raises(BadInputError) as told:
        predict_cases(
            SHELF, HEAD + "1,nan,6,28,9,plum:1\n2,60,6,28,1,violet:-1\n,60,6,28,1,violet:1\n3,60,6,28,1,violet\n"
        )
    for sentence in ("Line 2: lab_l is nan", "Line 2: strength is 9", "plum:1", "violet:-1", "Line 4: the case has no"):
        assert sentence in str(told.value)


@pytest.mark.parametrize(
    ("shelf", "sentence"),
    [
        ("shade,lab_l,lab_a,lab_b\nviolet,54,18,-33\n", "no row `white`"),
        ("shade,lab_l,lab_a\nwhite,87,1\n", "lacks the column lab_b"),
        ("shade,lab_l,lab_a,lab_b\nwhite,87,-1,\n", "lab_b is empty"),
        ("", "lacks the column"),
        (SHELF + "violet,50,1,1\n", "stands there twice"),
        ('shade,lab_l,lab_a,lab_b\nwhite,87,-1,16\nx,"54,18,-33\n', "no whole CSV"),
        ("shade,lab_l,lab_a,lab_b\x00", "not plain text"),
    ],
)
def test_a_faulty_shelf_is_refused_in_one_sentence(shelf, sentence):
    with pytest.raises(BadInputError, match=sentence):
        predict_cases(shelf, HEAD + "1,60,6,28,1,violet:1\n")
