"""The consultation's screen without a browser: numbers that may be "never", and what is asked only once."""

import re
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

pytestmark = pytest.mark.slow

Forward = Callable[[AppTest, int], AppTest]
BRAIDS = "tension_style_off_hours"


@pytest.fixture
def care(demo: AppTest, forward: Forward) -> AppTest:
    """The demo visit's fourth step: nobody ever braided this hair."""
    return forward(demo, 3)


def shown(page: AppTest) -> tuple[float | None, list[str]]:
    """What stands in the number of hours, and what is pressed below it."""
    pressed = page.button_group(key=f"answer_{BRAIDS}_never").value
    return page.number_input(key=f"answer_{BRAIDS}").value, pressed or []


def answer(page: AppTest) -> float | None:
    return page.session_state["draft"].answers.get(BRAIDS)


def test_never_is_a_word_on_the_screen_and_no_figure(care: AppTest) -> None:
    assert not care.exception
    assert shown(care) == (None, "never")
    assert care.number_input(key=f"answer_{BRAIDS}").placeholder == "never"
    assert all(number.value not in (999.0, 9999.0) for number in care.number_input)


def test_a_number_takes_the_place_of_never_and_never_that_of_a_number(care: AppTest) -> None:
    page = care.number_input(key=f"answer_{BRAIDS}").set_value(3.0).run()
    assert (answer(page), shown(page)) == (3.0, (3.0, []))
    page = page.button_group(key=f"answer_{BRAIDS}_never").set_value("never").run()
    assert (answer(page), shown(page)) == (9999.0, (None, "never"))
    page = page.button_group(key=f"answer_{BRAIDS}_never").set_value(None).run()
    assert (answer(page), shown(page)) == (None, (None, []))


def test_the_days_of_a_clear_patch_test_stand_on_the_screen_once(care: AppTest) -> None:
    about_days = [number.label for number in care.number_input if "accept" in number.label]
    assert len(about_days) == 1


def test_each_case_of_first_aid_ends_before_what_to_do_begins(care: AppTest) -> None:
    told = next(each.value for each in care.markdown if "stings or tingles" in each.value)
    titles = re.findall("<b>(.*?)</b>", told)
    assert len(titles) > 3
    assert all(title.endswith(".") for title in titles)
