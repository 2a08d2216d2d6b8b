"""The shelf on the screen of targets: shades told in words, changed, taken out, and measured off a swatch."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from estimator.pages.draft import Draft, Shot
from estimator.pages.draft_json import as_json, from_json
from estimator.pages.kept_readings import hash_of

pytestmark = pytest.mark.slow

Forward = Callable[[AppTest, int], AppTest]
SAMPLES = Path(__file__).parents[2] / "sample_images"
HOSTILE = "![A](http://example.org/a.png)<b>=1+1</b>"


def words(page: AppTest) -> str:
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text))


def rows(page: AppTest) -> list[dict[str, str]]:
    """The shelf of the visit in hand as its CSV holds it, the bare white hair left out."""
    text = page.session_state["draft"].shelf_csv
    return [row for row in csv.DictReader(io.StringIO(text)) if row["name"] != "white"]


@pytest.fixture
def targets(demo: AppTest, forward: Forward) -> AppTest:
    return forward(demo, 4)


def told(page: AppTest, name: str, family: str = "violet", level: float = 9.0) -> AppTest:
    """A shade told in the form that is open, and sent."""
    mark = next(box.key for box in page.text_input if box.key.startswith("shade_name_")).removeprefix("shade_name_")
    page.text_input(key=f"shade_name_{mark}").set_value(name)
    page.selectbox(key=f"shade_family_{mark}").set_value(family)
    page.number_input(key=f"shade_level_{mark}").set_value(level)
    page.button_group(key=f"shade_kind_{mark}").set_value("demi-permanent acidic")
    page.number_input(key=f"shade_grams_{mark}").set_value(60.0)
    return page.button(key=f"shade_send_{mark}").click().run()


def choose(page: AppTest, name: str) -> AppTest:
    box = next(box for box in page.selectbox if box.label == "Shade")
    return box.set_value(name).run()


def test_a_shade_is_added_in_words_changed_and_taken_out_and_each_can_be_undone(targets: AppTest) -> None:
    page = told(targets, "  Evening   violet ")
    assert [row["name"] for row in rows(page)] == ["Evening violet"]  # the demo shades are gone
    assert (rows(page)[0]["family"], rows(page)[0]["depth_level"], rows(page)[0]["tube_grams"]) == ("violet", "9", "60")
    assert rows(page)[0]["known_by"] == "description"
    page = told(page, "Dune", "beige", 8.0)
    assert [row["name"] for row in rows(page)] == ["Evening violet", "Dune"]
    page = told(choose(page, "Evening violet"), "Evening violet", "pearl", 10.0)
    assert [(row["name"], row["family"]) for row in rows(page)] == [("Evening violet", "pearl"), ("Dune", "beige")]
    page = choose(page, "Evening violet").button(key="shade_out").click().run()
    assert [row["name"] for row in rows(page)] == ["Dune"]
    page = page.button(key="shelf_undo").click().run()
    assert [row["name"] for row in rows(page)] == ["Evening violet", "Dune"]
    assert not page.exception


def test_a_plan_is_made_from_shades_told_in_words(targets: AppTest, forward: Forward) -> None:
    page = forward(told(told(targets, "Evening violet"), HOSTILE, "ash", 9.0), 1)
    assert page.title[0].value == "Plan"
    assert "DEMO shelf" not in words(page)
    assert "<b>=1" not in words(page)
    assert "http://example.org/a.png)<" not in words(page)


@pytest.mark.parametrize(
    ("name", "sentence"), [("", "needs a name"), ("white", "another name"), ("EVENING violet", "already")]
)
def test_a_name_that_can_not_be_is_told_and_nothing_is_lost(targets: AppTest, name: str, sentence: str) -> None:
    page = told(targets, "Evening violet")
    before = page.session_state["draft"].shelf_csv
    page = told(page, name)
    assert sentence in words(page)
    assert page.session_state["draft"].shelf_csv == before


def test_a_shade_without_a_tone_is_asked_for_it(targets: AppTest) -> None:
    page = targets.text_input(key="shade_name_0_new").set_value("Evening violet").run()
    page = page.button(key="shade_send_0_new").click().run()
    assert "needs a tone, a level and a kind" in words(page)
    assert page.session_state["draft"].shelf_csv == ""


def test_the_last_shade_stays(targets: AppTest) -> None:
    page = choose(told(targets, "Evening violet"), "Evening violet").button(key="shade_out").click().run()
    assert "It is the last shade on the shelf" in words(page)
    assert len(rows(page)) == 1


def pointed(page: AppTest, spot: tuple[float, float, float]) -> AppTest:
    """The photograph of strands as a photograph of swatches, pointed at."""
    photo = (SAMPLES / "strands_before.jpg").read_bytes()
    visit: Draft = page.session_state["draft"]
    page.session_state["draft"] = replace(visit, swatch=Shot(photo, hash_of(photo)), swatch_spot=spot)
    return page.run()


def middle_of(zone: int) -> tuple[float, float, float]:
    """A spot in the middle of a strand of the sample photograph, off its label picture. [px]"""
    import cv2
    import numpy as np

    labels = cv2.imread(str(SAMPLES / "strands_zones.png"), cv2.IMREAD_UNCHANGED)
    assert labels is not None
    away = cv2.distanceTransform((labels == zone).astype(np.uint8), cv2.DIST_L2, 5)
    y, x = np.unravel_index(int(away.argmax()), away.shape)
    return float(x), float(y), float(away.max()) * 0.9


def test_a_swatch_gives_its_colour_to_a_shade_and_a_change_in_words_keeps_it(targets: AppTest) -> None:
    """The fringe of the sample reads L* 67.95, a* 5.08, b* 32.49 in an instrument: sample_images/truth.csv."""
    page = pointed(told(targets, "Evening violet"), middle_of(1))
    assert r"Read there: L\*" in words(page)
    page = page.button(key="use_swatch").click().run()
    row = rows(page)[0]
    assert row["known_by"] == "photo"
    for column, spread, truth in (
        ("lab_l", "lab_sd_l", 67.95),
        ("lab_a", "lab_sd_a", 5.08),
        ("lab_b", "lab_sd_b", 32.49),
    ):
        assert abs(float(row[column]) - truth) < 3 * float(row[spread])
    page = told(choose(page, "Evening violet"), "Evening pearl", "pearl", 9.0)
    changed = rows(page)[0]
    assert (changed["name"], changed["known_by"], changed["lab_l"]) == ("Evening pearl", "photo", row["lab_l"])


def test_a_place_without_hair_gives_no_colour(targets: AppTest) -> None:
    page = pointed(told(targets, "Evening violet"), (30.0, 30.0, 12.0))
    assert not page.exception
    assert not any(button.key == "use_swatch" for button in page.button)
    assert 'class="told' in words(page)


def test_the_photograph_of_swatches_and_the_shelf_survive_a_reload(targets: AppTest) -> None:
    page = pointed(told(targets, "Evening violet"), (800.0, 400.0, 30.0))
    visit: Draft = page.session_state["draft"]
    written = as_json(visit)
    read = from_json(written.content, {name: found() for name, found in written.photos.items()})
    assert (read.shelf_csv, read.swatch_spot) == (visit.shelf_csv, visit.swatch_spot)
    assert read.shelf_before == visit.shelf_before == ""  # so that the last change can still be undone
    assert read.swatch is not None
    assert visit.swatch is not None
    assert read.swatch.sha256 == visit.swatch.sha256
