"""Answers of an earlier visit: nothing on health goes on silently, and every question has its place."""

from datetime import date

import pytest

from estimator.care.answer_history import over_time
from estimator.care.asking_again import sort_earlier, use_of
from estimator.care.questions import QUESTIONS
from estimator.reports.answer_wording import about_text, value_text

ABOUT_HEALTH = {"health", "scalp", "allergy", "skin test", "client"}  # topics of questions.toml that tell of a person


def test_every_question_has_its_place_when_it_is_asked_again() -> None:
    assert set(use_of()) == {question.fact for question in QUESTIONS}
    assert set(use_of().values()) == {"kept", "confirmed", "anew"}


def test_nothing_on_health_and_nothing_that_counts_days_is_kept_without_being_asked() -> None:
    for question in QUESTIONS:
        if question.topic in ABOUT_HEALTH:
            assert use_of()[question.fact] != "kept", question.fact
        if question.fact.endswith(("_ago", "_hours", "_months")):  # a week later the number is another
            assert use_of()[question.fact] == "anew", question.fact


def test_what_was_not_answered_is_not_offered() -> None:
    earlier = sort_earlier(
        {
            "asthma": True,
            "age_years": "not known",
            "curl_pattern": "coily",
            "scalp_state": "sound",
            "earlier_colour": [],
        }
    )
    assert (earlier.kept, earlier.to_confirm, earlier.anew) == (
        {"curl_pattern": "coily"}, {"asthma": True}, {"scalp_state": "sound"},
    )  # fmt: skip


def test_each_answer_stands_beside_what_it_was_before_with_the_first_day_of_it() -> None:
    days = [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1), date(2026, 4, 1)]
    told = [{"asthma": False}, {"asthma": True, "age_years": 34.0}, {"asthma": True}, {"asthma": "not known"}]
    newest_first = list(zip(days, told, strict=True))[::-1]
    age, asthma = over_time(newest_first)
    assert (age.fact, age.now, age.since, age.earlier) == ("age_years", 34.0, days[1], ())
    assert (asthma.now, asthma.since, asthma.earlier) == (True, days[1], ((days[0], False),))


def test_an_answer_that_came_back_is_told_as_it_went() -> None:
    days = [date(2026, 3, 1), date(2026, 2, 1), date(2026, 1, 1)]
    (found,) = over_time([(day, {"asthma": yes}) for day, yes in zip(days, (True, False, True), strict=True)])
    assert found.since == days[0]
    assert found.earlier == ((days[1], False), (days[2], True))


@pytest.mark.parametrize(
    ("fact", "value", "words"),
    [("age_years", 34.0, "34 years"), ("asthma", False, "no"), ("scalp_state", "broken", "broken skin"),
     ("earlier_colour", [], "none")],
)  # fmt: skip
def test_an_answer_is_told_in_the_words_of_the_screen(fact: str, value: object, words: str) -> None:
    assert value_text(fact, value) == words


def test_a_question_that_is_asked_no_more_keeps_its_name() -> None:
    assert (about_text("an_old_question"), value_text("an_old_question", "so")) == ("an old question", "so")
