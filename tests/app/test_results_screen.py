"""The screen after: what to do where a result missed, and learning that can be taken back."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

pytestmark = pytest.mark.slow

Forward = Callable[[AppTest, int], AppTest]


def words(page: AppTest) -> str:
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text, *page.header))


def titled(page: AppTest, name: str) -> AppTest:
    """The page, walked on until the screen of this title."""
    for _ in range(9):
        if page.title[0].value == name:
            return page
        page = page.button(key="main_action").click().run()
    raise AssertionError(f"no screen is called {name}")


def to_learn(page: AppTest) -> str:
    """The button that learns; where zones are far off, the one that says that they are right."""
    keys = {button.key for button in page.button}
    return "learn_all" if "learn_all" in keys else "learn"


@pytest.fixture
def after(demo: AppTest) -> AppTest:
    page = titled(demo, "Targets")
    page = page.button(key="main_action").click().run()
    page = titled(page, "After")
    return page.button(key="demo_after").click().run()


def test_a_missed_result_is_told_with_first_aid_and_a_second_bowl_behind_a_drawer(after: AppTest) -> None:
    shown = words(after)
    assert "It missed: what now" in shown
    assert "Rinse with lukewarm water" in shown
    assert shown.index("Rinse with lukewarm water") < shown.index('class="bowl"')
    assert any(box.label.startswith("The second bowl") for box in after.expander)


def test_a_result_is_learned_from_and_taken_back(after: AppTest) -> None:
    assert any(header.value == "Learn from this result" for header in after.header)
    after = after.button(key=to_learn(after)).click().run()
    assert not after.exception
    assert "Learned from" in words(after)
    assert "with this demo alone" in words(after)
    assert any(box.label.startswith("What was learned so far") for box in after.expander)
    after = after.button(key="unlearn").click().run()
    assert "Learned from" not in words(after)
    assert after.button(key=to_learn(after))


def test_a_stop_withholds_every_second_mix(demo: AppTest) -> None:
    page = titled(demo, "Care")
    page = page.number_input(key="answer_age_years").set_value(15.0).run()
    page = titled(page, "Targets" if "Targets" in page.title[0].value else "Plan")
    page = titled(page, "After")
    page = page.button(key="demo_after").click().run()
    shown = words(page)
    assert 'class="bowl"' not in shown
    assert "Tone once more" not in shown
    assert "Not today" in shown
    assert not any(header.value == "Learn from this result" for header in page.header)


def test_a_real_visit_teaches_the_journal_in_the_salon_s_folder(
    after: AppTest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path))
    after.session_state["draft"] = replace(after.session_state["draft"], demo=False)
    page = after.run()
    page = page.button(key=to_learn(page)).click().run()
    journal = tmp_path / "outcomes.jsonl"
    assert str(journal) in words(page)
    assert len(journal.read_text("utf-8").splitlines()) > 1
    page.button(key="unlearn").click().run()
    assert len(journal.read_text("utf-8").splitlines()) == 1


def test_a_damaged_journal_is_told_in_a_sentence(
    after: AppTest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path))
    (tmp_path / "outcomes.jsonl").write_text("a letter", "utf-8")
    after.session_state["draft"] = replace(after.session_state["draft"], demo=False)
    page = after.run()
    assert not page.exception
    assert "no journal of outcomes" in words(page)
