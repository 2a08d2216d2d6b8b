"""Zones that differ: a stop of one zone withholds that zone alone, a stop of the person everything."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.care.answers import Answer
from estimator.care.facts import Facts, baseline_facts
from estimator.care.judging_zones import ZonedVerdict, judge_zones
from estimator.care.questions import QUESTIONS, ZONE_QUESTIONS, CareTableError
from estimator.care.rules import About, judge, load_rules, read_rules
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import WORST_FIRST, CareVerdict, CareWord
from estimator.care.zoned_facts import ZonedFacts
from estimator.errors import BadInputError
from tests.estimator.test_care_worse import steps_to_worse

TODAY = date(2026, 3, 2)
ZONES = ("crown", "nape")
ZONE_STEPS = [step for step in steps_to_worse() if step[0] in {question.fact for question in ZONE_QUESTIONS}]
FEW = settings(max_examples=60, derandomize=True, deadline=None, database=None)
LIGHTENING = {"wants_lightener": True, "lightener_volume": 20.0, "levels_to_lift": 3.0}


def judged(
    zones: dict[str, dict[str, object]], answers: tuple[Answer, ...] = (), head: Facts | None = None, **figures
) -> ZonedVerdict:
    """The crown and the nape lightened, with facts of their own."""
    zoned = ZonedFacts(head or baseline_facts(), zones)
    planned = {zone: zoned.of(zone).with_plan_figures(**(LIGHTENING | figures)) for zone in ZONES}
    return judge_zones(zoned, planned, answers, TODAY)


def rank(verdict: CareVerdict) -> int:
    return WORST_FIRST.index(verdict.verdict)


# --- zones alone


@pytest.mark.parametrize(
    ("own", "code"),
    [
        ({"breakage": "widespread"}, "breakage-widespread"),  # a broken crown
        ({"elasticity": "gummy"}, "hair-failing"),
        ({"strand_test": "damaged"}, "strand-damaged"),
        ({"curl_elongation_percent": 31}, "curl-lost"),
    ],
    ids=str,
)  # stops of trade practice that speak of hair, not of skin or law: common practice
def test_a_stop_of_one_zone_withholds_that_zone_and_lets_the_others_go_on(own, code):
    verdict = judged({"crown": own})
    assert verdict.of("crown").is_stop
    assert [f.code for f in verdict.of("crown").findings_of(CareWord.STOP)] == [code]
    assert not verdict.of("nape").is_stop
    assert (verdict.whole.stopped_zones, verdict.whole.stops_everything) == (("crown",), False)


@pytest.mark.parametrize(
    "own",
    [
        {"age_years": 15}, {"scalp_state": "broken"}, {"face_rash": True}, {"patch_test": "reaction"},
        {"lightener_reaction_before": "hives_or_breath"}, {"dye_reaction_before": "severe"},
        {"cancer_treatment": "now"},
    ],
    ids=str,
)  # fmt: skip
def test_law_age_scalp_and_allergy_stop_every_zone(own):
    verdict = judged({"crown": {"elasticity": "good"}}, head=baseline_facts(**own), wants_oxidative_dye=True)
    assert all(verdict.of(zone).is_stop for zone in ZONES)
    assert verdict.whole.stops_everything
    with pytest.raises(BadInputError, match=r"crown: .* can't differ from zone to zone"):
        judged({"crown": own})


def test_metal_in_one_zone_stops_the_head_since_the_rinse_carries_peroxide_over_it():
    verdict = judged({"crown": {"metal_test": "reaction"}})
    assert verdict.whole.stops_everything
    assert verdict.of("nape").is_stop


def test_metal_in_a_zone_that_is_not_even_planned_stops_the_head_too():
    verdict = judged({"fringe": {"metal_test": "reaction"}})
    assert all(verdict.of(zone).is_stop for zone in ZONES)


def test_a_strength_above_the_law_in_one_zone_stops_the_head():
    zoned = ZonedFacts(baseline_facts())
    volumes = {"crown": 41.0, "nape": 20.0}  # above 12 %: Regulation (EC) 1223/2009, Annex III, entry 12
    planned = {
        zone: zoned.of(zone).with_plan_figures(**(LIGHTENING | {"lightener_volume": volume}))
        for zone, volume in volumes.items()
    }
    assert "peroxide-legal" in judge_zones(zoned, planned, (), TODAY).of("nape").codes


def test_relaxed_ends_are_stopped_and_the_natural_roots_beside_them_get_their_caution():
    zones = {"crown": {"relaxer_kind": "none"}, "nape": {"touches_relaxed_hair": True}}
    head = baseline_facts(relaxer_kind="hydroxide", relaxer_weeks_ago=20)
    verdict = judged(zones, head=head)
    assert [f.code for f in verdict.of("nape").findings_of(CareWord.STOP)] == ["hydroxide-lightener"]
    assert verdict.of("crown").codes == ("natural-beside-relaxed",)  # new growth beside it: common practice


def test_a_finding_that_all_zones_share_is_told_once_and_of_the_head():
    verdict = judged({"crown": {"porosity": "high"}}, head=baseline_facts(curl_pattern="coily"))
    assert [(f.code, f.zone) for f in verdict.whole.findings] == [("coily-lightener", "")]
    own = judged({"crown": {"curl_pattern": "coily"}})
    assert [(f.code, f.zone) for f in own.whole.findings] == [("coily-lightener", "crown")]


def test_an_answer_covers_the_zone_that_it_names_and_no_other():
    zones = {zone: {"elasticity": "reduced"} for zone in ZONES}
    test = Answer(
        code="hair-weakened",
        who="A",
        when=TODAY,
        what="stretched well",
        strength_volume=20,
        place="crown",
        zone="crown",
    )
    verdict = judged(zones | {"nape": {"elasticity": "reduced", "breakage": "some"}}, (test,), levels_to_lift=3.0)
    # Both zones give the same words, so the finding is the head's and wants an answer for the head.
    assert verdict.whole.findings[0].verdict == "test first"
    alone = judged({"crown": {"elasticity": "reduced"}}, (test,))
    assert alone.of("crown").verdict == "caution"
    elsewhere = judged({"nape": {"elasticity": "reduced"}}, (test,))
    assert elsewhere.of("nape").verdict == "test first"


# --- the tables


def test_a_rule_about_a_zone_looks_only_at_what_may_differ_from_zone_to_zone():
    by_zone = {question.fact for question in ZONE_QUESTIONS}
    asked = {question.fact for question in QUESTIONS}
    for rule in load_rules():
        if rule.about is About.ZONE:
            assert rule.when.names & asked <= by_zone, rule.code
    row = """
    [[rule]]
    code = "x"
    topic = "t"
    when = "age_years < 16"
    verdict = "stop"
    severity = 5
    message = "m"
    remedy = "r"
    sources = ["common practice"]
    about = "zone"
    """
    with pytest.raises(CareTableError, match="which the whole person has"):
        read_rules(row)


def test_stops_of_the_person_are_never_rules_about_a_zone():
    # Law, age, open scalp, severe reaction, cancer, metal: the trade's list of what stops a person (common practice).
    of_person = {
        *("peroxide-legal", "brows-lashes", "age-under-16", "scalp-broken", "scalp-irritated", "face-rash"),
        *("dye-reaction", "lightener-hives", "patch-reaction", "cancer-now", "metal-salts", "heat-on-scalp"),
        *("lightened-two-weeks", "reshaped-two-weeks", "straighten-and-colour"),
    }
    about = {rule.code: rule.about for rule in load_rules()}
    assert {about[code] for code in of_person} == {About.HEAD}


@pytest.mark.parametrize(
    ("own", "match"),
    [
        ({"elasticity": "rubbery"}, "crown: Elasticity, wet is rubbery"),
        ({"elastisity": "good"}, "crown: 'elastisity' is nothing"),
        ({"age_years": 20}, "crown: age can't differ"),
    ],
    ids=str,
)
def test_a_fault_in_the_facts_of_a_zone_names_the_zone(own, match):
    with pytest.raises(BadInputError, match=match):
        ZonedFacts(baseline_facts(), {"crown": own})


# --- facts made worse


@pytest.mark.slow
@FEW
@given(step=st.sampled_from(ZONE_STEPS), zone=st.sampled_from(ZONES), oxidative=st.booleans())
def test_making_a_fact_of_one_zone_worse_makes_no_verdict_milder(step, zone, oxidative):
    fact, better, worse = step

    def with_own(value: object) -> ZonedVerdict:
        return judged({zone: {fact: value}}, wants_oxidative_dye=oxidative)

    milder, stricter = with_own(better), with_own(worse)
    for other in ZONES:
        assert rank(stricter.of(other)) <= rank(milder.of(other)), (milder.whole.codes, stricter.whole.codes)


@pytest.mark.slow
@FEW
@given(step=st.sampled_from(ZONE_STEPS))
def test_facts_of_a_zone_that_say_the_same_as_the_head_change_nothing(step):
    fact, _, value = step
    head = baseline_facts(**{fact: value})
    same = judged({"crown": {fact: value}}, head=head)
    assert rank(same.of("crown")) == rank(judge(head.with_plan_figures(**LIGHTENING)))
    assert same.whole.stopped_zones == ()


def test_a_fact_left_open_in_one_zone_asks_for_it_there():
    verdict = judged({"crown": {"elasticity": "not known"}})
    (finding,) = verdict.of("crown").findings
    assert (finding.zone, finding.missing, finding.verdict) == ("crown", ("elasticity",), "test first")
    assert verdict.of("nape").verdict == "clear"
    assert ZonedFacts(baseline_facts(), {"crown": {"elasticity": None}}).of("crown").elasticity is UNKNOWN


def test_a_plain_head_is_judged_as_ever():
    head = replace(baseline_facts(), scalp_state=UNKNOWN, breakage="some")
    plain = judged({}, head=head)
    assert plain.whole == judge(head.with_plan_figures(**LIGHTENING))
