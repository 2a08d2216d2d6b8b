"""Drawing zones: what the drawing board tells is kept, and can be had back."""

import numpy as np
import pytest

from calibration.photo import Box
from estimator.errors import BadInputError
from estimator.pages import outlines
from estimator.pages.draft import OutlinedZone, Shot
from estimator.zones.outline import Setting, StrandPattern, Zone

SQUARE = [[10, 10], [90, 10], [90, 90], [10, 90]]


def shot_with(*names: str) -> Shot:
    shot = Shot(b"photo", "0" * 64)
    for name in names:
        shot = outlines.choose(shot, name)
        shot = outlines.told(shot, {"kind": "outline", "zone": shot.selected, "points": SQUARE, "serial": 1})
    return shot


def test_the_trade_s_zones_are_offered_before_anything_is_drawn() -> None:
    names = outlines.names_offered(Shot(b"photo", "0" * 64))
    assert {"fringe", "crown", "back", "nape"} <= set(names)  # common practice: the parts of a head judged alone


def test_an_outline_that_was_drawn_is_kept_under_its_name() -> None:
    shot = shot_with("crown", "nape")
    assert [zone.name for zone in outlines.drawn_zones(shot)] == ["crown", "nape"]
    assert outlines.drawn_zones(shot)[0].points_px[2] == (90.0, 90.0)


def test_every_change_can_be_had_back() -> None:
    shot = shot_with("crown")
    emptied = outlines.without_chosen(shot)
    assert not emptied.zones
    assert outlines.drawn_zones(emptied.undone()) == outlines.drawn_zones(shot)


def test_a_zone_that_was_chosen_and_never_drawn_leaves_no_trace() -> None:
    shot = outlines.choose(shot_with("crown"), "nape")
    assert [zone.name for zone in outlines.choose(shot, "back").zones] == ["crown", "back"]


def test_a_new_zone_takes_over_the_strand_pattern_of_the_last_one() -> None:
    shot = outlines.with_pattern(shot_with("crown"), StrandPattern.COILY)
    zone = outlines.chosen(outlines.choose(shot, "nape"))
    assert zone is not None
    assert zone.strand_pattern is StrandPattern.COILY


def test_redrawing_a_zone_from_a_file_drops_its_exact_shape() -> None:
    exact = Zone("crown", Box(0, 0, 2, 2), np.ones((2, 2), dtype=bool), Setting.HEAD)
    shot = Shot(b"photo", "0" * 64, zones=(OutlinedZone("crown", ((0, 0), (2, 0), (2, 2)), exact=exact),))
    again = outlines.told(shot, {"kind": "outline", "zone": 0, "points": SQUARE[:3], "serial": 2})
    assert again.zones[0].exact is None
    assert len(again.zones[0].points_px) == 3


@pytest.mark.parametrize("points", [[[float("nan"), 1]] * 3, [[1, float("inf")]] * 3])
def test_a_point_that_is_no_number_is_refused_in_a_sentence(points: list[list[float]]) -> None:
    with pytest.raises(BadInputError, match="no number"):
        outlines.told(shot_with("crown"), {"kind": "outline", "zone": 0, "points": points, "serial": 2})


def test_a_zone_without_a_name_is_refused_in_a_sentence() -> None:
    with pytest.raises(BadInputError, match="needs a name"):
        outlines.choose(shot_with("crown"), "   ")


def test_a_photograph_holds_so_many_zones_and_no_more() -> None:
    shot = shot_with(*(f"zone {number}" for number in range(outlines.MOST_ZONES)))
    with pytest.raises(BadInputError, match="Delete one"):
        outlines.choose(shot, "one more")
