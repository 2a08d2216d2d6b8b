"""The plan of a lift: the strengths and visits of the trade, grams that add up, and care that hides a mix."""

from datetime import date

import pytest

from estimator.care.answers import Answer
from estimator.care.facts import Facts, baseline_facts
from estimator.care.verdicts import CareWord
from estimator.errors import BadInputError
from estimator.lifting.additives import additive_step, additive_steps, curl_elongation_percent, curl_text
from estimator.lifting.demarcation import find_lines
from estimator.lifting.laying import laid_by_word
from estimator.lifting.lift_plan import Client, LiftPlan, LiftRequest, LiftSettings, ZoneLift
from estimator.lifting.lift_rules import base_level, place_of, strength_rule, visits_for
from estimator.lifting.lightener_bowl import mix_of
from estimator.lifting.planning import plan_lift
from estimator.lifting.strand import Strand, StrandPoint
from estimator.lifting.strand_test import judge_strand
from estimator.reading.zone_reading import ProfilePoint
from estimator.scale.appearance import Level, Warmth
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import HairFacts
from estimator.toning.targets import TONES, Target

TODAY = date(2026, 3, 2)


def request(zone: str = "back", now: float = 5.0, target: float = 7.0, tone: str = "beige", **more) -> LiftRequest:
    level = Level(now, now - 0.3, now + 0.3, "", "default")
    warmth = Warmth(30, 26, 34, 58, 5, more.pop("stage", "orange"), ())
    return LiftRequest(zone, level, warmth, Target(zone, target, tone), **more)


def planned(*requests: LiftRequest, settings: LiftSettings | None = None, **facts) -> LiftPlan:
    return plan_lift(requests or (request(),), Client(baseline_facts(**facts), TODAY), settings)


def one(plan: LiftPlan, zone: str = "back") -> ZoneLift:
    return next(lift for lift in plan.zones if lift.zone == zone)


# --- the trade's tables: common practice, every line


@pytest.mark.parametrize(
    ("hair", "levels", "on_scalp", "weakest", "strongest", "parts"),
    [
        ("fine", 2, False, 5, 10, 2), ("fine", 4, False, 10, 10, 2), ("medium", 1, False, 10, 10, 1.5),
        ("medium", 3, True, 10, 20, 2), ("medium", 6, False, 20, 20, 1.5), ("coarse", 6, False, 20, 30, 1.5),
        ("coarse", 6, True, 20, 20, 2), ("coily", 4, False, 10, 10, 2), ("coily", 6, True, 10, 10, 2),
        ("lightened", 2, False, 5, 10, 2),
    ],
)  # fmt: skip
def test_strength_and_mix_are_those_of_the_trade(hair, levels, on_scalp, weakest, strongest, parts):
    rule = strength_rule((hair,), levels, on_scalp)
    assert (rule.weakest.volume, rule.strongest.volume, rule.developer_parts) == (weakest, strongest, parts)


def test_lightened_hair_is_lifted_two_levels_at_most_and_ten_minutes():
    assert strength_rule(("medium", "lightened"), 3, False) is None
    assert strength_rule(("medium", "lightened"), 2, False).most_minutes == 10


@pytest.mark.parametrize(
    ("levels", "kinds", "fewest", "most"),
    [(2, ("medium",), 1, 1), (4, ("fine",), 1, 1), (4, ("medium", "coily"), 1, 2), (6, ("medium",), 1, 2),
     (6, ("fine",), 2, 2), (7, ("coily",), 3, 3), (9, ("medium",), 2, 3)],
)  # fmt: skip
def test_visits_are_those_of_the_trade(levels, kinds, fewest, most):
    visits = visits_for(levels, kinds, baseline_facts())
    assert (visits.fewest, visits.most) == (fewest, most)


def test_old_colour_henna_and_weak_hair_need_more_visits():
    plain = visits_for(4, ("medium",), baseline_facts()).most
    assert visits_for(4, ("medium",), baseline_facts(earlier_colour=frozenset({"box"}))).most == plain + 1
    assert visits_for(4, ("medium",), baseline_facts(dark_dye_layers=3)).most == plain + 2
    assert visits_for(4, ("medium",), baseline_facts(earlier_colour=frozenset({"henna"}))).most == plain + 1
    assert visits_for(4, ("medium",), baseline_facts(elasticity="reduced")).most == plain + 1


def test_the_cooler_the_tone_the_lighter_the_base_that_it_needs():
    needs = {tone: base_level(Target("back", 7, tone)) for tone in TONES}
    assert needs["gold"] <= needs["beige"] <= needs["neutral"] < needs["pearl"]
    assert all(7 <= level <= 10 for level in needs.values())


def test_orange_cannot_be_toned_cool_at_its_own_level():
    lift = one(planned(request(now=8.4, target=7.0, tone="ash")))
    assert lift.levels_today > 0
    assert one(planned(request(now=8.4, target=7.0, tone="ash", stage="yellow"))).levels_today == 0


# --- the plan


def test_hair_that_is_light_enough_gets_no_lightener():
    plan = planned(request(now=8.0, target=7.0))
    assert (one(plan).mix, one(plan).needs_lift, plan.bowls) == (None, False, ())
    assert plan.care.verdict is CareWord.CLEAR


def test_the_mildest_developer_that_is_likely_to_do_it_is_taken():
    near, far = one(planned(request(now=6.4, target=7.0))), one(planned(request(now=4.0, target=7.0)))
    assert near.mix.developer.volume < far.mix.developer.volume
    assert far.mix.developer.volume == 20


def test_more_distance_never_means_fewer_visits():
    visits = [one(planned(request(now=now, target=9.0))).visits.fewest for now in (7.5, 6.0, 4.0, 2.0)]
    assert visits == sorted(visits)


def test_a_way_too_long_for_one_visit_is_shared_by_more_and_today_s_part_is_likely():
    far = one(planned(request(now=3.4, target=8.0)))
    assert far.visits.fewest == 2
    assert far.level_today == pytest.approx(3.4 + (far.base_level - 3.4) / 2)
    assert far.forecast.odds >= 0.5
    assert not far.reachable_today


def test_slow_zones_first_and_roots_last():
    plan = planned(*(request(zone) for zone in ("roots", "fringe", "crown", "nape", "back")))
    assert [lift.zone for lift in plan.zones] == ["nape", "back", "crown", "fringe", "roots"]
    assert [lift.order for lift in plan.zones] == [1, 2, 3, 4, 5]
    assert place_of("Roots").minutes_times == pytest.approx(1 / 1.4, abs=0.03)  # 1.3 to 1.5 times as quick


def test_grams_of_powder_developer_and_additive_add_up():
    plan = planned(request("back"), request("nape"), settings=LiftSettings(additive_percent=5))
    (bowl,) = plan.bowls
    whole = bowl.whole
    assert whole.total_grams == pytest.approx(whole.powder_grams + whole.developer_grams + whole.additive_grams)
    assert whole.total_grams % 5 == 0
    assert whole.additive_grams / whole.total_grams == pytest.approx(0.05, abs=0.01)
    assert whole.developer_grams / whole.powder_grams == pytest.approx(2, abs=0.05)
    # Medium hair to 30 cm: 75 g of toner a head, a quarter for the back; lightener half as much again (our assumption).
    assert one(plan).mix.total_grams == pytest.approx(75 * 0.25 * 1.5, abs=0.5)
    assert sum(lift.mix.total_grams for lift in plan.zones) <= whole.total_grams


def test_strength_on_the_head_is_thinned_by_powder():
    # 6 % at 1:2 leaves 4 % on the head, at 1:1.5 3.6 %: by weight, densities taken as equal (handbook arithmetic).
    assert mix_of(60, PeroxideStrength.from_percent(6), 2, 0).on_head.percent == pytest.approx(4.0, abs=0.02)
    assert mix_of(50, PeroxideStrength.from_percent(6), 1.5, 0).on_head.percent == pytest.approx(3.6, abs=0.02)


def test_an_additive_gets_time_and_never_volume():
    without, with_it = planned(), planned(settings=LiftSettings(additive_percent=5))
    assert one(with_it).mix.developer == one(without).mix.developer
    assert one(with_it).forecast.rinse_minutes > one(without).forecast.rinse_minutes


def test_much_fine_hair_is_named_as_the_trap_that_it_is():
    plan = planned(request("crown", hair=HairFacts(strand_diameter="fine", density="high")))
    lift = one(plan, "crown")
    assert any("It looks strong and is not" in note for note in plan.notes)
    assert lift.mix.developer.volume <= 10
    assert "fine-dense" in lift.care.codes
    assert plan.bowls[0].batches == 2
    assert lift.check_every_minutes == 3


def test_a_tested_strand_decides_over_the_usual_curve():
    looks = tuple(StrandPoint(float(minute), light, 0.8) for minute, light in ((0, 32), (5, 33), (10, 34), (20, 35)))
    slow = judge_strand(Strand(start_level=5.0), looks, 7.5).curve
    assert not one(planned(request(tested=slow))).reachable_today
    assert one(planned(request())).reachable_today
    assert "Fitted to this strand" in one(planned(request(tested=slow))).basis


# --- care


@pytest.mark.parametrize(
    "facts",
    [
        {"scalp_state": "broken"}, {"age_years": 15}, {"lightener_reaction_before": "hives_or_breath"},
        {"elasticity": "gummy"}, {"breakage": "widespread"}, {"strand_test": "damaged"},
        {"metal_test": "reaction"}, {"lightened_weeks_ago": 1}, {"curl_elongation_percent": 31},
    ],
    ids=str,
)  # fmt: skip
def test_a_stop_hides_mix_strength_and_minutes(facts):
    plan = planned(**facts)
    lift = one(plan)
    assert plan.care.is_stop
    assert (lift.mix, lift.forecast, lift.most_minutes, lift.order, plan.bowls) == (None, None, None, None, ())
    assert plan.hidden == ("back",)
    assert "stop" in plan.notes[0]


def test_relaxed_lengths_are_stopped_and_new_growth_beside_them_is_not():
    lengths = request("lengths", touches_relaxed_hair=True)
    growth = request("regrowth", touches_relaxed_hair=False)
    plan = planned(lengths, growth, relaxer_kind="hydroxide", relaxer_weeks_ago=20)
    assert "hydroxide-lightener" in one(plan, "lengths").care.codes
    assert one(plan, "lengths").mix is None
    assert "natural-beside-relaxed" in one(plan, "regrowth").care.codes
    assert one(plan, "regrowth").mix is not None
    assert plan.care.is_stop  # the worst word over all zones
    assert all(zone != "lengths" for bowl in plan.bowls for zone in bowl.zones)


def test_facts_that_nobody_gave_ask_for_a_test_and_never_clear():
    plan = plan_lift((request(),), Client(Facts(), TODAY))
    assert plan.care.verdict is CareWord.TEST_FIRST
    assert one(plan).mix.developer.volume <= 10


def test_care_sees_the_strength_the_minutes_and_the_levels_of_the_plan():
    looks = tuple(StrandPoint(float(minute), light, 0.6) for minute, light in ((0, 30), (5, 42), (10, 50), (15, 56)))
    quick = judge_strand(Strand(start_level=4.5), looks, 9.0).curve
    plan = planned(request(now=4.5, target=9.0, touches_scalp=True, tested=quick))
    assert "levels-many" in plan.care.codes
    assert max(bowl.whole.developer.volume for bowl in plan.bowls) <= 20
    assert all(lift.most_minutes <= 50 for lift in plan.zones)


def test_a_written_strand_test_turns_its_finding_into_a_caution():
    facts = baseline_facts(earlier_colour=frozenset({"box"}), metal_test="clear")
    asked = plan_lift((request(),), Client(facts, TODAY))
    answer = Answer(
        code="box-lightener", who="A", when=TODAY, what="three bands, sound", strength_volume=30, place="nape"
    )
    answered = plan_lift((request(),), Client(facts, TODAY, (answer,)))
    assert asked.care.verdict is CareWord.TEST_FIRST
    assert answered.care.verdict is CareWord.CAUTION


def test_worse_facts_never_bring_a_stronger_mix():
    good, weak = one(planned(request(now=4.0))), one(planned(request(now=4.0), elasticity="reduced"))
    coily = one(planned(request(now=4.0), curl_pattern="coily"))
    assert weak.mix.developer.volume <= good.mix.developer.volume
    assert coily.mix.developer.volume <= good.mix.developer.volume


def test_weakened_hair_gets_the_mildest_mix_allowed_even_where_a_stronger_one_would_do_more():
    coarse = request(now=5.5, hair=HairFacts(strand_diameter="coarse"))
    assert one(planned(coarse)).mix.developer.volume == 20
    assert one(planned(coarse, breakage="some")).mix.developer.volume == 10


def test_the_most_careful_rule_holds_where_hair_is_of_two_kinds():
    assert strength_rule(("coarse", "coily"), 6, False).strongest.volume == 20  # coarse alone: 30
    assert strength_rule(("medium", "coily"), 2, False).developer_parts == 2  # medium alone: 1.5


# --- zones that differ


def test_a_broken_crown_is_withheld_and_the_nape_goes_on():
    client = Client(baseline_facts(), TODAY, own={"crown": {"breakage": "widespread"}})
    plan = plan_lift((request("crown"), request("nape")), client)
    assert plan.hidden == ("crown",)
    crown, nape = plan.zone("crown"), plan.zone("nape")
    assert (crown.mix, crown.forecast, crown.most_minutes, crown.curve) == (None, None, None, None)
    assert nape.mix is not None
    assert [bowl.zones for bowl in plan.bowls] == [("nape",)]
    assert plan.care.stopped_zones == ("crown",)
    assert not plan.care.stops_everything
    assert any("Keep every mix off crown" in note for note in plan.notes)


def test_a_stop_of_the_person_withholds_every_zone_whatever_zones_say():
    client = Client(baseline_facts(age_years=15), TODAY, own={"crown": {"elasticity": "good"}})
    plan = plan_lift((request("crown"), request("nape")), client)
    assert plan.care.stops_everything
    assert (sorted(plan.hidden), plan.bowls) == (["crown", "nape"], ())


# --- lines of demarcation

GREY_STEP = tuple(
    ProfilePoint((strip + 0.5) / 10, (36.0 if strip < 3 else 55.0, 8.0, 22.0), 0.4) for strip in range(10)
)  # dark new growth, lightened lengths from 0.3 on: a made profile


def lined(**more) -> LiftRequest:
    return request(lines=find_lines(GREY_STEP), touches_lightened_hair=False, **more)


def test_a_mix_up_to_the_line_touches_no_lightened_hair_and_one_over_it_does_whatever_was_said():
    up_to = one(planned(lined(laid=laid_by_word("up to the line", find_lines(GREY_STEP)))))
    over = one(planned(lined()))
    assert "overlap-lightened" not in up_to.care.codes
    assert up_to.laid.to_share <= 0.3
    assert "overlap-lightened" in over.care.codes
    assert [reason.code for reason in over.reasons] == ["line-crossed"]


def test_seeing_no_line_is_no_leave_to_lay_a_mix_up_to_it():
    with pytest.raises(BadInputError, match="no line was found"):
        laid_by_word("up to the line", ())
    with pytest.raises(BadInputError, match="write one of"):
        laid_by_word("somewhere", find_lines(GREY_STEP))
    assert laid_by_word("whole", ()).whole


# --- additives and curl


def test_additives_promise_no_strength():
    steps = additive_steps()
    assert [step.code for step in steps] == ["before", "lightener", "toner", "after"]
    words = " ".join(step.text for step in steps).lower()
    assert not any(promise in words for promise in ("repair", "stronger", "rebuild", "heal", "as new"))
    assert additive_step("lightener").minutes_times > 1


def test_curl_is_measured_and_described_and_never_sold():
    assert curl_elongation_percent(50, 59) == pytest.approx(18)
    assert "loosens" in curl_text(18)
    assert "being lost" in curl_text(31)  # limits of the care rules: 15 and 30
    assert all("straight" not in curl_text(percent) for percent in (-5, 0, 5, 16, 40))


# --- bad input


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: plan_lift((), Client(Facts(), TODAY)),
        lambda: plan_lift((request(), request()), Client(Facts(), TODAY)),
        lambda: LiftSettings(additive_percent=80),
        lambda: curl_elongation_percent(0, 10),
    ],
)
def test_what_cannot_be_planned_is_refused_with_a_sentence(wrong):
    with pytest.raises(BadInputError, match=r"\.$"):
        wrong()


@pytest.mark.parametrize("facts", [{"scalp_state": "broken"}, {"scalp_state": "infected"}], ids=str)
def test_hair_that_needs_no_lift_is_not_called_clear_on_somebody_whom_a_stop_is_about(facts):
    # Nothing chemical goes on broken or infected skin: common practice, as care's own table has it.
    plan = planned(request(now=9.5, target=9.0, stage="yellow"), **facts)
    assert one(plan).mix is None
    assert plan.care.verdict is CareWord.STOP
    assert planned(request(now=9.5, target=9.0, stage="yellow")).care.verdict is CareWord.CLEAR
