"""The consultation on paper, and what the law of a place allows."""

from datetime import date

import pytest

from estimator.care.facts import Facts, baseline_facts
from estimator.care.jurisdictions import limits_of, places, read_limits
from estimator.care.print_form import NOT_KNOWN, consultation_form
from estimator.care.questions import QUESTIONS, ZONE_QUESTIONS, CareTableError
from estimator.care.zoned_facts import ZonedFacts
from estimator.toning.peroxide import STRONGEST_VOLUME, PeroxideStrength


def test_every_question_stands_on_the_form_once_and_may_stay_open():
    form = consultation_form()
    facts = [question.fact for section in form.sections for question in section.questions]
    assert sorted(facts) == sorted(question.fact for question in QUESTIONS)
    assert len({section.title for section in form.sections}) == len(form.sections)
    for section in form.sections:
        for question in section.questions:
            assert question.boxes[-1] == NOT_KNOWN
            assert not question.ticked
            assert not question.written
            assert question.unit or len(question.boxes) > 2 or question.fact == "patch_same_product"


def test_answers_are_ticked_or_written_and_open_ones_left_to_the_hand():
    facts = baseline_facts(age_years=41, earlier_colour=frozenset({"box", "henna"}), relaxer_weeks_ago=999)
    on_form = {q.fact: q for section in consultation_form(ZonedFacts(facts)).sections for q in section.questions}
    assert on_form["age_years"].written == "41"
    assert len(on_form["earlier_colour"].ticked) == 2
    assert on_form["relaxer_weeks_ago"].ticked == ("never",)
    for question in on_form.values():
        assert set(question.ticked) <= set(question.boxes)
    empty = {q.fact: q for section in consultation_form(ZonedFacts(Facts())).sections for q in section.questions}
    filled = {fact for fact, question in empty.items() if question.ticked or question.written}
    assert filled <= {"patch_valid_days"}  # a setting of the salon, not an answer


def test_the_form_names_each_zone_that_differs_and_leaves_one_open_for_the_hand():
    zoned = ZonedFacts(baseline_facts(), {"crown": {"breakage": "widespread", "touches_scalp": False}})
    crown, open_zone = consultation_form(zoned).zones
    assert (crown.zone, [question.ticked for question in crown.questions]) == ("crown", [("all over",)])
    assert open_zone.zone == ""
    assert [question.fact for question in open_zone.questions] == [question.fact for question in ZONE_QUESTIONS]


def test_the_form_says_who_stands_above_it_and_keeps_medical_words_short():
    form = consultation_form()
    assert "maker" in form.standing_order
    assert "nothing more" in form.medical_note
    assert form.cautions
    assert any("Guardian" in line for line in form.signatures)


def test_the_european_peroxide_limit_is_twelve_percent_on_a_dated_page():
    european = limits_of("eu")
    peroxide = next(limit for limit in european.limits if "peroxide" in limit.substance)
    assert (peroxide.figure, peroxide.entry) == (12.0, "12")  # Regulation (EU) 2019/831
    assert PeroxideStrength.from_percent(peroxide.figure).volume == pytest.approx(STRONGEST_VOLUME)
    assert european.as_of == date(2026, 11, 25)
    assert "in force" in european.note


@pytest.mark.parametrize(
    ("substance", "figures"),
    [("ammonia", [6.0]), ("thioglycolic", [8.0, 11.0]), ("N-substituted", [3.0]), ("toluene-2,5-diamine", [2.0])],
)
def test_other_european_figures_are_those_of_the_annex(substance, figures):
    # Regulation (EC) 1223/2009, Annex III, entries 4, 2a, 8, 9a, as listed by CosIng and by a published copy.
    assert [limit.figure for limit in limits_of("eu").limits if substance in limit.substance] == figures


def test_figures_that_nobody_could_read_say_that_they_must_be_looked_up():
    assert {limit.entry for limit in limits_of("eu").limits if limit.to_look_up} == {"15a", "8a", "22"}


def test_any_other_place_is_told_to_ask_its_authority():
    assert places()[-1][0] == "other"
    for place in ("other", "atlantis", ""):
        assert limits_of(place).limits == ()
        assert "Ask your authority" in limits_of(place).note


@pytest.mark.parametrize("fault", ['source = ""', 'source = "hearsay"', 'figure = 0.0\nsource = "common practice"'])
def test_a_limit_that_is_not_sound_does_not_load(fault):
    place = '[[place]]\ncode="p"\nname="P"\nact="A"\nas_of="2026-01-01"\nnote="n"\nsource="common practice"\n'
    figure = "" if "figure" in fault else "figure = 1.0\n"
    row = '[[limit]]\nplace="p"\nentry="1"\nsubstance="s"\nunit="percent"\nwho="all"\ncounted="c"\nwarning=""\n'
    with pytest.raises(CareTableError):
        read_limits('ask = "a"\n' + place + row + figure + fault + "\n")
