"""The screens without a browser: what they show, what they refuse, and what they keep."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from calibration.cards.measured_card import card_text
from tests.calibration.test_printed_pipeline import WITH_HAIR, by_instrument
from tests.synthetic.printed_scene import photograph_print

SAMPLES = Path(__file__).parents[2] / "sample_images"
Forward = Callable[[AppTest, int], AppTest]


def title(page: AppTest) -> str:
    assert not page.exception
    return page.title[0].value


def words(page: AppTest) -> str:
    """Everything that is written on the screen."""
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text))


def upload(page: AppTest, name: str, content: bytes) -> AppTest:
    return page.file_uploader(key="before_photo_0").set_value((name, content, "image/jpeg")).run()


@pytest.mark.slow
def test_the_first_screen_asks_for_a_photograph_and_says_what_comes_next(screens: AppTest) -> None:
    assert title(screens) == "Photograph"
    assert "Step 1 of 7" in words(screens)
    assert "Next: zones, once there is a photograph." in words(screens)


def test_the_whole_demo_visit_can_be_walked_and_says_demo_on_every_screen(demo: AppTest, forward: Forward) -> None:
    assert title(demo) == "Photograph"
    page = demo
    for expected in ("Zones", "Readings", "Care", "Targets", "Plan", "After"):
        assert "DEMO" in words(page)
        page = forward(page, 1)
        assert title(page) == expected
    assert "DEMO" in words(page)


@pytest.mark.slow
def test_every_reading_stands_with_its_interval_and_with_what_it_rests_on(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 2)
    shown = words(page)
    for zone in ("fringe", "crown", "nape", "back"):
        assert f"<h2>{zone}</h2>" in shown
    assert shown.count('class="figure"') == 4
    assert "Warmth left:" in shown
    assert " to " in shown
    assert sum("Why this figure?" in box.label for box in page.expander) == 4


@pytest.mark.slow
def test_second_photograph_turned_under_the_lamp_is_read_together_with_the_first(
    screens: AppTest, forward: Forward
) -> None:
    page = forward(upload(screens, "head.jpg", (SAMPLES / "head.jpg").read_bytes()), 1)
    zones = [(f"head_zones.{end}", (SAMPLES / f"head_zones.{end}").read_bytes(), kind)
             for end, kind in (("json", "application/json"), ("png", "image/png"))]  # fmt: skip
    page = page.file_uploader(key="before_zone_file_0").set_value(zones).run()
    page = forward(page.button(key="before_use_file").click().run(), 1)
    alone = words(page)
    photo = ("turned.jpg", (SAMPLES / "head_turned.jpg").read_bytes(), "image/jpeg")
    page = page.file_uploader(key="turned_photo_1").set_value(photo).run()
    page = page.button(key="outlines_for_turned").click().run()
    assert "2 photos together" in words(page)
    assert "2 photos together" not in alone
    page = page.button(key="turned_out").click().run()
    assert "2 photos together" not in words(page)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("letter.jpg", b"Dear client, this is no photograph. " * 40),
        ("empty.jpg", b""),
        ("leaflet.jpg", b"%PDF-1.7\n" + b"0" * 400),
        ("cut.jpg", (SAMPLES / "strands_before.jpg").read_bytes()[:90_000]),
    ],
)
def test_what_is_no_whole_photograph_is_refused_in_a_sentence_and_nothing_is_kept(
    screens: AppTest, name: str, content: bytes
) -> None:
    page = upload(screens, name, content)
    assert title(page) == "Photograph"
    assert 'class="told retake"' in words(page)
    assert "Traceback" not in words(page)
    assert "once there is a photograph" in words(page)


@pytest.mark.slow
def test_a_shaken_photograph_is_shown_with_what_to_do_about_it(screens: AppTest) -> None:
    page = upload(screens, "strands_blurred.jpg", (SAMPLES / "strands_blurred.jpg").read_bytes())
    assert title(page) == "Photograph"
    assert "Take the photograph again" in words(page)
    assert 'class="how"' in words(page)


@pytest.mark.slow
def test_an_ordinary_photograph_leads_on_to_the_zones(screens: AppTest, forward: Forward) -> None:
    page = upload(screens, "photo.jpg", (SAMPLES / "strands_before.jpg").read_bytes())
    assert "DEMO" not in words(page)
    page = forward(page, 1)
    assert title(page) == "Zones"
    assert "Next: readings, once a zone is outlined." in words(page)


@pytest.mark.slow
def test_hair_said_to_be_wet_is_not_read(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 1)
    page = next(group for group in page.button_group if group.label == "The hair was").set_value(True).run()
    page = forward(page, 1)
    assert "The hair is wet" in words(page)
    assert 'class="reading"' not in words(page)


def test_a_stop_is_shown_before_anything_else_and_hides_the_formula(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 3)
    page = page.number_input(key="answer_age_years").set_value(15.0).run()
    assert 'class="told stop"' in page.markdown[1].value  # the first thing below the bar
    page = forward(page, 2)
    assert title(page) == "Plan"
    assert 'class="told stop"' in words(page)
    assert 'class="bowl"' not in words(page)
    assert any(box.label == "First aid" for box in page.expander)


@pytest.mark.slow
def test_a_doctor_s_word_turns_test_first_into_a_caution_and_stays_in_sight(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 3)
    page = set_answer(page, "skin_condition", "eczema")
    assert 'class="told test"' in words(page)
    page.text_input(key="who_ask-a-doctor").set_value("The client's doctor")
    page.text_area(key="what_ask-a-doctor").set_value("Toning off the scalp is fine.")
    page = page.button(key="send_ask-a-doctor").click().run()
    assert 'class="told test"' not in words(page)
    assert "The client's doctor" in " ".join(element.value for element in page.text)
    page = page.button(key="take_back_ask-a-doctor").click().run()
    assert 'class="told test"' in words(page)


@pytest.mark.slow
def test_an_answer_without_a_name_is_refused_in_a_sentence(demo: AppTest, forward: Forward) -> None:
    page = set_answer(forward(demo, 3), "skin_condition", "eczema")
    page = page.button(key="send_ask-a-doctor").click().run()
    assert "needs a name" in words(page)
    assert 'class="told test"' in words(page)


def set_answer(page: AppTest, fact: str, value: str) -> AppTest:
    """The page after one answer of several words was chosen."""
    return page.button_group(key=f"answer_{fact}").set_value(value).run()


@pytest.mark.slow
def test_the_plan_weighs_grams_and_says_the_cautions_beside_them(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 5)
    assert title(page) == "Plan"
    bowl = next(element.value for element in page.markdown if 'class="bowl"' in element.value)
    assert " g</td>" in bowl
    assert "<td>Developer 6 volume (1.8 %)</td>" in bowl  # each label of a table begins with a capital
    shown = words(page)
    for caution in ("Gloves", "Eyes", "Fresh air", "Patch test"):
        assert caution in shown
    assert "not for use on anybody" in shown  # the shelf is invented


SHELF = b"""name,family,depth_level,kind,lab_l,lab_a,lab_b
Evening violet,violet,9,demi-permanent acidic,60,14,-20
Wheat,beige,9,demi-permanent acidic,72,4,14
"""


@pytest.mark.slow
def test_the_salon_s_own_shelf_is_planned_from(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 4)
    page = page.file_uploader(key="shelf_file_0").set_value(("shelf.csv", SHELF, "text/csv")).run()
    page = page.button(key="use_shelf").click().run()
    page = forward(page, 1)
    assert title(page) == "Plan"
    bowls = " ".join(element.value for element in page.markdown if 'class="bowl"' in element.value)
    assert "Evening violet" in bowls or "Wheat" in bowls
    assert "not for use on anybody" not in words(page)


@pytest.mark.slow
@pytest.mark.parametrize("spoilt", [SHELF.replace(b"60,", b"nan,"), b"\xff\xfe\x00", b""])
def test_a_shelf_that_can_t_be_used_is_refused_and_the_old_one_stays(
    demo: AppTest, forward: Forward, spoilt: bytes
) -> None:
    page = forward(demo, 4)
    page = page.file_uploader(key="shelf_file_0").set_value(("shelf.csv", spoilt, "text/csv")).run()
    page = page.button(key="use_shelf").click().run()
    assert "invented shades" in " ".join(expander.label for expander in page.expander)
    assert not page.exception
    assert title(forward(page, 1)) == "Plan"


@pytest.mark.slow
def test_a_changed_target_puts_the_old_plan_away(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 5)
    page = page.button(key="retarget").click().run()
    assert title(page) == "Targets"
    page = page.number_input(key="level_fringe").set_value(8.0).run()
    assert title(page) == "Targets"
    assert title(forward(page, 1)) == "Plan"


@pytest.mark.slow
def test_what_was_entered_is_still_there_when_one_comes_back(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 3)
    page = page.number_input(key="answer_age_years").set_value(41.0).run()
    page = forward(page, 1)
    assert title(page) == "Targets"
    assert page.session_state["draft"].answers["age_years"] == 41.0
    assert page.session_state["draft"].client == "Marigold"
    assert len(page.session_state["draft"].before.zones) == 4


@pytest.mark.slow
def test_the_client_s_field_shows_whom_the_bar_names(demo: AppTest) -> None:
    field = demo.text_input(key="client_name")
    assert field.value == "Marigold"
    page = field.set_value("M. D.").run()
    assert page.text_input(key="client_name").value == "M. D."
    assert '<span class="client">M. D.</span>' in words(page)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["<b>Ann</b>", "![x](http://example.org/a.png)", "<script>alert(1)</script>"])
def test_a_client_s_name_is_written_as_it_is_and_does_nothing(screens: AppTest, name: str) -> None:
    page = screens.text_input(key="client_name").set_value(name).run()
    bar = page.markdown[0].value
    assert "<b>Ann" not in bar
    assert "<script" not in bar
    assert page.session_state["draft"].client == name


@pytest.mark.slow
def test_an_after_photograph_shows_what_changed_in_each_zone(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 6)
    assert title(page) == "After"
    page = page.button(key="demo_after").click().run()
    assert not page.exception
    assert words(page).count("ΔE") >= 4


@pytest.mark.slow
def test_outlines_from_before_are_offered_for_the_photograph_after(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 6)
    photo = (SAMPLES / "strands_after.jpg").read_bytes()
    page = page.file_uploader(key="after_photo_0").set_value(("after.jpg", photo, "image/jpeg")).run()
    page = page.button(key="outlines_from_before").click().run()
    assert not page.exception
    assert [zone.name for zone in page.session_state["draft"].after.zones] == ["fringe", "crown", "nape", "back"]


@pytest.mark.slow
def test_the_report_is_made_and_both_files_can_be_taken_away(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 6)
    page = page.button(key="demo_after").click().run()
    page = forward(page, 1)
    assert not page.exception
    _, report = page.session_state["report"]
    assert report.pdf.startswith(b"%PDF")
    assert "<html" in report.html


# --- zones by other ways than drawing ---


def zones_of(page: AppTest) -> list[str]:
    return [zone.name for zone in page.session_state["draft"].before.zones]


@pytest.mark.slow
def test_the_whole_hair_is_proposed_as_a_zone_and_says_so_in_its_reading(screens: AppTest, forward: Forward) -> None:
    page = upload(screens, "head.jpg", (SAMPLES / "head.jpg").read_bytes())
    page = forward(page, 1).button(key="before_propose").click().run()
    assert zones_of(page) == ["hair"]
    assert "proposed outline" in words(forward(page, 1))


@pytest.mark.slow
@pytest.mark.parametrize("files", [["strands_zones.json", "strands_zones.png"]])
def test_zones_can_come_from_a_file(screens: AppTest, forward: Forward, files: list[str]) -> None:
    page = forward(upload(screens, "photo.jpg", (SAMPLES / "strands_before.jpg").read_bytes()), 1)
    given = [(name, (SAMPLES / name).read_bytes(), "application/octet-stream") for name in files]
    page = page.file_uploader(key="before_zone_file_0").set_value(given).run()
    page = page.button(key="before_use_file").click().run()
    assert not page.exception
    assert zones_of(page) == ["fringe", "crown", "nape", "back"]
    assert page.session_state["draft"].before.setting == "board"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "content"),
    [("zones.json", b"{not json"), ("zones.json", b'{"setting": "head", "zones": {}}'), ("zones.png", b"\x89PNG")],
)
def test_a_zones_file_that_can_t_be_used_is_refused_in_a_sentence(
    screens: AppTest, forward: Forward, name: str, content: bytes
) -> None:
    page = forward(upload(screens, "photo.jpg", (SAMPLES / "strands_before.jpg").read_bytes()), 1)
    page = page.file_uploader(key="before_zone_file_0").set_value([(name, content, "application/octet-stream")]).run()
    page = page.button(key="before_use_file").click().run()
    assert title(page) == "Zones"
    assert "Not possible" in words(page)
    assert zones_of(page) == []


@pytest.mark.slow
def test_undo_gives_a_deleted_zone_back(demo: AppTest, forward: Forward) -> None:
    page = forward(demo, 1).button(key="before_delete").click().run()
    assert zones_of(page) == ["crown", "nape", "back"]
    page = page.button(key="before_undo").click().run()
    assert zones_of(page) == ["fringe", "crown", "nape", "back"]


@pytest.mark.slow
def test_another_photograph_takes_the_outlines_over(demo: AppTest) -> None:
    page = demo.button(key="before_again").click().run()
    photo = (SAMPLES / "strands_after.jpg").read_bytes()
    page = page.file_uploader(key="before_photo_0").set_value(("again.jpg", photo, "image/jpeg")).run()
    assert title(page) == "Photograph"
    assert zones_of(page) == ["fringe", "crown", "nape", "back"]


@pytest.mark.slow
def test_a_neutral_thing_pointed_at_makes_a_photograph_without_a_card_readable_with_care(screens: AppTest) -> None:
    page = upload(screens, "plain.png", photo_without_a_card())
    assert "No card was found. Point at a neutral thing" in words(page)
    assert "once this photograph can be read" in words(page)
    visit = page.session_state["draft"]
    page.session_state["draft"] = replace(visit, before=replace(visit.before, neutral=(560.0, 90.0, 20.0)))
    page = page.run()
    assert not page.exception
    assert "Usable with care" in words(page)


def photo_without_a_card() -> bytes:
    """A brown field with a white towel in the corner, with the grain of a real photograph."""
    grain = np.random.default_rng(7).normal(0, 5, (480, 640, 3))
    pixels = np.full((480, 640, 3), (70, 90, 120), dtype=np.float64)
    pixels[40:140, 500:620] = 215
    return cv2.imencode(".png", np.clip(pixels + grain, 0, 255).astype(np.uint8))[1].tobytes()


@pytest.mark.slow
def test_a_printed_card_that_was_measured_corrects_the_photograph_and_another_file_is_refused(screens: AppTest) -> None:
    shown, measured = photograph_print(WITH_HAIR).png(), card_text(by_instrument()).encode()
    page = screens.file_uploader(key="print_file_0").set_value(("card.toml", b"no card", "text/plain")).run()
    page = page.button(key="use_print").click().run()
    assert "TOML" in words(page)
    assert "Printed card: none" in [box.label for box in page.expander]
    page = page.file_uploader(key="print_file_0").set_value(("card.toml", measured, "text/plain")).run()
    page = page.button(key="use_print").click().run()
    assert "Printed card: measured" in [box.label for box in page.expander]
    page = upload(page, "print.png", shown)
    assert not page.exception
    assert "Colour error" in words(page)
