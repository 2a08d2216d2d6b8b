"""Answers to findings: a test or a doctor's word, written down; never a signature on a stop."""

from dataclasses import replace
from datetime import date

import pytest

from estimator.care.answers import Answer
from estimator.care.facts import Facts, baseline_facts
from estimator.care.rules import AnsweredBy, judge, judge_with_answers, load_rules
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareWord
from estimator.errors import BadInputError

TODAY = date(2026, 3, 20)
HENNA = baseline_facts(earlier_colour=frozenset({"henna"}), wants_lightener=True, lightener_volume=20, levels_to_lift=2)
STRAND = Answer(
    code="stubborn-dye",
    who="demo colourist",
    when=date(2026, 3, 18),
    what="Strand lifted two levels in 30 minutes, good stretch.",
    strength_volume=20,
    place="nape, underneath",
)
ECZEMA = baseline_facts(skin_condition="eczema", wants_oxidative_dye=True, dye_volume=6, touches_scalp=True)
DOCTOR = Answer(
    code="ask-a-doctor", who="the client's doctor", when=date(2026, 3, 2), what="No objection to dye on the scalp."
)


def test_a_written_test_turns_the_finding_into_a_caution_that_stays():
    assert judge(HENNA).verdict == "test first"
    verdict = judge_with_answers(HENNA, (STRAND,), TODAY)
    assert verdict.verdict == "caution"
    [finding] = verdict.findings
    assert (finding.code, finding.answer) == ("stubborn-dye", STRAND)


def test_a_doctor_s_word_turns_the_finding_into_a_caution_that_stays():
    verdict = judge_with_answers(ECZEMA, (DOCTOR,), TODAY)
    assert (verdict.verdict, verdict.codes) == ("caution", ("ask-a-doctor",))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"strength_volume": 10}, "made with 10 volume; the plan has 20 volume"),
        ({"strength_volume": None}, "does not say with which strength"),
        ({"place": " "}, "on which place"),
        ({"when": date(2026, 2, 1)}, "more than 30 days ago"),  # 47 days; the bound is our assumption
    ],
)
def test_a_test_that_does_not_cover_the_plan_leaves_the_finding_and_says_why(change, said):
    verdict = judge_with_answers(HENNA, (replace(STRAND, **change),), TODAY)
    assert verdict.verdict == "test first"
    assert said in verdict.findings[0].message


def test_a_test_made_today_counts():
    assert judge_with_answers(HENNA, (replace(STRAND, when=TODAY),), TODAY).verdict == "caution"


def test_a_test_of_thirty_days_counts_and_one_of_thirty_one_does_not():
    for day, expected in [(date(2026, 2, 18), "caution"), (date(2026, 2, 17), "test first")]:
        assert judge_with_answers(HENNA, (replace(STRAND, when=day),), TODAY).verdict == expected


def test_a_test_does_not_cover_a_strength_that_nobody_knows_yet():
    unplanned = replace(HENNA, lightener_volume=UNKNOWN)
    by_code = {finding.code: finding for finding in judge_with_answers(unplanned, (STRAND,), TODAY).findings}
    assert by_code["stubborn-dye"].verdict == "test first"
    assert "the plan has a strength not known yet" in by_code["stubborn-dye"].message


@pytest.mark.parametrize("code", [rule.code for rule in load_rules() if rule.verdict is CareWord.STOP])
def test_no_answer_opens_a_stop(code):
    with pytest.raises(BadInputError, match=code):
        judge_with_answers(HENNA, (replace(STRAND, code=code),), TODAY)


# No signature opens these (common practice, and law where the key is eu-annex-iii).
NO_SIGNATURE = {
    "peroxide-legal",
    "brows-lashes",
    "age-under-16",
    "scalp-broken",
    "dye-reaction",
    "lightener-hives",
    "patch-reaction",
    "hydroxide-lightener",
    "metal-salts",
    "hair-failing",
}


def test_the_list_of_what_no_signature_opens_is_whole():
    assert {rule.code for rule in load_rules() if rule.no_signature} == NO_SIGNATURE
    with pytest.raises(BadInputError, match="No signature opens 'scalp-broken'"):
        judge_with_answers(HENNA, (replace(STRAND, code="scalp-broken"),), TODAY)


@pytest.mark.parametrize(
    "code", ["patch-missing", "patch-too-fresh", "patch-expired", "strand-missing", "metal-suspected"]
)
def test_a_test_that_is_a_fact_is_not_waved_through_by_a_note(code):
    with pytest.raises(BadInputError, match="change what it rests on"):
        judge_with_answers(Facts(), (replace(STRAND, code=code),), TODAY)


@pytest.mark.parametrize("code", ["scalp-tender", "answer-missing", "no-such-rule"])
def test_nothing_else_is_answered(code):
    with pytest.raises(BadInputError):
        judge_with_answers(HENNA, (replace(STRAND, code=code),), TODAY)


def test_an_answer_from_the_future_is_refused():
    with pytest.raises(BadInputError, match="still to come"):
        judge_with_answers(HENNA, (replace(STRAND, when=date(2026, 3, 21)),), TODAY)


@pytest.mark.parametrize("empty", [{"who": ""}, {"what": "  "}])
def test_an_answer_needs_a_name_and_what_was_done(empty):
    with pytest.raises(BadInputError, match="write both down"):
        replace(STRAND, **empty)


def test_an_answer_changes_no_other_finding():
    both = replace(HENNA, skin_condition="eczema", touches_scalp=True)
    verdict = judge_with_answers(both, (STRAND,), TODAY)
    assert verdict.verdict == "test first"
    assert verdict.codes == ("ask-a-doctor", "stubborn-dye")


def test_an_answer_never_opens_more_than_its_finding():
    """With every answerable rule answered, whatever was a stop is still one."""
    stopped = replace(HENNA, scalp_state="sore")
    assert judge_with_answers(stopped, (STRAND,), TODAY).verdict == "stop"


def test_a_finding_says_whether_it_can_be_answered():
    answerable = {rule.code for rule in load_rules() if rule.answered_by is not AnsweredBy.CHANGED_FACTS}
    assert judge(HENNA).findings[0].answerable == ("stubborn-dye" in answerable)
    assert not judge(baseline_facts(wants_oxidative_dye=True, patch_test="none")).findings[0].answerable
