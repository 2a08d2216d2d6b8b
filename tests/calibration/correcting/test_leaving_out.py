"""Which patches are left out together."""

import numpy as np
import pytest

from calibration.correcting.leaving_out import left_out_sets


@pytest.mark.parametrize("count", [8, 9, 15, 20, 23, 24, 37, 140])
def test_every_patch_that_serves_is_left_out_equally_often_and_never_more_than_four_together(count):
    served = np.arange(0, 2 * count, 2)
    sets = left_out_sets(served, 2 * count)
    times = sets.sum(axis=0)
    assert (times[1::2] == 0).all()
    assert len(set(times[served])) == 1
    assert times[served][0] >= 1
    assert sets.sum(axis=1).max() <= max(1, min(4, count // 5))


def test_a_whole_card_leaves_four_out_at_a_time_with_other_company_each_round():
    sets = left_out_sets(np.arange(24), 24)
    assert (sets.sum(axis=1) == 4).all()
    assert len({tuple(one) for one in sets}) == len(sets) == 24
