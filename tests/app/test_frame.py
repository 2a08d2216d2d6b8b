"""The frame: the visit and the areas beside it, always in view, and who may see which screen."""

import pytest
from streamlit.testing.v1 import AppTest

from estimator.access.roles import Person, Role
from estimator.pages import person

SCRIPT = """
import streamlit as st
from estimator.pages.frame import Area, Step, run
run("Title", (Step("First", "first", lambda: st.title("First")), Step("Second", "second", lambda: st.title("Second"))),
    (Area("Clients", "clients", lambda: st.title("Clients")), Area("From a client", "sent", lambda: st.title("Sent"))))
"""


@pytest.fixture(autouse=True)
def _salon(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))


def page(script: str = SCRIPT) -> AppTest:
    opened = AppTest.from_string(script, default_timeout=30).run()
    assert not opened.exception
    return opened


def words(shown: AppTest) -> str:
    return " ".join(element.value for element in shown.markdown)


def links(shown: AppTest) -> list[str]:
    return [link.proto.label for link in shown.get("page_link")]


@pytest.mark.slow
def test_the_ways_to_the_visit_and_to_every_area_stand_before_the_steps() -> None:
    assert links(page()) == ["Visit", "Clients", "From a client", "**1** First", "**2** Second"]


@pytest.mark.slow
def test_a_viewer_sees_the_areas_and_no_step(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(person, "who", lambda: Person("v", "V.", Role.VIEWER))
    shown = page()
    assert shown.title[0].value == "Clients"
    assert links(shown) == ["Clients", "From a client"]


def test_a_viewer_who_opens_a_step_by_its_address_gets_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(person, "who", lambda: Person("v", "V.", Role.VIEWER))
    shown = page(SCRIPT.split("\n    (Area")[0] + "\n    ())")  # no area: the address of a step is all there is
    assert not shown.title
    assert words(shown).count("A viewer may not read photographs, plan, keep visits") == 1


@pytest.mark.slow
@pytest.mark.parametrize("role", [Role.COLOURIST, Role.OWNER])
def test_who_works_here_sees_the_step(role: Role, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(person, "who", lambda: Person("c", "C.", role))
    assert page().title[0].value == "First"
