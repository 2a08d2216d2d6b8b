"""What results teach, in words: every figure with its interval, and nothing that its interval does not show."""

import numpy as np
import pytest

from estimator.feedback.figures import feedback_table
from estimator.feedback.first_aid import WashOut
from estimator.feedback.happened import Cause, LightTaken
from estimator.feedback.signs import Sign
from estimator.reports import wording


def test_a_factor_stands_with_its_interval():
    assert wording.factor_text(1.236, 1.048, 1.457) == "1.24 times (1.05 to 1.46)"


@pytest.mark.parametrize(
    ("times", "low", "high", "shown"),
    [
        (1.4, 1.15, 1.7, "green light: 40 % more (15 to 70 %)"),
        (0.6, 0.45, 0.8, "green light: 40 % less (20 to 55 %)"),
        (1.1, 0.9, 1.3, "green light: as wanted, as far as the photograph tells (−10 to +30 %)"),
    ],
)
def test_light_is_told_as_more_or_less_only_where_the_interval_shows_it(times, low, high, shown):
    assert wording.light_text(LightTaken("green light", times, low, high)) == shown


def test_signs_and_causes_stand_with_their_odds():
    assert wording.sign_text(Sign("too_violet", "too violet", "", 0.8)) == "too violet (about 8 in 10)"
    for code in (
        "as_planned",
        "more_dye",
        "less_dye",
        *(f"leans_{r['leans']}" for r in feedback_table("rescue")["dye"]),
    ):
        assert "in 10" in wording.cause_text(Cause(code, 0.5))


def test_washing_is_marked_as_common_practice():
    told = wording.washing_text(WashOut(0.4, 5.1, 10.2, np.zeros(3), 6.3, 1.2))
    assert "40 %" in told
    assert "5 to 10 washes" in told
    assert "common practice" in told
    assert "one wash or less" in wording.washing_text(WashOut(0.05, 0.2, 0.9, np.zeros(3), 6.3, 1.2))
