"""The tables of care: every row sourced, an unsound row does not load, first aid always there, the page in step."""

import re
import tomllib
from pathlib import Path

import pytest

from estimator.care.cautions import first_aid, read_cautions, standing_order, usual_cautions
from estimator.care.facts import baseline_facts
from estimator.care.manual import care_manual
from estimator.care.questions import PHRASES, QUESTIONS, TABLES, CareTableError, read_fact_table
from estimator.care.rules import judge, load_rules, read_rules

ROOT = Path(__file__).parents[2]
SOURCE_KEYS = set(re.findall(r"^\| ([a-z0-9-]+) \|", (ROOT / "docs" / "sources.md").read_text("utf-8"), re.MULTILINE))

RULE = """
[[rule]]
code = "dry-ends"
topic = "condition"
when = "porosity == 'high'"
verdict = "caution"
severity = 2
message = "Ends are dry."
remedy = "Care first."
sources = ["common practice"]
"""


def test_a_sound_row_loads():
    assert [rule.code for rule in read_rules(RULE)] == ["dry-ends"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('sources = ["common practice"]', "", "has no source"),
        ('sources = ["common practice"]', "sources = []", "has no source"),
        ('"common practice"', '"everybody knows"', "no key and none of"),
        ("porosity == 'high'", "porousness == 'high'", "no fact"),
        ("porosity == 'high'", "porosity == 'hihg'", "never 'hihg'"),
        ("porosity == 'high'", "porosity = 'high'", "can't be read"),
        ('"caution"', '"careful"', "careful"),
        ('"caution"', '"clear"', "says 'clear'"),
        ("severity = 2", "severity = 6", "severity 6"),
        ("severity = 2", "", "severity"),
        ('remedy = "Care first."', "", "remedy"),
        ('"Care first."', '" "', "needs a code"),
        ('"Ends are dry."', '"Ends are {porosity}, {density}."', "fills in density"),
        ('"common practice"]', '"common practice"]\nanswered_by = "a doctor"', "no 'test first'"),
        ('"common practice"]', '"common practice"]\n' + RULE, "twice"),
    ],
)
def test_an_unsound_row_does_not_load_and_is_named(old, new, said):
    with pytest.raises(CareTableError, match=said) as told:
        read_rules(RULE.replace(old, new, 1))
    assert "dry-ends" in str(told.value)


def test_an_unsound_question_does_not_load():
    text = (TABLES / "questions.toml").read_text("utf-8")
    for old, new in [
        ('sources = ["eu-annex-iii", "welc-2024"]', "sources = []"),
        ("baseline = 34", "baseline = 340"),
        ('needed_if = "touches_scalp"', 'needed_if = "touches_skin"'),
        ('fact = "face_rash"', 'fact = "age_years"'),
        ('kind = "number"', 'kind = "figure"'),
    ]:
        assert old in text
        with pytest.raises(ValueError):
            read_fact_table(text.replace(old, new, 1))


def test_an_unsound_caution_does_not_load():
    text = (TABLES / "cautions.toml").read_text("utf-8")
    for old, new in [
        ('kind = "usual"', 'kind = "often"'),
        ('title = "Gloves"', 'title = ""'),
        ('"common practice"]', '"hearsay"]'),
    ]:
        with pytest.raises(CareTableError):
            read_cautions(text.replace(old, new, 1))


def test_every_source_key_stands_in_the_list_of_sources():
    used = {source for rule in load_rules() for source in rule.sources}
    used |= {source for question in QUESTIONS for source in question.sources}
    used |= {source for caution in (*usual_cautions(), *first_aid()) for source in caution.source.split("; ")}
    cases = tomllib.loads((ROOT / "tests" / "cases" / "care.toml").read_text("utf-8"))["case"]
    used |= {source for case in cases for source in case["source"].split("; ")}
    assert used - set(PHRASES) <= SOURCE_KEYS


def test_no_rule_rests_on_memory_alone_and_answers_open_none_that_do():
    for rule in load_rules():
        assert set(rule.sources) != {"from memory"}, rule.code


def test_every_rule_of_the_table_is_whole_sentences():
    for rule in load_rules():
        for text in (rule.message, rule.remedy):
            assert text.endswith("."), rule.code
            assert "!" not in text, rule.code


def test_a_message_says_the_figure():
    [finding] = judge(baseline_facts(wants_oxidative_dye=True, patch_test_age_hours=960)).findings
    assert finding.message == "The patch test is 960 hours old; it holds for 7 days here."
    [finding] = judge(baseline_facts(scalp_state="broken")).findings
    assert "broken skin" in finding.message


def test_beside_every_formula_stand_gloves_eyes_air_and_rinsing():
    """EU 2019/831 asks for gloves and the eye warning; fresh air and rinsing when it burns are common practice."""
    said = " ".join(f"{caution.title} {caution.text}".lower() for caution in usual_cautions())
    for word in ("gloves", "eyes", "rinse with water at once", "doctor", "moving air", "burns", "48 hours", "label"):
        assert word in said


def test_first_aid_names_what_must_be_done_at_once():
    """Ambulance for breath and a swollen face: nhs-hair-dye. Twenty minutes of cool water: from memory."""
    by_code = {caution.code: caution for caution in first_aid()}
    assert "20 minutes" in by_code["skin-burns"].text
    assert "from memory" in by_code["skin-burns"].source
    assert "ambulance" in by_code["breath-or-swelling"].text
    assert "Rinse at once" in by_code["in-the-eye"].text
    assert "doctor" in by_code["in-the-eye"].text


def test_the_maker_the_law_and_the_licence_stand_above():
    assert all(word in standing_order() for word in ("maker", "law", "licensed"))


def test_the_page_of_rules_is_in_step_with_the_tables():
    written = (ROOT / "docs" / "care_rules.md").read_text("utf-8")
    assert written == care_manual(), "run: python -m estimator.care.manual > docs/care_rules.md"
    assert all(f"`{rule.code}`" in written for rule in load_rules())
