"""The strand trial on the screen of the plan: what stops it, what it tells, and the plan that rests on it.

The colours of the strands after are those of sample_images/truth.csv, which the renderer knows and no reading made.
"""

import csv
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from estimator.pages import kept_plans
from estimator.pages.draft import Draft, StrandTried
from estimator.pages.draft_json import as_json, from_json

pytestmark = pytest.mark.slow

Forward = Callable[[AppTest, int], AppTest]
TRUTH = Path(__file__).parents[2] / "sample_images" / "truth.csv"


def words(page: AppTest) -> str:
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text, *page.header))


def true_lab(zone: str) -> tuple[float, float, float]:
    """The colour of a strand after its trial toning, as an instrument would read it."""
    lines = [line for line in TRUTH.read_text("utf-8").splitlines() if not line.startswith("#")]
    row = next(row for row in csv.DictReader(lines) if (row["photo"], row["zone"]) == ("strands_after.jpg", zone))
    return float(row["lab_l"]), float(row["lab_a"]), float(row["lab_b"])


@pytest.fixture
def planned(demo: AppTest, forward: Forward) -> AppTest:
    page = forward(demo, 5)
    assert page.title[0].value == "Plan"
    return page


def came_out(page: AppTest, zone: str, word: str) -> AppTest:
    page = page.button_group(key="trial_zone").set_value(zone).run()
    return page.button_group(key=f"trial_came_out_{zone}").set_value(word).run()


def sound_for(page: AppTest, zone: str, minutes: float) -> AppTest:
    page = came_out(page, zone, "sound")
    return page.number_input(key=f"trial_minutes_{zone}").set_value(minutes).run()


def measured(page: AppTest, zone: str, lab: tuple[float, float, float]) -> AppTest:
    page = page.button_group(key=f"trial_by_{zone}").set_value("an instrument").run()
    for axis, value in zip("lab", lab, strict=True):
        page.number_input(key=f"trial_{axis}_{zone}").set_value(value)
    return next(button for button in page.button if button.label == "Use this colour").click().run()


def bowls(page: AppTest) -> list[str]:
    """The bowls of the plan that is in use, as they are shown."""
    return [element.value for element in page.markdown if element.value.startswith('<div class="bowl"><h2>')]


def test_a_strand_that_broke_or_stretched_stops_its_zone_until_it_is_taken_out(planned: AppTest) -> None:
    assert "No formula for crown" not in words(planned)
    for word in ("broke", "stretched"):
        page = came_out(planned, "crown", word)
        assert page.title[0].value == "Plan"
        assert "No formula for crown" in words(page)
        assert "The hair stretches like gum or snaps at a touch." in words(page)  # care's own rule, hair-failing
        assert not any("crown" in bowl for bowl in bowls(page))
        assert not any(number.key == "trial_minutes_crown" for number in page.number_input)
        page = page.button(key="trial_out_crown").click().run()
        assert "No formula for crown" not in words(page)


def test_where_the_only_zone_stops_there_is_no_formula_and_still_a_way_back(demo: AppTest, forward: Forward) -> None:
    visit: Draft = demo.session_state["draft"]
    demo.session_state["draft"] = replace(visit, wishes={"crown": visit.wishes["crown"]})
    page = came_out(forward(demo, 5), "crown", "broke")
    assert "There is no formula while a stop stands" in words(page)
    assert bowls(page) == []
    page = page.button(key="trial_out_crown").click().run()
    assert bowls(page)


def test_the_plan_made_anew_is_used_with_one_tap_and_taken_back_with_one(planned: AppTest) -> None:
    before = bowls(planned)
    page = measured(sound_for(planned, "crown", 10.0), "crown", true_lab("crown"))
    assert "Strand of crown, 10 minutes" in words(page)
    assert "Predicted level" in words(page)
    assert "Dye taken, after it:" in words(page)
    assert bowls(page) == before  # nothing changes before it is asked for
    assert "a strand trial of this client" not in words(page)
    page = page.button(key="trial_used").click().run()
    assert page.title[0].value == "Plan"
    assert "Minutes rest on a strand trial of this client." in words(page)
    page = page.button(key="trial_unused").click().run()
    assert bowls(page) == before
    assert "a strand trial of this client" not in words(page)


def test_the_photograph_of_the_strands_tells_it_and_a_wet_strand_does_not(planned: AppTest) -> None:
    page = sound_for(planned, "crown", 10.0)
    page = page.button(key="demo_trial").click().run()
    assert "Strand of crown, 10 minutes" in words(page)
    visit: Draft = page.session_state["draft"]
    assert visit.trial is not None
    page.session_state["draft"] = replace(visit, trial=replace(visit.trial, wet=True))
    page = page.run()
    assert not page.exception
    assert "The hair is wet" in words(page)
    assert "The plan made anew" not in words(page)


def test_nothing_rests_on_a_strand_that_its_mix_can_not_have_made(planned: AppTest) -> None:
    page = measured(sound_for(planned, "crown", 10.0), "crown", (60.0, 4.0, 70.0))
    assert "nothing rests on it until then" in words(page)
    assert not any(button.key == "trial_used" for button in page.button)


def test_the_second_bowl_rests_on_the_trial_as_long_as_it_is_in_use(planned: AppTest) -> None:
    page = measured(sound_for(planned, "crown", 10.0), "crown", true_lab("crown"))
    page = page.button(key="trial_used").click().run()
    while page.title[0].value != "After":
        page = page.button(key="main_action").click().run()
    page = page.button(key="demo_after").click().run()
    assert any(box.label.startswith("The second bowl") for box in page.expander)
    assert "Minutes rest on a strand trial of this client." in words(page)
    page.session_state["draft"] = replace(page.session_state["draft"], trial_used=False)
    page = page.run()
    assert any(box.label.startswith("The second bowl") for box in page.expander)
    assert "Minutes rest on common practice." in words(page)
    assert "a strand trial of this client" not in words(page)


def test_a_trial_in_use_that_no_longer_holds_gives_way_to_the_plan_before_it(planned: AppTest) -> None:
    before = bowls(planned)
    page = measured(sound_for(planned, "crown", 10.0), "crown", true_lab("crown"))
    page = page.button(key="trial_used").click().run()
    visit: Draft = page.session_state["draft"]
    gone = replace(visit.tried["crown"], parts=(("A shade that was sold out", 1.0),))
    page.session_state["draft"] = replace(visit, tried={"crown": gone})
    page = page.run()
    assert not page.exception
    assert "No shade on the shelf is called" in words(page)
    assert bowls(page) == before


def test_a_measured_colour_lacks_a_number_and_is_asked_for(planned: AppTest) -> None:
    page = sound_for(planned, "crown", 10.0)
    page = page.button_group(key="trial_by_crown").set_value("an instrument").run()
    page.number_input(key="trial_l_crown").set_value(60.0)
    page = next(button for button in page.button if button.label == "Use this colour").click().run()
    assert "Enter L*, a* and b*" in words(page)
    assert page.session_state["draft"].tried["crown"].measured_lab_d65 is None


def test_a_strand_survives_a_reload(planned: AppTest) -> None:
    page = sound_for(planned, "crown", 10.0)
    page = page.button(key="demo_trial").click().run()
    visit: Draft = replace(page.session_state["draft"], trial_used=True)
    told = as_json(visit)
    read = from_json(told.content, {name: found() for name, found in told.photos.items()})
    assert read.tried == visit.tried
    assert read.tried["crown"] == StrandTried("sound", 10.0, visit.tried["crown"].parts)
    assert read.trial_used
    assert read.trial is not None
    assert visit.trial is not None
    assert read.trial.sha256 == visit.trial.sha256
    assert [zone.name for zone in read.trial.zones] == [zone.name for zone in visit.trial.zones]


def test_what_was_entered_of_a_strand_stays_when_two_taps_reach_one_drawing(planned: AppTest) -> None:
    page = sound_for(planned, "crown", 10.0)
    page.number_input(key="trial_minutes_crown").set_value(12.0)
    page.button_group(key="trial_came_out_crown").set_value("stretched")
    tried = page.run().session_state["draft"].tried["crown"]
    assert (tried.came_out, tried.minutes) == ("stretched", 12.0)


def test_a_plan_stands_after_a_reload_and_after_a_new_start_of_the_program(planned: AppTest) -> None:
    told = as_json(planned.session_state["draft"])
    bowls_then = bowls(planned)
    for new_start in (False, True):
        if new_start:
            kept_plans._plans().clear()
        page = AppTest.from_string("from estimator.pages import targets\ntargets.show()", default_timeout=60)
        page.session_state["draft"] = from_json(told.content, {name: found() for name, found in told.photos.items()})
        page = page.run()
        assert not page.exception
        assert page.title[0].value == "Plan"
        assert bowls(page) == bowls_then
    page = page.button(key="retarget").click().run()
    assert page.title[0].value == "Targets"


def test_a_target_that_is_changed_puts_the_plan_away_for_a_reload_too(planned: AppTest) -> None:
    visit = planned.session_state["draft"]
    changed = {zone: replace(wish, level=wish.level - 0.5) for zone, wish in visit.wishes.items()}
    planned.session_state["draft"] = replace(visit, wishes=changed)
    assert planned.run().title[0].value == "Targets"
