"""A result that missed: its signs, what happened in absorption, and first aid that care has a say in."""

from dataclasses import replace

import numpy as np
import pytest

from estimator.feedback.figures import feedback_table
from estimator.feedback.first_aid import Allowed, FirstAid, StepKind, Withheld, first_aid_steps, wash_out
from estimator.feedback.happened import causes, light_taken
from estimator.feedback.signs import look_at_result
from estimator.reading.zone_reading import ProfilePoint
from estimator.scale.level import lightness_of_level
from estimator.toning.absorption import hair_absorption, lab_of
from estimator.toning.observer import BANDS_NM
from estimator.toning.plan import Porosity
from estimator.toning.shades import Family
from estimator.toning.targets import TONES, target_region
from tests.synthetic.taught_visits import reading

FREE = Allowed("", "", copper=False)
BEFORE = (74.0, 3.0, 26.0)


def after(lab, **changes):
    return replace(reading("crown", np.array(lab, dtype=float)), **changes)


def region(level=9, tone="beige"):
    lightness = lightness_of_level(level)
    half = (lightness_of_level(level + 0.5) - lightness_of_level(level - 0.5)) / 2
    return target_region(TONES[tone], lightness, half)


def band(peak_nm, height, sd_nm=45):
    return height * np.exp(-0.5 * ((BANDS_NM - peak_nm) / sd_nm) ** 2)


def signs(lab, **changes):
    return [sign.code for sign in look_at_result(after(lab, **changes), region()).signs if sign.odds >= 0.5]


# --- signs: common practice; the target is beige at level 9 (L* 59) ---


@pytest.mark.parametrize(
    ("lab", "sign"),
    [
        ((57, 4, -6), "too_violet"),
        ((50, 3, 14), "too_dark"),
        ((59, 9, 30), "too_warm"),
        ((59, 1, 7), "too_cool"),
        ((58, -6, 14), "greenish"),
        ((59, 13, 4), "pink"),
        ((68, 3, 14), "too_light"),
    ],
)
def test_a_colourist_s_word_for_a_missed_result_is_found(lab, sign):
    assert sign in signs(lab)


def test_a_result_on_its_target_has_no_sign():
    miss = look_at_result(after(region().centre_lab_d65), region())
    assert miss.reached
    assert first_aid_steps(miss, FREE) == ()


def test_a_wide_reading_leaves_a_sign_in_doubt():
    sure, unsure = (
        look_at_result(after((53, 3, 14), covariance=np.diag([sd**2, 1, 1])), region()).signs[0].odds for sd in (0.3, 6)
    )
    assert sure > 0.95
    assert 0.3 <= unsure < 0.7


def test_hollow_ends_and_hot_roots_are_seen_along_the_hair():
    def along(roots, middle, ends):
        places = zip((0.1, 0.5, 0.9), (roots, middle, ends), strict=True)
        return tuple(ProfilePoint(share, lab, 1.0) for share, lab in places)

    target = tuple(region().centre_lab_d65)
    assert signs(target, profile=along(target, target, (58.0, 1.0, 3.0))) == ["hollow_ends"]
    assert signs(target, profile=along((68.0, 5.0, 26.0), target, target)) == ["hot_roots"]
    assert signs(target, spread_lab=np.array([18.0, 1, 1])) == ["patchy"]


# --- what happened ---


@pytest.mark.parametrize("times", [0.6, 1.0, 1.8])
def test_the_light_that_hair_takes_away_follows_its_absorption(times):
    # Kubelka and Munk: so many times the K/S in every band is so many times the absorption of every light.
    bare = np.array(BEFORE)
    deeper = lab_of(times * hair_absorption(bare)[0])
    for light in light_taken(after(deeper), lab_of(hair_absorption(bare)[0])):
        assert light.times == pytest.approx(times, rel=0.05)
        assert light.low < light.times < light.high


def test_words_for_warmth_name_no_gold_where_less_blue_light_is_taken_than_wanted():
    # White light without its blue looks yellow (complementary colours, from memory): hair that takes less blue light
    # than was wanted, and still less red light, is too red and not too gold.
    wanted = region(7, "neutral")
    less = 0.65 - 0.4 * np.exp(-0.5 * ((BANDS_NM - 640) / 50) ** 2)
    result = after(lab_of(less * hair_absorption(wanted.centre_lab_d65)[0]))
    blue, _, red = light_taken(result, wanted.centre_lab_d65)
    assert blue.high < 1
    assert red.times < blue.times
    (warm,) = [sign for sign in look_at_result(result, wanted).signs if sign.code == "too_warm"]
    assert warm.odds > 0.5
    assert "gold" not in warm.means.lower()
    assert "left" not in warm.means.lower()


PLANNED = band(575, 0.3) + band(440, 0.1)


@pytest.mark.parametrize(
    ("dye", "cause"),
    [
        (PLANNED, "as_planned"),
        (2.4 * PLANNED, "more_dye"),
        (0.35 * PLANNED, "less_dye"),
        (PLANNED + band(615, 0.3), "leans_blue"),
        (PLANNED + band(435, 0.4), "leans_gold"),
        (PLANNED + band(520, 0.3), "leans_red"),
    ],
)
def test_the_likeliest_cause_is_what_was_done(dye, cause):
    hair = hair_absorption(np.array(BEFORE))[0]
    found = causes(after(lab_of(hair)), after(lab_of(hair + dye)), PLANNED)
    assert found[0].code == cause
    assert sum(one.odds for one in found) == pytest.approx(1)


# --- first aid ---


def test_rinsing_comes_first_and_a_second_bowl_after_washing():
    steps = first_aid_steps(look_at_result(after((57, 4, -6)), region()), FREE)
    kinds = [step.kind for step in steps]
    assert kinds[0] is StepKind.RINSE
    assert kinds == sorted(kinds, key=list(StepKind).index)
    assert StepKind.WASH in kinds
    assert StepKind.BOWL in kinds


def test_a_lightener_stands_last_and_is_withheld_where_care_says_no():
    miss = look_at_result(after((50, 3, 14)), region())
    assert first_aid_steps(miss, FREE)[-1].kind is StepKind.LIGHTENER
    withheld = first_aid_steps(miss, Allowed("", "Test a strand first.", copper=False))
    assert withheld[-1] == Withheld("too_dark", StepKind.LIGHTENER, "Test a strand first.")
    shown = " ".join(step.text for step in withheld if isinstance(step, FirstAid))
    assert "lightener" not in shown
    assert "volume" not in shown


def test_a_stop_hides_every_second_mix():
    for lab in ((57, 4, -6), (59, 9, 30), (58, -6, 14), (59, 13, 4), (68, 3, 14)):
        steps = first_aid_steps(look_at_result(after(lab), region()), Allowed("Stop.", "Stop.", copper=False))
        assert all(isinstance(step, Withheld) for step in steps if step.kind in (StepKind.BOWL, StepKind.LIGHTENER))
        assert any(step.kind is StepKind.RINSE for step in steps)


def test_green_that_may_be_copper_gets_no_mix_but_a_chelating_wash():
    miss = look_at_result(after((58, -6, 14)), region())
    kinds = [step.kind for step in first_aid_steps(miss, Allowed("", "", copper=True))]
    assert StepKind.ASK in kinds
    assert StepKind.BOWL not in kinds


def test_hair_that_is_too_dark_and_too_warm_is_not_toned_again():
    kinds = [step.kind for step in first_aid_steps(look_at_result(after((48, 12, 28)), region()), FREE)]
    assert StepKind.BOWL not in kinds


def test_every_sign_has_first_aid_and_every_step_a_source():
    codes = {row["code"] for row in feedback_table("rescue")["sign"]}
    assert {row["sign"] for row in feedback_table("rescue")["step"]} == {"any", *codes}


# --- washing out ---


def test_washing_brings_back_half_of_a_double_dose():
    # Dye adds in absorption: of twice the dye, half has to go, whatever its colour.
    hair = hair_absorption(np.array(BEFORE))[0]
    wanted, doubled = lab_of(hair + PLANNED), lab_of(hair + 2 * PLANNED)
    found = wash_out(lab_of(hair), doubled, wanted, [Family.VIOLET], Porosity.NORMAL)
    assert found.share_gone == pytest.approx(0.5, abs=0.06)
    assert found.delta_e_2000_then < 0.3 * found.delta_e_2000_now
    # Half gone, where a third is gone after 4 to 8 washes (common practice): ln 0.5 / ln 0.67 = 1.73 times as many.
    assert (found.washes_low, found.washes_high) == pytest.approx((1.73 * 4, 1.73 * 8), rel=0.12)


def test_porous_hair_loses_it_in_half_the_washes_and_too_little_dye_is_not_washed_out():
    hair = hair_absorption(np.array(BEFORE))[0]
    wanted, doubled = lab_of(hair + PLANNED), lab_of(hair + 2 * PLANNED)
    normal, porous = (
        wash_out(lab_of(hair), doubled, wanted, [Family.VIOLET], word) for word in (Porosity.NORMAL, Porosity.HIGH)
    )
    assert porous.washes_high == pytest.approx(normal.washes_high / 2)
    weak = lab_of(hair + 0.4 * PLANNED)
    assert wash_out(lab_of(hair), weak, wanted, [Family.VIOLET], Porosity.NORMAL) is None
