"""The record of facts: what it accepts, what it refuses and in which words, and how a form's answers are read."""

import dataclasses
import json

import pytest

from estimator.care.facts import Facts, baseline_facts, facts_from_answers
from estimator.care.questions import FACT_TABLE, QUESTIONS
from estimator.care.rules import judge, load_rules
from estimator.care.unknown import UNKNOWN
from estimator.errors import BadInputError


def test_the_record_holds_the_facts_of_the_table_and_no_others():
    assert [field.name for field in dataclasses.fields(Facts)] == list(FACT_TABLE.specs)


def test_what_nobody_said_starts_as_the_table_says():
    for spec in FACT_TABLE.specs.values():
        expected = 7 if spec.fact == "patch_valid_days" else spec.default  # a setting of the salon, our assumption
        assert Facts().by_name[spec.fact] == expected, spec.fact


def test_every_fact_serves_a_rule():
    named = frozenset().union(*(rule.when.names for rule in load_rules()))
    assert named == set(FACT_TABLE.specs)


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"age_years": 150}, "Age is 150 years; 0 to 120 years are allowed."),
        ({"age_years": -1}, "0 to 120"),
        ({"age_years": 15.5}, "whole numbers"),
        ({"age_years": "abc"}, "is no number"),
        ({"age_years": float("nan")}, "0 to 120"),
        ({"age_years": True}, "is no number"),
        ({"scalp_state": "sorre"}, "State of the scalp is sorre; allowed are sound, flaking"),
        ({"scalp_state": ["sore"]}, "allowed are sound"),
        ({"face_rash": "perhaps"}, "yes or no is allowed"),
        ({"face_rash": 1}, "yes or no is allowed"),
        ({"earlier_colour": ["box", "mud"]}, "is mud; allowed are salon, box"),
        ({"dye_volume": 500}, "0 to 130 volume"),
        ({"patch_valid_days": 1}, "2 to 183 days"),
        ({"hair_colour": "red"}, "nothing that the consultation asks"),
        ({"age_years": 150, "scalp_state": "sorre"}, "State of the scalp"),
    ],
)
def test_a_wrong_answer_is_refused_in_a_sentence(answers, said):
    with pytest.raises(BadInputError, match=said):
        facts_from_answers(answers)


def test_all_faults_are_told_at_once():
    with pytest.raises(BadInputError) as told:
        facts_from_answers({"age_years": 150, "scalp_state": "sorre"})
    assert "Age" in str(told.value)
    assert "State of the scalp" in str(told.value)
    assert str(told.value).endswith("Correct the answer, or leave it open.")


def test_a_form_s_answers_are_read():
    facts = facts_from_answers(
        {
            "age_years": "34",
            "iron_celsius": " 180,5 ",
            "face_rash": "No",
            "asthma": True,
            "scalp_state": "sound",
            "earlier_colour": ["box", "henna"],
            "relaxer_kind": "unknown",
            "patch_test": "not known",
            "porosity": None,
            "density": "",
        }
    )
    assert (facts.age_years, facts.iron_celsius, facts.face_rash, facts.asthma) == (34, 180.5, False, True)
    assert facts.earlier_colour == {"box", "henna"}
    assert facts.relaxer_kind == "unknown"  # an answer: nobody knows with what
    assert facts.patch_test is facts.porosity is facts.density is UNKNOWN


def test_no_colour_at_all_is_an_answer():
    assert facts_from_answers({"earlier_colour": []}).earlier_colour == frozenset()
    assert facts_from_answers({"earlier_colour": ["none"]}).earlier_colour == frozenset()


@pytest.mark.parametrize(
    "facts", [Facts(), baseline_facts(), baseline_facts(earlier_colour=frozenset({"henna", "box"}))]
)
def test_facts_survive_being_written_and_read_again(facts):
    assert facts_from_answers(facts.as_answers()) == facts


def test_written_facts_fit_into_a_file():
    written = json.loads(json.dumps(Facts(age_years=34, earlier_colour=frozenset({"henna", "box"})).as_answers()))
    assert written["earlier_colour"] == ["box", "henna"]
    assert (written["age_years"], written["scalp_state"]) == (34, "not known")


@pytest.mark.parametrize(
    "value",
    [Facts(), QUESTIONS[0], FACT_TABLE, load_rules()[0], judge(Facts()), judge(Facts(scalp_state="sore")).findings[0]],
)
def test_what_care_hands_out_can_not_be_changed(value):
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(value, dataclasses.fields(value)[0].name, "changed")


def test_figures_of_a_plan_are_added_and_nothing_else_changes():
    client = baseline_facts()
    planned = client.with_plan_figures(wants_oxidative_dye=True, dye_volume=6, touches_scalp=True)
    changed = {name for name, value in planned.by_name.items() if value != client.by_name[name]}
    assert changed == {"wants_oxidative_dye", "dye_volume", "touches_scalp"}
    assert client.dye_volume == 0


def test_an_answer_is_no_figure_of_a_plan():
    with pytest.raises(BadInputError, match="age_years is no figure"):
        baseline_facts().with_plan_figures(age_years=40)
