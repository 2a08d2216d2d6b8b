"""What a client wished for before coming: shown beside each target, and no target until it is confirmed."""

from dataclasses import replace

import pytest
from streamlit.testing.v1 import AppTest

from estimator.pages.draft import Wish
from estimator.pages.draft_json import as_json, from_json
from tests.app.test_screens import Forward

pytestmark = pytest.mark.slow

CONFIRM = "confirm_wished_fringe"


@pytest.fixture
def targets(demo: AppTest, forward: Forward) -> AppTest:
    return forward(demo, 4)


def wished(page: AppTest, level: float | None, tone: str) -> AppTest:
    page.session_state["draft"] = replace(page.session_state["draft"], wishes={}, wished_level=level, wished_tone=tone)
    return page.run()


def words(page: AppTest) -> str:
    assert not page.exception
    return " ".join(element.value for element in page.markdown)


def labels(page: AppTest) -> dict[str, str]:
    return {button.key: button.label for button in page.button}


def test_what_was_wished_is_shown_and_is_a_target_only_once_it_is_confirmed(targets: AppTest) -> None:
    page = wished(targets, 9.0, "beige")
    assert labels(page)[CONFIRM] == "The client wished level 9, beige: confirm"
    assert page.session_state["draft"].wishes == {}
    assert "Choose a tone for one zone" in words(page)
    page = page.button(key=CONFIRM).click().run()
    assert page.session_state["draft"].wishes == {"fringe": Wish(9.0, "beige")}
    assert page.number_input(key="level_fringe").value == 9.0
    assert page.button_group(key="tone_fringe").value == "beige"
    assert CONFIRM not in labels(page)


def test_another_zone_still_waits(targets: AppTest) -> None:
    page = wished(targets, 9.0, "beige").button(key=CONFIRM).click().run()
    page = page.button_group(key="target_zone").set_value("back").run()
    assert "confirm_wished_back" in labels(page)
    assert list(page.session_state["draft"].wishes) == ["fringe"]


@pytest.mark.parametrize(
    ("level", "tone", "told"), [(9.0, "", "The client wished level 9."), (None, "beige", "The client wished beige.")]
)
def test_half_a_wish_is_told_and_not_made_whole(targets: AppTest, level: float | None, tone: str, told: str) -> None:
    page = wished(targets, level, tone)
    assert told in words(page)
    assert CONFIRM not in labels(page)


def test_nothing_is_told_where_nothing_was_wished(targets: AppTest) -> None:
    page = wished(targets, None, "")
    assert "The client wished" not in words(page) + "".join(labels(page).values())


def test_what_was_wished_survives_a_reload(targets: AppTest) -> None:
    visit = wished(targets, 9.0, "beige").session_state["draft"]
    kept = as_json(visit)
    found = from_json(kept.content, {name: read() for name, read in kept.photos.items()})
    assert (found.wished_level, found.wished_tone) == (9.0, "beige")
