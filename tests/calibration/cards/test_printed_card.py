"""The printed card is found small, tilted, mirrored or partly hidden, and the PDF is what the table says."""

import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.cards.printed_card import patch_pitch_px, search_printed_card
from calibration.cards.printed_layout import printed_layout
from calibration.judging_print import judge_no_print
from calibration.opening import open_photo
from tests.synthetic.card_scene import Development, Layout
from tests.synthetic.printed_scene import PrintedPlace, PrintedScene, at_width, photograph_print

DOCS = Path(__file__).resolve().parents[3] / "docs"
DPI = 200


def sought(scene: PrintedScene):
    made = photograph_print(scene)
    return made, search_printed_card(open_photo(made.png()))


SCENES = {
    "as it lies": PrintedScene(),
    "turned a quarter": PrintedScene(place=PrintedPlace(turn_deg=93)),
    "tilted": PrintedScene(place=PrintedPlace(tilt=0.3)),
    "the larger sheet": PrintedScene(place=PrintedPlace(sheet="A5")),
    "one marker hidden": PrintedScene(place=PrintedPlace(markers_hidden=(1,))),
    "blurred": PrintedScene(development=Development(blur_px=2)),
    "in a small photo": at_width(0.2, 800),
}


@pytest.mark.slow
@pytest.mark.parametrize("scene", SCENES.values(), ids=SCENES)
def test_every_disc_lies_where_it_was_drawn(scene):
    made, search = sought(scene)
    found = search.found
    assert found is not None
    assert found.sheet.key == scene.place.sheet
    # The square that is measured keeps 1.5 mm of its disc free on every side; a twentieth of the pitch is half of it.
    off = np.abs(found.sighting.patch_centres_px - made.centres_px).max()
    assert off < max(0.05 * patch_pitch_px(found), 0.5)
    assert not found.sighting.mirrored
    assert not found.sighting.hidden.any()


@pytest.mark.slow
def test_a_card_of_4_percent_of_the_width_of_12_megapixels_is_found():
    # Rendered in a small picture and laid into a large one: the same 160 pixels, in less time.
    made = photograph_print(at_width(0.4, 400))
    photo = np.full((3000, 4000, 3), made.encoded_rgb[5, 5], dtype=np.uint8)
    photo[1700:2000, 2100:2500] = made.encoded_rgb
    stored = cv2.imencode(".png", photo, [cv2.IMWRITE_PNG_COMPRESSION, 1])[1].tobytes()
    found = search_printed_card(open_photo(stored)).found
    assert found is not None
    assert np.abs(found.sighting.patch_centres_px - made.centres_px - [2100, 1700]).max() < 0.8  # 5 % of the pitch


@pytest.mark.slow
def test_a_mirrored_photo_is_found_and_said_to_be_one():
    made, search = sought(replace(PrintedScene(), layout=Layout(width_px=900, height_px=700, mirrored=True)))
    assert search.found is not None
    assert search.found.sighting.mirrored
    assert np.abs(search.found.sighting.patch_centres_px - made.centres_px).max() < 1


@pytest.mark.slow
def test_markers_are_placed_without_a_bias_of_half_a_pixel():
    made, search = sought(PrintedScene())
    assert search.found is not None
    # Forgetting that pixel centres are whole numbers shifts everything by half a pixel one way.
    assert np.abs((search.found.sighting.patch_centres_px - made.centres_px).mean(axis=0)).max() < 0.25


@pytest.mark.slow
def test_what_lies_on_the_card_hides_the_discs_beneath_it_and_no_others():
    made, search = sought(PrintedScene(place=PrintedPlace(cover_mm=(95, 20, 148, 70))))
    assert search.found is not None
    x, y = printed_layout().places_mm.T
    beneath = (x > 101) & (y > 26) & (y < 64)
    far = (x < 83) | (y > 85)
    assert search.found.sighting.hidden[beneath].all()
    assert not search.found.sighting.hidden[far].any()
    assert made.centres_px.shape == (41, 2)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scene", "code"),
    [
        (PrintedScene(place=PrintedPlace(markers_hidden=(1, 2))), "card_covered"),
        (at_width(0.15, 800), "too_small"),
    ],
    ids=["two markers hidden", "too small"],
)
def test_a_card_that_is_not_whole_or_too_small_says_so(scene, code):
    _, search = sought(scene)
    assert search.found is None
    (finding,) = judge_no_print(search)
    assert finding.code == code
    assert finding.remedy.endswith(".")


def test_nothing_is_found_where_there_is_no_printed_card():
    noise = np.random.default_rng(1).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    smooth = cv2.GaussianBlur(noise, (0, 0), 2)
    assert search_printed_card(open_photo(cv2.imencode(".png", smooth)[1].tobytes())).found is None


@cache
def rendered(key: str, folder: Path) -> np.ndarray:
    """The committed card's first page at 200 dpi, as 8-bit RGB."""
    stem = folder / key
    subprocess.run(
        ["pdftoppm", "-r", str(DPI), "-f", "1", "-l", "1", "-png", str(DOCS / f"printed_card_{key}.pdf"), str(stem)],
        check=True,
    )
    (page,) = folder.glob(f"{key}-*.png")
    return cv2.imread(str(page))[:, :, ::-1]


@pytest.mark.slow
@pytest.mark.parametrize("sheet", printed_layout().sheets, ids=lambda sheet: sheet.key)
def test_the_printed_page_is_what_the_table_says(sheet, tmp_path_factory):
    page = rendered(sheet.key, tmp_path_factory.mktemp("card"))
    assert np.allclose(np.array(page.shape[1::-1]) / DPI * 25.4, sheet.size_mm, atol=0.2)
    found = search_printed_card(open_photo(cv2.imencode(".png", page[:, :, ::-1])[1].tobytes())).found
    assert found is not None
    assert found.sheet.key == sheet.key
    for patch, centre in zip(printed_layout().patches, found.sighting.patch_centres_px, strict=True):
        place_mm = np.array(sheet.offset_mm) + sheet.scale * np.array([patch.x_mm, patch.y_mm])
        assert np.abs((centre + 0.5) / DPI * 25.4 - place_mm).max() < 0.15  # about one dot at 200 dpi
        x, y = centre.round().astype(int)
        reach = int(sheet.scale * printed_layout().sampled_mm / 2 / 25.4 * DPI)
        inside = page[y - reach : y + reach, x - reach : x + reach].reshape(-1, 3)
        assert np.abs(inside.astype(int) - patch.srgb).max() <= 1


@pytest.mark.parametrize("key", ["A5", "A6"])
def test_the_cards_in_docs_are_those_that_the_command_makes(key):
    from estimator.reports.card_sheet import card_pdf

    assert card_pdf(key) == (DOCS / f"printed_card_{key}.pdf").read_bytes()


def test_every_patch_has_place_and_room():
    layout = printed_layout()
    apart = np.linalg.norm(layout.places_mm[:, None] - layout.places_mm[None], axis=-1)
    assert apart[~np.eye(len(apart), dtype=bool)].min() > layout.disc_mm + 2
    markers = np.concatenate([layout.marker_corners_mm(place) for place in range(4)])
    away = np.linalg.norm(layout.places_mm[:, None] - markers[None], axis=-1)
    assert away.min() > layout.disc_mm / 2 + 1
    kinds = [patch.kind for patch in layout.patches]
    assert kinds.count("brown") >= 10
    assert len(layout.greys) >= 6
