"""The table of capture thresholds: sourced, and heavier the worse it gets."""

import pytest

from calibration.findings import Severity
from calibration.thresholds import Threshold, thresholds


def test_every_threshold_names_its_source_and_unit():
    assert set(thresholds()) == {
        "overexposed",
        "underexposed",
        "motion_blur",
        "too_small",
        "card_covered",
        "glare",
        "gradient",
        "mixed_light",
        "poor_match",
    }
    assert all(row.source and row.unit for row in thresholds().values())


def test_a_row_without_a_source_does_not_load():
    with pytest.raises(ValueError, match="source"):
        Threshold("glare", "patches that shine", "patches", 1, 8, "")


@pytest.mark.parametrize(
    ("code", "good", "doubtful", "bad"),
    [("too_small", 40, 14, 8), ("underexposed", 0.5, 0.15, 0.05), ("overexposed", 1, 2, 3), ("motion_blur", 2, 6, 14)],
)
def test_worse_weighs_more_in_either_direction(code, good, doubtful, bad):
    row = thresholds()[code]
    assert row.severity(good) is None
    assert row.severity(doubtful) is Severity.CARE
    assert row.severity(bad) is Severity.RETAKE
