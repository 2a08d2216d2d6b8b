"""Plans: cases that a colourist can read, what must hold of any plan, and what nonsense gets."""

import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from estimator.errors import BadInputError, EmptyShelfError
from estimator.scale.level import level_of_colour, lightness_of_level
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.bowls import plan_bowls
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import HairFacts, PlanSettings, ZoneRequest
from estimator.toning.shades import Family, ShadeKind, Shelf, demo_shelf
from estimator.toning.targets import TONES, Target, target_region

CASES = tomllib.loads((Path(__file__).parents[1] / "cases" / "plan.toml").read_text("utf-8"))["case"]
READ_WELL = np.diag([1.0, 0.4, 0.6])
READ_POORLY = np.diag([36.0, 6.0, 12.0])


def request(zone, lab, level, tone, covariance=READ_WELL, hair=None):
    lab = np.array(lab, dtype=float)
    own = level_of_colour(lab, covariance)
    wanted = {"own": own.level, "one deeper": own.level - 1}.get(level, level)
    target = Target(zone, wanted, tone)
    return ZoneRequest(zone, lab, covariance, own, warmth_of_colour(lab, covariance), target, hair or HairFacts())


HEAD = (
    request("crown", (62, 6, 26), 8, "beige"),
    request("fringe", (66, 3, 22), 9, "pearl"),
    request("left side", (60, 7, 28), 8, "beige"),
    request("right side", (58, 8, 30), 8, "beige"),
    request("back", (53, 11, 32), 7.5, "soft warm"),
    request("nape", (48, 13, 33), 7, "soft warm"),
)


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_a_case_gets_the_bowl_that_a_colourist_would_expect(case):
    plan = plan_bowls(
        (request("back", case["lab"], case["level"], case["tone"]),), demo_shelf(), PlanSettings(max_bowls=1)
    )
    codes = [reason.code for reason in plan.zones[0].out_of_reach]
    assert codes == ([] if case["expect"] == "none" else [case["expect"]]), case["source"]
    families = {demo_shelf().shade(name).family for bowl in plan.bowls for name, _ in bowl.parts}
    assert not families & set(case["without"]), case["source"]
    if case["families"]:
        assert families & set(case["families"]), case["source"]
    if codes:
        assert plan.zones[0].nearest_text
    assert bool(plan.bowls) == (case["expect"] != "needs_lift"), case["source"]


@pytest.fixture(scope="module")
def head_plan():
    return plan_bowls(HEAD, demo_shelf(), PlanSettings(max_bowls=2))


@pytest.mark.slow
def test_every_zone_gets_one_line_in_the_order_asked_for(head_plan):
    assert [zone.zone for zone in head_plan.zones] == [zone.zone for zone in HEAD]
    assert sorted(zone for bowl in head_plan.bowls for zone in bowl.zones) == sorted(
        zone.zone for zone in head_plan.zones if zone.bowl_number
    )
    assert len(head_plan.bowls) <= 2
    assert head_plan.proved_best


@pytest.mark.slow
def test_no_plan_predicts_lighter_hair(head_plan):
    for zone in head_plan.zones:
        assert zone.predicted_lab_d65[0] <= zone.now_lab_d65[0]


@pytest.mark.slow
def test_neither_order_nor_names_of_zones_change_the_plan(head_plan):
    renamed = tuple(replace(zone, zone=f"z{9 - place} back") for place, zone in enumerate(HEAD))
    other = plan_bowls(tuple(reversed(renamed)), demo_shelf(), PlanSettings(max_bowls=2))
    assert {bowl.parts for bowl in other.bowls} == {bowl.parts for bowl in head_plan.bowls}
    by_colour = {tuple(zone.now_lab_d65): zone.predicted_lab_d65 for zone in other.zones}
    for zone in head_plan.zones:
        assert by_colour[tuple(zone.now_lab_d65)] == pytest.approx(zone.predicted_lab_d65)


@pytest.mark.slow
def test_the_order_of_the_shelf_changes_nothing(head_plan):
    turned = replace(demo_shelf(), shades=tuple(reversed(demo_shelf().shades)))
    assert {bowl.parts for bowl in plan_bowls(HEAD, turned).bowls} == {bowl.parts for bowl in head_plan.bowls}


@pytest.mark.slow
def test_more_bowls_never_do_worse():
    plans = [plan_bowls(HEAD, demo_shelf(), PlanSettings(max_bowls=bowls, bowl_price=0.0)) for bowls in (1, 2, 3)]
    reached = [sum(zone.expected_delta_e_2000 for zone in plan.zones) for plan in plans]
    # What is told rests on more draws than what is weighed; they differ by less than this over six zones.
    assert reached[1] < reached[0] + 0.5
    assert reached[2] < reached[1] + 0.5
    assert all(plan.proved_best for plan in plans)


def test_a_bowl_adds_up_to_the_gram(head_plan):
    for bowl in head_plan.bowls:
        colour = sum(grams for _, grams in bowl.shade_grams)
        assert colour + bowl.developer_grams == pytest.approx(bowl.total_grams)
        assert bowl.total_grams % 5 == 0
        assert [name for name, _ in bowl.parts] == [name for name, _ in bowl.shade_grams]
        assert bowl.developer.deposit_only
        assert bowl.on_head.volume < bowl.developer.volume
        needed = sum(zone.grams for zone in head_plan.zones if zone.bowl_number == bowl.number)
        assert needed * 1.1 <= bowl.total_grams < needed * 1.1 + 5


@pytest.mark.slow
def test_a_poor_reading_widens_the_prediction_and_lowers_the_odds():
    sure, unsure = (
        plan_bowls((request("back", (60, 7, 28), 8, "beige", covariance),), demo_shelf()).zones[0]
        for covariance in (READ_WELL, READ_POORLY)
    )
    assert unsure.predicted_covariance[0, 0] > sure.predicted_covariance[0, 0]
    assert unsure.odds_inside < sure.odds_inside
    assert any("strand" in note for note in unsure.notes)


def test_the_odds_are_those_of_the_predicted_spread():
    # Gaussian draws of the stated mean and covariance must fall inside the region as often as the plan says.
    zone = plan_bowls((request("back", (60, 7, 28), 8, "beige"),), demo_shelf()).zones[0]
    lightness = lightness_of_level(8)
    half_level = (lightness_of_level(8.5) - lightness_of_level(7.5)) / 2
    region = target_region(TONES["beige"], lightness, half_level)
    draws = np.random.default_rng(1).multivariate_normal(zone.predicted_lab_d65, zone.predicted_covariance, 4000)
    assert zone.odds_inside == pytest.approx(region.holds(draws).mean(), abs=0.12)


def test_hair_that_is_already_right_is_left_alone():
    on_target = [lightness_of_level(8), *TONES["beige"].ab_at(lightness_of_level(8))]
    plan = plan_bowls((request("crown", on_target, 8, "beige"),), demo_shelf())
    assert plan.bowls == ()
    assert plan.zones[0].bowl_number is None
    assert not plan.zones[0].out_of_reach


def test_porous_hair_is_looked_at_sooner_and_for_a_shorter_time():
    normal, porous = (
        plan_bowls((request("back", (50, 9, 28), 7, "beige", hair=HairFacts(porosity=word)),), demo_shelf()).zones[0]
        for word in ("normal", "high")
    )
    assert porous.minutes_high == pytest.approx(normal.minutes_high / 2, rel=0.3)
    assert porous.first_check_minutes < normal.first_check_minutes


def test_porous_hair_gets_a_thinner_bowl_rather_than_a_hasty_one():
    # Common practice: on pale and porous hair weak shades and clear, for seconds would decide.
    porous = HairFacts(porosity="high")
    zone = plan_bowls((request("fringe", (64, 3, 24), 8.5, "neutral", hair=porous),), demo_shelf()).zones[0]
    assert zone.minutes_high >= 5


def test_left_longer_violet_on_pale_hair_turns_violet_grey():
    shades = tuple(demo_shelf().shade(name) for name in ("Deep violet, demo", "Clear gloss, demo"))
    only_violet = Shelf(shades, demo_shelf().white_lab_d65, "violet alone")
    zone = plan_bowls((request("fringe", (72, 2, 20), 9.5, "pearl"),), only_violet).zones[0]
    assert "violet-grey" in zone.if_left_longer


def test_blue_alone_on_yellow_is_said_to_turn_green():
    only_blue = Shelf((demo_shelf().shade("Slate blue, demo"),), demo_shelf().white_lab_d65, "blue alone")
    settings = PlanSettings(max_bowls=1)
    zone = plan_bowls((request("crown", (70, 2, 34), "one deeper", "pearl"),), only_blue, settings).zones[0]
    assert [reason.code for reason in zone.out_of_reach] == ["turns_green"]


@pytest.mark.slow
def test_kinds_of_colour_never_share_a_bowl():
    shades = list(demo_shelf().shades)
    mixed = [replace(shade, kind=ShadeKind.DEMI_ALKALINE) if place % 2 else shade for place, shade in enumerate(shades)]
    plan = plan_bowls(HEAD, Shelf(tuple(mixed), demo_shelf().white_lab_d65, "mixed"))
    for bowl in plan.bowls:
        kinds = {shade.kind for shade in mixed if shade.name in dict(bowl.parts)}
        assert kinds == {bowl.kind}


def test_ten_volume_is_told_and_more_is_refused():
    ten = plan_bowls(HEAD[:1], demo_shelf(), PlanSettings(developer=PeroxideStrength.from_volume(10)))
    assert any("10 volume" in note for note in ten.notes)
    with pytest.raises(BadInputError, match="10 volume or less"):
        PlanSettings(developer=PeroxideStrength.from_volume(20))


@pytest.mark.parametrize(
    ("requests", "sentence"),
    [
        ((), "No zone has a target"),
        (tuple(replace(HEAD[0], zone=f"zone {number}") for number in range(100)), "100 zones have a target"),
        ((HEAD[0], HEAD[0]), "Zone crown has two targets"),
    ],
)
def test_nonsense_gets_one_clear_sentence(requests, sentence):
    with pytest.raises(BadInputError, match=sentence):
        plan_bowls(requests, demo_shelf())


def test_a_shelf_of_clear_and_permanent_shades_can_not_tone():
    shades = tuple(
        shade if shade.family is Family.CLEAR else replace(shade, kind=ShadeKind.PERMANENT)
        for shade in demo_shelf().shades
    )
    with pytest.raises(EmptyShelfError, match="may tone"):
        plan_bowls(HEAD[:1], Shelf(shades, demo_shelf().white_lab_d65, "permanent"))


@pytest.mark.parametrize(("level", "tone"), [(8, "mauvelous"), (0, "beige"), (11, "beige")])
def test_a_target_out_of_the_trade_is_refused(level, tone):
    with pytest.raises(BadInputError):
        Target("crown", level, tone)


@pytest.mark.slow
def test_a_plan_of_two_bowls_does_without_the_slow_solver():
    code = "import sys, estimator.toning.bowls; sys.exit('scipy' in sys.modules or 'colour' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_at_ten_volume_exactly_the_bowl_is_no_longer_deposit_only_and_below_it_is():
    # common practice: below 10 volume a toner only deposits; at 10 a natural root may shift a little
    for volume, told in ((9.9, False), (10.0, True)):
        plan = plan_bowls(HEAD[:1], demo_shelf(), PlanSettings(developer=PeroxideStrength.from_volume(volume)))
        assert any("bare natural hair may warm up" in note for note in plan.notes) is told


def test_a_lift_is_told_with_its_nearest_and_nothing_is_mixed_for_it():
    zone = plan_bowls((request("back", (40, 14, 22), 9, "pearl"),), demo_shelf()).zones[0]
    assert [reason.code for reason in zone.out_of_reach] == ["needs_lift"]
    assert zone.bowl_number is None
    assert zone.nearest_text
