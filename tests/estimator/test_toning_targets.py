"""Targets told in other ways than words, shades known in other ways than by an instrument, reasons, second best."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.colourspaces import delta_e_2000
from estimator.errors import BadInputError
from estimator.scale.level import LevelScale, level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.absorption import dye_spectra, hair_absorption, lab_slope
from estimator.toning.bowls import plan_bowls
from estimator.toning.lightest import warmer_by
from estimator.toning.mixing import predict_mix, shelf_absorption
from estimator.toning.plan import HairFacts, PlanSettings, ZoneRequest
from estimator.toning.shades import Family, KnownBy, Shelf, demo_shelf
from estimator.toning.sharing import LEFT_ALONE, second_best, share_bowls, undominated
from estimator.toning.shelf_file import load_shelf, shelf_text
from estimator.toning.targets import TONES, Target, TargetKind, lightest, like_zone, picked, region_of

WELL = np.diag([1.0, 0.4, 0.6])
LIKE = np.array([56.0, 5.0, 20.0])
# A salon whose swatches call lighter hair by the same level; invented.
OWN_SCALE = LevelScale("salon's own, invented", (1.0, 5.0, 10.0), (15.0, 40.0, 80.0))


def zone(lab, target, hair=None, scale=None):
    lab = np.array(lab, dtype=float)
    level, warmth = level_of_colour(lab, WELL, scale), warmth_of_colour(lab, WELL)
    return ZoneRequest(target.zone, lab, WELL, level, warmth, target, hair or HairFacts())


def planned(lab, target, hair=None, shelf=None, **settings_of):
    wanted = PlanSettings(**settings_of)
    return plan_bowls((zone(lab, target, hair, wanted.scale),), shelf or demo_shelf(), wanted).zones[0]


def test_a_zone_that_shall_match_another_is_planned_towards_its_reading():
    result = planned((62, 6, 26), like_zone("back", "crown", LIKE, WELL))
    assert result.target_lab_d65 == pytest.approx(LIKE)
    assert delta_e_2000(result.predicted_lab_d65, LIKE) < 3
    assert result.target.kind is TargetKind.LIKE_ZONE


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.floats(0.1, 5.0), st.floats(0, 2 * np.pi))
def test_the_region_of_a_reading_holds_what_the_reading_allows(sd, turn):
    # Chi-squared, 3 degrees of freedom: nine in ten lie within 6.251; points inside must be held, far ones not.
    region = region_of(picked("back", "on a picture", LIKE, sd**2 * np.eye(3)))
    step = np.array([0.0, np.cos(turn), np.sin(turn)])
    assert region.holds(LIKE + np.sqrt(6.2) * sd * step)
    assert not region.holds(LIKE + np.sqrt(6.3 * sd**2 + 9.5) * step)


@pytest.mark.slow
@pytest.mark.parametrize("tone", ["neutral", "beige", "pearl"])
def test_as_light_as_possible_stays_lighter_than_a_deeper_target_and_no_warmer_than_asked(tone):
    lab = (64, 5, 27)
    result = planned(lab, lightest("back", 9.5, tone))
    deeper = planned(lab, Target("back", 7.0, tone))
    assert result.predicted_lab_d65[0] > deeper.predicted_lab_d65[0]
    assert warmer_by(result.predicted_lab_d65[None], TONES[tone])[0] < 0.5 * TONES[tone].along + 1
    assert result.target.kind is TargetKind.LIGHTEST


def test_the_salon_s_own_scale_reaches_target_prediction_and_reach():
    target = Target("back", 7.0, "beige")
    own, usual = planned((66, 4, 24), target, scale=OWN_SCALE), planned((66, 4, 24), target)
    assert own.target_lab_d65[0] == pytest.approx(56.0)  # level 7 of that scale: 40 + 2/5 of 40
    assert usual.target_lab_d65[0] == pytest.approx(44.0)  # of the default scale's table
    assert own.predicted_level.scale == OWN_SCALE.name
    lifted = planned((50, 8, 26), target, scale=OWN_SCALE)
    assert [reason.code for reason in lifted.out_of_reach] == ["needs_lift"]
    # L* 50 is level 6.25 there and 7.9 on the default scale; the nearest is the zone's own level or deeper.
    assert 5 < float(lifted.nearest_text.split()[2].rstrip(",")) <= 6.3


@pytest.mark.slow
def test_a_described_shade_makes_the_prediction_less_sure_than_a_measured_one():
    target = Target("back", 8.0, "beige")
    described = load_shelf(shelf_text(replace(demo_shelf(), shades=tuple(
        replace(shade, known_by=KnownBy.DESCRIPTION) for shade in demo_shelf().shades
    ))))  # fmt: skip
    unsure, sure = planned((62, 6, 26), target, shelf=described), planned((62, 6, 26), target)
    assert np.linalg.det(unsure.predicted_covariance) > 3 * np.linalg.det(sure.predicted_covariance)
    assert all(shade.known_by is KnownBy.DESCRIPTION for shade in described.shades)


def test_a_shelf_with_spread_is_read_as_it_was_written():
    form = np.array([[2.0, 0.4, -0.3], [0.4, 1.0, 0.2], [-0.3, 0.2, 3.0]])
    spread = tuple(tuple(map(float, row)) for row in form)
    shade = replace(demo_shelf().shades[2], lab_covariance=spread, known_by=KnownBy.PHOTO)
    back = load_shelf(shelf_text(Shelf((shade,), demo_shelf().white_lab_d65, "one"))).shades[0]
    assert np.array(back.lab_covariance) == pytest.approx(form, abs=1e-3)
    assert back.known_by is KnownBy.PHOTO


@pytest.mark.parametrize(
    ("cells", "sentence"),
    [
        ("instrument,-1,1,1,0,0,0", "lab_sd_l is -1"),
        ("guess,1,1,1,0,0,0", "known_by is 'guess'"),
        ("photo,1,1,1,0.9,0.9,-0.9", "can't all be true at once"),
        ("photo,1,1,1,2,0,0", "lab_cor_la is 2"),
    ],
)
def test_a_faulty_spread_is_told_with_its_line(cells, sentence):
    head = "name,family,depth_level,kind,lab_l,lab_a,lab_b,known_by,"
    head += "lab_sd_l,lab_sd_a,lab_sd_b,lab_cor_la,lab_cor_lb,lab_cor_ab\n"
    with pytest.raises(BadInputError, match=sentence) as told:
        load_shelf(head + f"Plum,violet,8,demi-permanent acidic,55,17,-29,{cells}\n")
    assert "Line 2" in str(told.value)


def test_a_colour_read_exactly_leaves_only_spectra_that_read_the_same():
    bare = hair_absorption(np.array([86.0, -0.5, 14.0]))[0]
    lab = np.array([[55.0, 17.0, -29.0]])
    for sd in (0.0, 2.0):
        spectra = dye_spectra(lab, np.tile(sd**2 * np.eye(3), (1, 1, 1)), bare)
        slope = lab_slope(bare + spectra.added[0]) * spectra.added[0]
        spread = np.sqrt(np.diag(slope @ spectra.log_covariance[0] @ slope.T))
        assert np.all(spread <= 1.3 * sd + 0.05)
        assert np.all(spread >= 0.5 * sd)


def test_the_slope_of_lab_is_the_difference_of_two_near_absorptions():
    absorption = hair_absorption(np.array([60.0, 6.0, 24.0]))[0]
    from estimator.toning.absorption import lab_of

    step = 1e-6 * np.eye(len(absorption))
    found = (lab_of(absorption + step) - lab_of(absorption - step)).T / 2e-6
    assert lab_slope(absorption) == pytest.approx(found, rel=1e-3, abs=1e-4)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.tuples(st.floats(25, 80), st.floats(0, 14), st.floats(4, 34)).map(np.array), st.floats(0, 1))
def test_a_mix_with_a_shade_alone_changes_nothing(hair, strength):
    name = demo_shelf().shades[2].name
    alone, halves = (predict_mix(hair, demo_shelf(), parts, strength) for parts in ({name: 1}, {name: 2}))
    assert halves == pytest.approx(alone)
    twin = replace(demo_shelf().shade(name), name="its twin, demo")
    both = replace(demo_shelf(), shades=(*demo_shelf().shades, twin))
    assert predict_mix(hair, both, {name: 1, twin.name: 1}, strength) == pytest.approx(alone, abs=1e-9)


def _without_each(cost, price, alone, max_bowls, best_mixes, mix):
    """The cheapest choice that lacks at least one of the best mixes, by trying all."""
    totals = [alone.sum()]
    for size in range(1, max_bowls + 1):
        for rows in combinations(range(len(cost)), size):
            if not best_mixes <= {int(mix[row]) for row in rows}:
                totals.append(np.minimum(cost[list(rows)].min(axis=0), alone).sum() + price[list(rows)].sum())
    return min(totals)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("max_bowls", [1, 2, 3])
def test_the_second_best_costs_as_little_as_any_that_lacks_a_mix_of_the_best(seed, max_bowls):
    rng = np.random.default_rng(seed)
    cost, price, alone = rng.uniform(0, 10, (18, 5)), rng.uniform(0, 1, 18), rng.uniform(4, 12, 5)
    mix = np.arange(18) // 2
    best = share_bowls(cost, price, alone, max_bowls)
    other = second_best(cost, price, alone, max_bowls, (best, mix))
    mixes = {int(mix[row]) for row in best.recipes}
    assert other.total == pytest.approx(_without_each(cost, price, alone, max_bowls, mixes, mix))
    assert other.total >= best.total
    kept = undominated(cost, price, mix)
    again = second_best(
        cost[kept], price[kept], alone, max_bowls, (share_bowls(cost[kept], price[kept], alone, max_bowls), mix[kept])
    )
    assert again.total == pytest.approx(other.total)


def test_nothing_mixed_has_no_second_best():
    alone = share_bowls(np.array([[9.0]]), np.array([1.0]), np.array([2.0]), 2)
    assert alone.recipe_of_zone[0] == LEFT_ALONE
    assert second_best(np.array([[9.0]]), np.array([1.0]), np.array([2.0]), 2, (alone, np.array([0]))) is None


def test_each_bowl_gives_three_reasons_and_the_plan_its_second_best():
    requests = tuple(
        zone(lab, Target(name, 8, "beige")) for name, lab in (("crown", (62, 6, 26)), ("back", (58, 9, 30)))
    )
    plan = plan_bowls(requests, demo_shelf(), PlanSettings(max_bowls=2))
    assert plan.bowls
    assert all(len(bowl.why) == 3 and all(bowl.why) for bowl in plan.bowls)
    assert plan.second_best is not None
    assert plan.second_best.costs >= 0
    other = {parts for parts, _ in plan.second_best.bowls}
    assert not {bowl.parts for bowl in plan.bowls} <= other


CLEARLESS = replace(demo_shelf(), shades=tuple(s for s in demo_shelf().shades if s.family is Family.BROWN))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lab", "target", "shelf", "code"),
    [
        # common practice: no warm base left in porous hair, going deeper: fill first
        ((66, 1, 9), Target("ends", 7.0, "gold"), demo_shelf(), "needs_filler"),
        # common practice: porous ends take a strong, undiluted shade at once
        ((60, 4, 22), Target("ends", 8.0, "neutral"), CLEARLESS, "would_grab"),
    ],
)
def test_porous_ends_are_told_of(lab, target, shelf, code):
    porous = planned(lab, target, HairFacts(porosity="high"), shelf)
    normal = planned(lab, target, HairFacts(), shelf)
    assert code in [reason.code for reason in porous.out_of_reach]
    assert code not in [reason.code for reason in normal.out_of_reach]
    assert porous.nearest_text


def test_violet_left_on_pale_hair_says_after_how_many_minutes_it_goes_over():
    only = Shelf((demo_shelf().shade("Deep violet, demo"),), demo_shelf().white_lab_d65, "violet alone")
    text = planned((66, 2, 20), Target("fringe", 9.0, "neutral"), shelf=only).if_left_longer
    assert "violet-grey after about" in text


def test_progress_is_told_and_stops_the_plan_by_what_it_raises():
    told = []
    plan_bowls((zone((62, 6, 26), Target("back", 8, "beige")),), demo_shelf(), PlanSettings(), told.append)
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        plan_bowls((zone((62, 6, 26), Target("back", 8, "beige")),), demo_shelf(), PlanSettings(), stop)


def test_dyes_of_the_demo_shelf_never_lighten_a_band():
    assert np.all(shelf_absorption(demo_shelf()).added >= 0)


@pytest.mark.parametrize("seed", range(6))
def test_dropping_beaten_recipes_keeps_the_second_best_too(seed):
    rng = np.random.default_rng(seed)
    cost, price, alone = rng.uniform(0, 10, (60, 2)), rng.uniform(0, 1, 60), np.array([9.0, 9.0])
    mix = np.arange(60) // 2
    kept = undominated(cost, price, mix)
    assert len(kept) < len(cost) / 2
    totals = []
    for rows in (np.arange(60), kept):
        best = share_bowls(cost[rows], price[rows], alone, 1)
        totals.append(second_best(cost[rows], price[rows], alone, 1, (best, mix[rows])).total)
    assert totals[1] == pytest.approx(totals[0])
