"""The drawer for a station and a white sheet: used, refused with a reason, chosen from the salon's folder, kept.

The scenes are made by the tests' own forward model (tests/synthetic); what a sheet gains there is tested in
tests/calibration/test_changing_light.py, and a station in tests/calibration/correcting/test_station.py.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from calibration.correcting.station_file import station_text
from calibration.correcting.station_learning import learn_station
from estimator.pages.draft import Draft
from estimator.pages.draft_json import as_json, from_json
from tests.calibration.correcting.test_station import STATION
from tests.calibration.test_changing_light import EVEN, FALLING
from tests.studies.station_profile import photo_at
from tests.synthetic.lit_scene import LitScene, photograph_lit, photograph_sheet

pytestmark = pytest.mark.slow

SAMPLES = Path(__file__).parents[2] / "sample_images"


def words(page: AppTest) -> str:
    return " ".join(element.value for element in (*page.markdown, *page.caption, *page.text))


def photographed(page: AppTest, scene: LitScene) -> AppTest:
    return page.file_uploader(key="before_photo_0").set_value(("a.png", photograph_lit(scene).png(), "image/png")).run()


def with_sheet(page: AppTest, content: bytes) -> AppTest:
    box = next(box for box in page.file_uploader if box.key.startswith("sheet_file_"))
    return box.set_value(("sheet.png", content, "image/png")).run().button(key="use_sheet").click().run()


def with_station(page: AppTest, content: bytes) -> AppTest:
    box = next(box for box in page.file_uploader if box.key.startswith("station_file_"))
    return box.set_value(("chair.toml", content, "application/toml")).run().button(key="use_station").click().run()


@cache
def station() -> bytes:
    rng = np.random.default_rng(1)
    return station_text(
        learn_station(tuple(photo_at(STATION, rng)[0] for _ in range(3)), "chair 2", "2026-11-25")
    ).encode()


def test_a_white_sheet_evens_the_light_and_is_taken_out_again(screens: AppTest) -> None:
    page = photographed(screens, FALLING)
    assert "evened by the white sheet" not in words(page)
    page = with_sheet(page, photograph_sheet(FALLING).png())
    assert "evened by the white sheet" in words(page)
    assert "without them" in words(page)
    visit: Draft = page.session_state["draft"]
    written = as_json(visit)
    read = from_json(written.content, {name: found() for name, found in written.photos.items()})
    assert read.before is not None
    assert visit.before is not None
    assert read.before.sheet is not None
    assert visit.before.sheet is not None
    assert read.before.sheet.sha256 == visit.before.sheet.sha256
    page = page.button(key="no_sheet").click().run()
    assert "evened by the white sheet" not in words(page)


@pytest.mark.parametrize(
    "make", [lambda: b"a letter", lambda: photograph_lit(EVEN).png()], ids=["no photograph", "not plain"]
)
def test_a_sheet_that_can_not_serve_is_refused_and_the_photograph_stays(
    screens: AppTest, make: Callable[[], bytes]
) -> None:
    page = with_sheet(photographed(screens, EVEN), make())
    assert not page.exception
    assert 'class="told' in words(page)
    visit: Draft = page.session_state["draft"]
    assert visit.before is not None
    assert visit.before.sheet is None


def test_a_station_of_another_camera_says_why_it_was_not_used(screens: AppTest) -> None:
    page = photographed(screens, replace(EVEN, lamp="A"))
    page = with_station(page, station())
    assert any("chair 2" in box.label for box in page.expander)
    assert "does not agree with the station chair 2" in words(page)
    page = page.button(key="no_station").click().run()
    assert page.session_state["draft"].station_toml == ""
    assert "does not agree" not in words(page)


@pytest.mark.parametrize("spoilt", [b"\xff\xfe", b"name = 3", b"", b"not toml at all ["])
def test_a_station_that_can_not_be_used_is_refused(screens: AppTest, spoilt: bytes) -> None:
    page = with_station(screens, spoilt)
    assert not page.exception
    assert 'class="told' in words(page)
    assert page.session_state["draft"].station_toml == ""


def test_a_station_is_chosen_from_the_salon_s_folder(
    screens: AppTest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path))
    (tmp_path / "stations").mkdir()
    (tmp_path / "stations" / "a.toml").write_bytes(station())
    (tmp_path / "stations" / "spoilt.toml").write_bytes(b"\xff\xfe")
    page = screens.run()
    box = next(box for box in page.selectbox if box.label == "A station of this salon")
    assert box.options == ["chair 2"]
    page = box.set_value("chair 2").run().button(key="use_station_here").click().run()
    assert page.session_state["draft"].station_toml == station().decode()


def test_without_a_card_it_is_said_that_neither_was_used(screens: AppTest) -> None:
    import cv2

    board = cv2.imread(str(SAMPLES / "strands_before.jpg"))
    assert board is not None
    upper = board[: board.shape[0] // 2]  # the strands without the card
    page = (
        screens.file_uploader(key="before_photo_0")
        .set_value(("a.png", cv2.imencode(".png", upper)[1].tobytes(), "image/png"))
        .run()
    )
    page = with_station(page, station())
    assert "neither was used" in words(page)
