"""What changed, what holds together, how even: the arithmetic of errors that two readings share."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from calibration.findings import verdict_from
from estimator.errors import BadInputError
from estimator.reading.comparing import difference
from estimator.reading.evenness import evenness
from estimator.reading.together import combine
from estimator.reading.zone_reading import ZoneReading
from estimator.zones.outline import Setting, StrandPattern

COVARIANCE = np.array([[9.0, 1.0, 0.5], [1.0, 2.25, 0.2], [0.5, 0.2, 4.0]])


def reading(lab=(50.0, 8.0, 25.0), zone="crown", covariance=COVARIANCE, shared=0.6, **changes) -> ZoneReading:
    made = ZoneReading(
        zone=zone,
        setting=Setting.BOARD,
        strand_pattern=StrandPattern.WAVY,
        lab_d65=np.array(lab),
        covariance=covariance,
        shared_covariance=shared * covariance,
        spread_lab=np.ones(3),
        profile=(),
        pixels=5000,
        verified=True,
        proposed=False,
        verdict=verdict_from(()),
        findings=(),
        basis=(),
    )
    return replace(made, **changes)


def test_what_both_readings_share_falls_away_in_a_difference():
    change = difference(reading(), reading((42.0, 6.0, 20.0)))
    assert np.allclose(change.d_lab, [-8, -2, -5])
    # Two equal errors, correlated by 0.6: the variance of their difference is 2 (1 - 0.6) of one.
    assert np.allclose(change.covariance, 0.8 * COVARIANCE)
    assert np.allclose(change.d_high - change.d_low, 2 * 1.6449 * np.sqrt(0.8 * np.diag(COVARIANCE)))


def test_nothing_is_shared_between_hair_in_different_settings():
    change = difference(reading(), reading(setting=Setting.HEAD))
    assert np.allclose(change.covariance, 2 * COVARIANCE)


@pytest.mark.parametrize(
    ("after", "words"),
    [
        ((50.5, 8.2, 25.3), "no change shown"),  # far below what can be seen, 2 ΔE2000
        ((54.0, 8.0, 25.0), "no change shown"),  # 3.9 ΔE2000, but inside the interval of 4.4 L*
        ((62.0, 8.0, 25.0), "clearly lighter"),
        ((36.0, 8.0, 25.0), "clearly darker"),
        ((50.0, 3.0, 10.0), "clearly more muted"),
        ((50.0, 16.0, 22.0), "clearly redder"),
        ((62.0, 3.0, 10.0), "clearly lighter and more muted"),
    ],
)
def test_words_of_a_change_say_no_more_than_the_intervals_show(after, words):
    assert difference(reading(), reading(after)).words == words


def test_a_zone_is_compared_with_itself_alone():
    with pytest.raises(BadInputError, match=r"crown can't be compared with nape"):
        difference(reading(), reading(zone="nape"))


def test_photos_together_are_tighter_than_each_and_lie_between():
    pair = reading((48.0, 8.0, 25.0)), reading((52.0, 8.0, 25.0))
    both = combine(pair)
    assert both.lab_d65[0] == pytest.approx(50.0)
    assert np.all(both.lab_sd < pair[0].lab_sd)
    assert both.pixels == 10000


def test_the_shared_error_never_averages_out():
    many = combine(tuple(reading() for _ in range(50)))
    assert np.all(many.lab_sd > 0.5 * reading().lab_sd)


def test_the_surer_photo_counts_more():
    sure, unsure = reading((48.0, 8.0, 25.0), covariance=COVARIANCE / 9), reading((57.0, 8.0, 25.0))
    assert combine((sure, unsure)).lab_d65[0] < 50.0


def test_the_order_of_photos_does_not_matter():
    three = (reading((48.0, 8.0, 25.0)), reading((52.0, 6.0, 21.0), covariance=2 * COVARIANCE), reading())
    results = [combine(order) for order in permutations(three)]
    assert all(np.allclose(result.lab_d65, results[0].lab_d65, atol=1e-9) for result in results)
    assert all(result.basis == results[0].basis for result in results)


def test_one_photo_stays_as_it_is_and_none_is_told():
    alone = reading()
    assert combine((alone,)) is alone
    with pytest.raises(BadInputError, match="no photo"):
        combine(())
    with pytest.raises(BadInputError, match="same zone"):
        combine((reading(), reading(zone="nape")))


def test_zones_that_match_and_zones_that_do_not():
    same = evenness((reading(), reading((50.5, 8.0, 25.0), zone="back")))
    assert same.words == "Zones match."
    apart = evenness((reading(), reading((35.0, 8.0, 20.0), zone="nape"), reading(zone="back")))
    assert apart.words == "nape is darker than crown."
    assert apart.pair == ("nape", "crown")
    assert apart.lightness_range == pytest.approx(15.0)
    unsure = evenness((reading(), reading((53.0, 8.0, 25.0), zone="back")))
    assert "can't tell" in unsure.words
    warm = evenness((reading(), reading((50.0, 8.0, 40.0), zone="back")))
    assert warm.words == "back is warmer than crown."


def test_a_zone_uneven_inside_is_named():
    assert evenness((reading(spread_lab=np.array([16.0, 1, 1])), reading(zone="back"))).uneven_inside == ("crown",)


def test_evenness_of_one_zone_is_told():
    with pytest.raises(BadInputError, match="two zones"):
        evenness((reading(),))
