"""The targets screen: telling a target by another zone, by a point on a picture or as the lightest; the own scale."""

from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

pytestmark = pytest.mark.slow

Forward = Callable[[AppTest, int], AppTest]

SCALE = b"""name = "salon's own, invented"

[[row]]
level = 1
lightness = 15
source = "invented"

[[row]]
level = 10
lightness = 80
source = "invented"
"""


def words(page: AppTest) -> str:
    return " ".join(element.value for element in page.markdown)


def planned(page: AppTest) -> AppTest:
    return page.button(key="main_action").click().run()


def test_a_zone_is_planned_to_match_another(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 4)
    page = page.button_group(key="way_fringe").set_value("like").run()
    page = page.button_group(key="like_fringe").set_value("back").run()
    wish = page.session_state["draft"].wishes["fringe"]
    assert (wish.way, wish.like) == ("like", "back")
    assert not planned(page).exception
    assert "Why this bowl" in words(page)


def test_as_light_as_possible_is_told_beside_the_plan(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 4)
    page = page.button_group(key="way_fringe").set_value("lightest").run()
    page = page.button_group(key="limit_fringe").set_value("beige").run()
    page = planned(page)
    assert "as light as possible, no warmer than beige" in words(page)


def test_a_picked_place_without_its_picture_is_told_in_one_sentence(demo: AppTest, forward: Forward) -> None:
    from dataclasses import replace

    page = forward(demo, 4)
    draft = page.session_state["draft"]
    lost = replace(draft.wishes["fringe"], way="picked", spot=(10.0, 10.0, 5.0), spot_on="gone")
    page.session_state["draft"] = replace(draft, wishes={**draft.wishes, "fringe": lost})
    page = planned(page.run())
    assert not page.exception
    assert "no longer here" in words(page)


def test_the_salon_s_own_scale_is_used_from_reading_to_plan(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 4)
    page = page.file_uploader(key="scale_file_0").set_value(("own.toml", SCALE, "application/toml")).run()
    page = page.button(key="use_scale").click().run()
    assert any("salon's own, invented" in expander.label for expander in page.expander)
    assert not planned(page).exception


@pytest.mark.parametrize("spoilt", [b"\xff\xfe", b"name = 3", b""])
def test_a_scale_that_can_not_be_used_is_refused(demo: AppTest, forward: Forward, spoilt: bytes) -> None:
    page = forward(demo, 4)
    page = page.file_uploader(key="scale_file_0").set_value(("own.toml", spoilt, "application/toml")).run()
    page = page.button(key="use_scale").click().run()
    assert not page.exception
    assert any("the default" in expander.label for expander in page.expander)


def test_two_taps_that_reach_one_drawing_of_the_targets_both_count(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 4)
    chosen = {"level_fringe": 8.5, "length_fringe": 42.0}
    for key, value in chosen.items():
        page.number_input(key=key).set_value(value)
    page.button_group(key="porosity_fringe").set_value("high")
    page.button_group(key="density_fringe").set_value("low")
    wish = page.run().session_state["draft"].wishes["fringe"]
    assert (wish.level, wish.length_cm, wish.porosity, wish.density) == (8.5, 42.0, "high", "low")


AGAIN = """
from dataclasses import replace
import streamlit as st
from estimator.pages import draft, kept_plans, targets
from estimator.pages.showing import begin_telling, one_sentence
begin_telling()
if "begun" not in st.session_state:  # as a visit is gone on with
    st.session_state["begun"] = True
    draft.change(planned=kept_plans.mark(draft.current()))
with one_sentence():
    targets.show()
"""


def test_a_plan_that_can_not_be_made_after_a_new_start_leads_back_to_the_targets(
    demo: AppTest, forward: Forward
) -> None:
    from dataclasses import replace

    draft = forward(demo, 4).session_state["draft"]
    lost = replace(draft.wishes["fringe"], way="picked", spot=(10.0, 10.0, 5.0), spot_on="gone")
    page = AppTest.from_string(AGAIN, default_timeout=60)
    page.session_state["draft"] = replace(draft, wishes={**draft.wishes, "fringe": lost})
    page = page.run()
    assert not page.exception
    assert "no longer here" in words(page)
    assert page.run().title[0].value == "Targets"
