"""Several photographs of one zone read jointly: honest on drawn light, deaf to order, and a change known better."""

import numpy as np
import pytest
from scipy import optimize, stats

from estimator.reading.evidence import Evidence, error_correlation, likeness
from estimator.reading.hair_colours import hair_colours
from estimator.reading.hair_space import lab_of_hair_u
from estimator.reading.joint import change_together, colour_together
from estimator.reading.light_model import light_models
from estimator.reading.mixture import mixture_in_lab
from estimator.zones.outline import Setting, StrandPattern

BLOCKS = np.random.default_rng(3).normal(0, 0.3, (10, 4))
OTHER_LAMP = -BLOCKS


def _evidence(seen: np.ndarray, setting: Setting, blocks: np.ndarray = BLOCKS) -> Evidence:
    model = light_models()[setting]
    scatter = model.zone_covariance.copy()
    scatter[:3, :3] += model.photo_covariance
    return Evidence((StrandPattern.WAVY,), seen, scatter, blocks, model, hair_colours()[setting])


def _drawn(setting: Setting, count: int, seed: int):
    """Colours of hair before and after, and the light of each in one photo, drawn from the model's own statement."""
    random = np.random.default_rng(seed)
    model, colours = light_models()[setting], hair_colours()[setting]
    weight = np.exp(colours.log_weight)
    bare = _evidence(np.zeros(len(model.zone_covariance)), setting)
    correlation = error_correlation(bare, bare)
    values, vectors = np.linalg.eigh(bare.scatter)
    root = (vectors * np.sqrt(values)) @ vectors.T
    for _ in range(count):
        kernels = random.choice(len(weight), 2, p=weight / weight.sum())
        tress = colours.middle[kernels] + colours.sd[kernels] * random.normal(size=(2, 3))
        shared = random.normal(size=len(root))
        errors = [root @ (np.sqrt(correlation) * shared + np.sqrt(1 - correlation) * random.normal(size=len(root)))
                  for _ in range(2)]  # fmt: skip
        expected = model.expected(tress, StrandPattern.WAVY)
        yield (
            lab_of_hair_u(tress),
            [_evidence(light + error, setting) for light, error in zip(expected, errors, strict=True)],
        )


@pytest.mark.slow
@pytest.mark.parametrize("setting", list(Setting))
def test_nine_in_ten_intervals_of_a_change_hold_drawn_light(setting):
    inside, joint_off, apart_off = [], [], []
    for (before, after), (first, second) in _drawn(setting, 60, 7):
        change = change_together((first,), (second,))
        off = change.d_lab - (after - before)
        inside.append(np.abs(off) <= 1.6449 * np.sqrt(np.diag(change.covariance)))
        joint_off.append(np.linalg.norm(off))
        alone = [colour_together((one,)).lab_d65 for one in (first, second)]
        apart_off.append(np.linalg.norm(alone[1] - alone[0] - (after - before)))
    # 60 draws of three numbers: nine in ten give or take two standard deviations of a share.
    assert 0.82 <= np.mean(inside) <= 0.98
    assert np.mean(joint_off) < 0.95 * np.mean(apart_off)


def test_order_of_the_photographs_does_not_matter():
    (_, evidences) = next(_drawn(Setting.HEAD, 1, 2))
    one, other = colour_together(tuple(evidences)), colour_together(tuple(evidences[::-1]))
    assert one.lab_d65 == pytest.approx(other.lab_d65, abs=1e-6)


def test_second_photograph_under_another_lamp_tells_more_than_one_under_the_same():
    seen = next(_drawn(Setting.HEAD, 1, 4))[1][0].seen
    first = _evidence(seen, Setting.HEAD)
    same, other = (colour_together((first, _evidence(seen, Setting.HEAD, blocks))) for blocks in (BLOCKS, OTHER_LAMP))
    assert other.covariance[0, 0] < same.covariance[0, 0]


def test_light_is_alike_where_blocks_stand_out_alike_and_not_where_they_do_not():
    seen = np.zeros(len(light_models()[Setting.BOARD].zone_covariance))
    first = _evidence(seen, Setting.BOARD)
    assert likeness(first, _evidence(seen, Setting.BOARD, BLOCKS + 1.0)) == pytest.approx(1.0, abs=0.02)
    assert likeness(first, _evidence(seen, Setting.BOARD, OTHER_LAMP)) == 0.0
    assert likeness(first, _evidence(seen, Setting.BOARD, np.full((10, 4), np.nan))) == 0.0


def test_median_of_a_mixture_agrees_with_the_statistics_library():
    share, lab = np.array([0.55, 0.3, 0.15]), np.array([[30.0, 2, 8], [45.0, 6, 20], [70.0, 4, 30]])
    covariances = np.array([np.diag([4.0, 1.0, 2.0]), np.diag([9.0, 2.0, 6.0]), np.diag([25.0, 1.0, 9.0])])
    middle, covariance = mixture_in_lab(share, lab, covariances)
    for axis in range(3):
        sd = np.sqrt(covariances[:, axis, axis])

        def below(at, axis=axis, sd=sd):
            return share @ stats.norm.cdf(at, lab[:, axis], sd) - 0.5

        assert middle[axis] == pytest.approx(optimize.brentq(below, 0, 100), abs=0.02)
    drawn = np.random.default_rng(1)
    which = drawn.choice(3, 200_000, p=share)
    light = lab[which, 0] + np.sqrt(covariances[which, 0, 0]) * drawn.normal(size=len(which))
    assert covariance[0, 0] == pytest.approx(np.mean((light - middle[0]) ** 2), rel=0.02)
