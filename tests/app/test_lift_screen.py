"""The lift on the page, without a browser: the clock survives, two pages agree, a stop hides the mix."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from estimator.lifting.clock_store import ClockStore

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
PAGE = """
import streamlit as st
from estimator.pages import clock, kept_readings, lift
from estimator.pages.draft import Draft, Shot, Wish
from estimator.visit_file import load_visit_file
from pathlib import Path

if "draft" not in st.session_state:
    samples = Path("sample_images")
    photo = (samples / "head.jpg").read_bytes()
    shot = kept_readings.with_zones_from_file(Shot(photo, kept_readings.hash_of(photo)), samples / "head_zones.json")
    facts = {**load_visit_file(samples / "visit.toml").facts, **ADDED}
    wishes = {"crown_regrowth": Wish(8.0, "beige", 4.0), "fringe": Wish(10.0, "pearl")}
    st.session_state["draft"] = Draft(client="M-7", before=shot, answers=facts, wishes=wishes, lightens=True, own=OWN)
st.session_state["pages"] = {"after": None}
clock.bar()
lift.show()
"""
ADDED = {
    "lightener_reaction_before": "none", "asthma": False, "strand_test": "passed", "strand_test_days_ago": 2,
    "perm_weeks_ago": 999, "dark_dye_layers": 0, "lightened_weeks_ago": 999, "lightened_times_12_months": 0,
    "iron_days_per_week": 1, "iron_celsius": 160, "curl_pattern": "wavy", "strand_diameter": "medium",
    "density": "medium", "curl_elongation_percent": 0, "visits_budget": 3,
}  # fmt: skip


@pytest.fixture
def store(tmp_path, monkeypatch) -> ClockStore:
    """The salon's clock, in a folder of its own."""
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path))
    monkeypatch.chdir(ROOT)
    return ClockStore(tmp_path / "clock.json")


def opened(own: dict[str, dict[str, object]] | None = None, **added: object) -> AppTest:
    text = f"ADDED = {ADDED | added!r}\nOWN = {own or {}!r}\n{PAGE}"
    page = AppTest.from_string(text, default_timeout=60).run()
    assert not page.exception
    return page


def words(page: AppTest) -> str:
    assert not page.exception
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text))


def keys(page: AppTest) -> set[str]:
    return {button.key for button in page.button}


def later(store: ClockStore, minutes: float) -> None:
    """As if everything on the clock had happened so many minutes earlier."""
    record = json.loads(store.path.read_text(encoding="utf-8"))
    for event in record["events"]:
        event["at"]["uptime_seconds"] -= 60 * minutes
    store.path.write_text(json.dumps(record), encoding="utf-8")


def test_the_plan_shows_grams_cautions_and_order_and_a_start_for_each_zone(store):
    page = opened()
    shown = words(page)
    assert "Lightener powder" in shown
    assert "licensed practice" in shown
    assert "minutes at most" in shown
    assert {"start_crown_regrowth"} <= keys(page)


def test_a_stop_of_one_zone_hides_its_mix_and_its_start(store):
    page = opened(own={"crown_regrowth": {"breakage": "widespread"}})
    assert "start_crown_regrowth" not in keys(page)
    assert "crown regrowth: Hair is broken" in words(page)
    assert "start_fringe" in keys(page)


def test_a_stop_of_the_person_hides_every_gram_and_every_start_and_not_first_aid(store):
    page = opened(scalp_state="broken")
    shown = words(page)
    assert "Lightener powder" not in shown
    assert "minutes at most" not in shown
    assert not [key for key in keys(page) if key.startswith("start_")]
    assert any(box.label == "First aid" for box in page.expander)


def test_the_clock_is_on_disk_at_once_and_a_page_opened_anew_goes_on_counting(store):
    page = opened()
    page.session_state["draft_name"] = "d" * 32
    page.button(key="start_crown_regrowth").click().run()
    assert store.load().is_running("crown_regrowth")
    assert store.load().events[0].visit == "d" * 32  # so that the visit takes its events over when it is kept
    later(store, 12)
    assert 'role="timer">12:0' in words(opened())  # a new session: nothing of the first page is left


def test_a_double_press_and_two_open_pages_start_one_clock(store):
    one, other = opened(), opened()
    one.button(key="start_crown_regrowth").click().run()
    other.button(key="start_crown_regrowth").click().run()
    assert len(store.load().events) == 1
    assert "runs already" not in words(other)  # the press that came second counts as the first one
    assert "meanwhile" not in words(other)


def test_a_page_with_an_old_view_is_told_what_the_other_did(store):
    opened().button(key="start_crown_regrowth").click().run()
    one, other = opened(), opened()
    one.button(key="rinse_crown_regrowth").click().run()
    other.number_input(key="limit_most_crown_regrowth").set_value(20)  # typed into the old view
    other.button(key="limit_crown_regrowth").click().run()
    assert "was rinsed meanwhile" in words(other)
    assert [event.kind for event in store.load().events] == ["start", "rinse"]


def test_a_passed_maximum_stands_until_a_name_answers_it_and_comes_back(store):
    opened().button(key="start_crown_regrowth").click().run()
    later(store, 51)
    page = opened()
    assert 'role="alert"' in words(page)
    page.button(key="heard_crown_regrowth").click().run()
    assert "who has heard" in words(page)  # no name, no quiet
    page.text_input(key="heard_who_crown_regrowth").set_value("A").run()
    page.button(key="heard_crown_regrowth").click().run()
    assert 'role="alert"' not in words(page)
    assert "maximum of 50 minutes" in words(page)  # the call to rinse stands on
    later(store, 3)
    assert 'role="alert"' in words(opened())
    page = opened()
    page.button(key="rinse_now_crown_regrowth").click().run()
    assert 'role="alert"' not in words(page)
    assert "past the maximum" in words(page)  # and the record keeps by how much


def test_a_look_is_written_down_and_draws_the_curve_anew(store):
    opened().button(key="start_crown_regrowth").click().run()
    page = opened()
    page.number_input(key="level_crown_regrowth_0").set_value(5.0)
    page.button(key="send_look_crown_regrowth").click().run()
    assert store.load().events[-1].level == 5.0
    assert "last seen level 5" in words(opened())


def test_a_photo_at_a_look_is_read_and_kept_as_what_it_read(store):
    opened().button(key="start_crown_regrowth").click().run()
    page = opened()
    photo = (ROOT / "sample_images" / "strands_after.jpg").read_bytes()
    page.file_uploader(key="photo_crown_regrowth_0").set_value(("look.jpg", photo, "image/jpeg"))
    page.button(key="send_look_crown_regrowth").click().run()
    look = store.load().events[-1]
    assert look.seen is not None
    assert look.level == pytest.approx(8, abs=2)  # toned strands of levels 7 to 10
    assert "1 photo" in words(opened()) or "one look at it" in words(opened())


def test_a_photo_that_cannot_be_read_is_refused_and_burning_is_in_the_record_all_the_same(store):
    opened().button(key="start_crown_regrowth").click().run()
    page = opened()
    page.button_group(key="skin_crown_regrowth_0").set_value("burns")
    page.file_uploader(key="photo_crown_regrowth_0").set_value(("look.jpg", b"no picture", "image/jpeg"))
    page = page.button(key="send_look_crown_regrowth").click().run()
    assert 'class="told retake"' in words(page)
    assert "The clock" in [header.value for header in page.header]  # the screen stands
    assert store.load().events[-1].skin == "burns"


def test_burning_at_a_look_calls_the_rinse_large(store):
    opened().button(key="start_crown_regrowth").click().run()
    page = opened()
    page.button_group(key="skin_crown_regrowth_0").set_value("burns")
    page.button(key="send_look_crown_regrowth").click().run()
    assert "Rinse now" in words(opened())


def test_a_finished_clock_is_put_away(store):
    opened().button(key="start_crown_regrowth").click().run()
    opened().button(key="rinse_crown_regrowth").click().run()
    opened().button(key="put_away").click().run()
    assert not store.path.exists()
    assert len(list(store.path.parent.glob("clock-*.json"))) == 1


def test_a_damaged_clock_is_told_in_a_sentence_and_left_alone(store):
    store.path.write_text("{", encoding="utf-8")
    page = AppTest.from_string(f"ADDED = {ADDED!r}\nOWN = {{}}\n{PAGE}", default_timeout=60).run()
    assert "count by a watch" in " ".join(element.value for element in page.markdown)
    assert store.path.read_text(encoding="utf-8") == "{"


def test_a_strand_seen_by_eye_draws_its_curve_and_can_be_taken_back(store):
    page = opened()
    for minute, level in ((0.0, 4.0), (10.0, 5.0)):
        turn = page.session_state["strand_turn_crown_regrowth"]
        page.number_input(key=f"strand_minute_crown_regrowth_{turn}").set_value(minute)
        page.number_input(key=f"strand_level_crown_regrowth_{turn}").set_value(level)
        page = page.button(key="add_strand_crown_regrowth").click().run()
    assert "2 by eye" in words(page)
    page = page.button(key="drop_strand_crown_regrowth").click().run()
    assert "2 by eye" not in words(page)


def test_the_lift_sheet_is_made_and_offered(store):
    page = opened().button(key="make_lift_sheet").click().run()
    assert not page.exception
    assert page.session_state["lift_sheet"][1].pdf.startswith(b"%PDF")
    assert replace(page.session_state["lift_sheet"][1], pdf=b"").html.startswith("<!DOCTYPE html>")
