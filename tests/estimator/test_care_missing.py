"""Open answers: what holds the verdict up, what may wait, and which questions are left to ask."""

import pytest

from estimator.care.facts import Facts, baseline_facts
from estimator.care.questions import FIRST_QUESTIONS, QUESTIONS
from estimator.care.rules import judge, open_lesser_questions, open_questions
from estimator.care.unknown import UNKNOWN

TONER = {"wants_oxidative_dye": True, "wants_toner": True, "dye_volume": 6, "touches_scalp": True}  # common practice
BLEACH = {"wants_lightener": True, "lightener_volume": 20, "levels_to_lift": 3, "touches_scalp": False}


def test_an_open_answer_that_a_stop_hangs_on_means_test_first():
    verdict = judge(baseline_facts(**TONER, scalp_state=UNKNOWN))
    [finding] = [finding for finding in verdict.findings if finding.code == "answer-missing"]
    assert verdict.verdict == "test first"
    assert finding.severity == 4
    assert finding.missing == ("scalp_state",)
    assert set(finding.rules) == {"scalp-broken", "scalp-irritated"}
    assert "state of the scalp" in finding.message
    assert finding.remedy == "What does the scalp look like, seen by eye?"
    assert not finding.answerable


def test_an_open_answer_that_only_a_caution_hangs_on_is_told_in_one_mild_line():
    verdict = judge(baseline_facts(**TONER, porosity=UNKNOWN, copper_exposure=UNKNOWN))
    assert verdict.codes == ("answer-open",)
    assert verdict.verdict == "caution"
    assert verdict.findings[0].missing == ("copper_exposure", "porosity")


def test_an_open_answer_that_does_not_matter_for_this_plan_is_not_missed():
    verdict = judge(
        baseline_facts(**TONER, asthma=UNKNOWN, curl_pattern=UNKNOWN, strand_test=UNKNOWN, relaxer_overlapped=UNKNOWN)
    )
    assert verdict.verdict == "clear"


def test_a_finding_names_only_the_rules_that_wait_for_its_own_facts():
    findings = judge(baseline_facts(**TONER, scalp_state=UNKNOWN, elasticity=UNKNOWN)).findings
    rules_of = {finding.missing: set(finding.rules) for finding in findings}
    assert rules_of == {
        ("scalp_state",): {"scalp-broken", "scalp-irritated"},
        ("elasticity",): {"hair-failing"},
    }


def test_a_stop_stands_whatever_else_is_open():
    verdict = judge(Facts(scalp_state="broken", **TONER))
    assert verdict.verdict == "stop"
    assert verdict.codes[0] == "scalp-broken"


def test_a_follow_up_question_waits_for_the_first_one():
    asked = [
        question.fact
        for question in open_questions(baseline_facts(**TONER, patch_test=UNKNOWN, patch_test_age_hours=UNKNOWN))
    ]
    assert asked == ["patch_test"]
    asked = [question.fact for question in open_questions(baseline_facts(**TONER, patch_test_age_hours=UNKNOWN))]
    assert asked == ["patch_test_age_hours"]
    asked = [
        question.fact
        for question in open_questions(baseline_facts(**TONER, patch_test="none", patch_test_age_hours=UNKNOWN))
    ]
    assert asked == []


def test_the_metal_test_is_asked_for_where_the_history_calls_for_it():
    """Common practice: metal salts, henna with additives, box and unknown colour call for it; salon colour does not."""
    open_test = {**TONER, "metal_test": UNKNOWN}
    for colour, asked in [
        ("salon", False),
        ("henna", False),
        ("metallic", True),
        ("henna_compound", True),
        ("unknown", True),
    ]:
        facts = baseline_facts(**open_test, earlier_colour=frozenset({colour}))
        assert ("metal_test" in [question.fact for question in open_questions(facts)]) is asked, colour


def test_before_a_plan_says_where_the_mix_lies_its_questions_are_asked_all_the_same():
    """Where the mix will lie is open: what would matter on the scalp is asked now, and the plan is not blamed."""
    early = {"wants_oxidative_dye": True, "wants_toner": True}
    asked = {question.fact for question in open_questions(Facts(**early))}
    assert {"skin_condition", "medicine_affects_skin", "scalp_medicine"} <= asked
    assert "touches_scalp" not in {name for finding in judge(Facts(**early)).findings for name in finding.missing}
    answers = {question.fact: question.baseline for question in FIRST_QUESTIONS}
    assert judge(Facts(**early, **answers)).verdict in ("caution", "clear")


def test_findings_about_open_answers_stay_few():
    """A client who was asked nothing gets one finding a topic, not one a rule."""
    verdict = judge(Facts(**TONER))
    assert len(verdict.findings) <= 9
    named = [name for finding in verdict.findings for name in finding.missing]
    assert len(named) == len(set(named))


def test_a_plan_s_open_figure_is_missed_too():
    verdict = judge(baseline_facts(scalp_medicine=True, **{**TONER, "touches_scalp": UNKNOWN}))
    [finding] = verdict.findings
    assert finding.code == "answer-missing"
    assert finding.missing == ("touches_scalp",)


def test_a_toner_of_direct_dye_needs_no_patch_test():
    """Common practice; a reaction to hair colour before still asks for a test first."""
    direct = {"wants_toner": True, "wants_oxidative_dye": False, "wants_direct_dye": True}
    assert judge(baseline_facts(**direct, patch_test="none")).verdict == "clear"
    assert judge(baseline_facts(**direct, dye_reaction_before="mild")).codes == ("dye-reaction-direct",)


def test_the_first_questions_settle_a_toner():
    """Two minutes at the chair: with their answers no stop and no test hangs on an open answer any more."""
    answers = {question.fact: question.baseline for question in FIRST_QUESTIONS}
    assert open_questions(Facts(**TONER, **answers)) == ()
    assert "answer-missing" not in judge(Facts(**TONER, **answers)).codes


@pytest.mark.parametrize("question", FIRST_QUESTIONS, ids=[question.fact for question in FIRST_QUESTIONS])
def test_each_first_question_can_hold_up_a_toner(question):
    company = {  # what must hold, or be open too, for the answer to matter
        "cancer_treatment_months": {"cancer_treatment": "ended"},
        "relaxer_kind": {"relaxer_weeks_ago": UNKNOWN},
        "relaxer_weeks_ago": {"relaxer_kind": "thio"},
        "smoothing_kind": {"smoothing_weeks_ago": UNKNOWN},
        "smoothing_weeks_ago": {"smoothing_kind": "unknown"},
        "metal_test": {"earlier_colour": frozenset({"metallic"})},
    }
    changes = {**TONER, **company.get(question.fact, {}), question.fact: UNKNOWN}
    assert question in open_questions(baseline_facts(**changes))


@pytest.mark.parametrize(
    ("fact", "known", "needed"),
    [
        ("age_years", {}, True),  # always
        ("asthma", {"wants_lightener": True}, True),
        ("asthma", {"wants_lightener": False}, False),
        ("cancer_treatment_months", {"cancer_treatment": UNKNOWN, "wants_lightener": True}, False),  # waits
        ("cancer_treatment_months", {"cancer_treatment": "none", "wants_lightener": True}, False),
        ("cancer_treatment_months", {"cancer_treatment": "ended", "wants_lightener": True}, True),
        ("skin_condition", {"wants_oxidative_dye": True, "touches_scalp": UNKNOWN}, True),  # the plan is open
        ("skin_condition", {"wants_oxidative_dye": True, "touches_scalp": False}, False),
    ],
)
def test_a_question_is_asked_when_it_counts_or_may_still_count(fact, known, needed):
    [question] = [question for question in QUESTIONS if question.fact == fact]
    assert question.is_needed(baseline_facts(**known).by_name) is needed


def test_lightener_opens_more_questions_than_toner():
    """Strand test, earlier lightening and reactions to lightener count only where lightener is planned."""
    toner, bleach = ({question.fact for question in open_questions(Facts(**plan))} for plan in (TONER, BLEACH))
    assert {"strand_test", "lightened_weeks_ago", "lightener_reaction_before"} <= bleach - toner


def test_a_lesser_question_is_no_open_question():
    facts = Facts(**TONER)
    assert not set(open_questions(facts)) & set(open_lesser_questions(facts))


def test_every_question_says_why_and_has_its_words():
    for question in QUESTIONS:
        assert question.text.endswith(("?", ".")), question.fact
        assert question.why.endswith("."), question.fact
