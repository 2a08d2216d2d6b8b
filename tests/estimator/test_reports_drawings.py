"""The drawings: what is drawn lies where the numbers say, and every colour is the colour of its reading."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from estimator.reading.zone_reading import ProfilePoint
from estimator.reports import drawings
from estimator.reports.drawings import Patch, PlanePoint, ProfileRow, StripRow
from estimator.reports.svg import ON_DARK, ON_PAPER, xml_text
from estimator.scale.appearance import Level

SVG = "{http://www.w3.org/2000/svg}"
SCALE = (17, 20, 23.5, 27.5, 32, 37.5, 44, 51, 59, 68)
COVARIANCE = np.array([[4.0, 0.3, 0.5], [0.3, 3.0, 2.0], [0.5, 2.0, 8.0]])
HOSTILE = "<script>alert(1)</script> & \" ' ]]> \x00\x08\ufffe #evil *b* {{x}} \u202e\ud800"


def point(word="before", a=10.0, b=30.0, covariance=COVARIANCE, mark="square", verified=True):
    return PlanePoint(word, np.array([50.0, a, b]), covariance, mark, verified)


def level(middle=7.4, low=6.9, high=8.0):
    return Level(middle, low, high, "", "default scale (an assumption)")


def tags(svg, name):
    return ET.fromstring(svg).iter(SVG + name)


def test_colours_are_those_of_another_library():
    from skimage.color import rgb2lab  # outside: scikit-image, CIELAB D65 2°

    rng = np.random.default_rng(3)
    for srgb in rng.integers(0, 256, (200, 3)):
        code = drawings.hex_colour(rgb2lab(srgb[None, None] / 255)[0, 0])
        shown = np.array([int(code[start : start + 2], 16) for start in (1, 3, 5)])
        assert np.abs(shown - srgb).max() <= 1  # its white has other last digits than the sRGB standard's


def test_the_surround_of_patches_is_neutral_and_of_middle_lightness():
    # IEC 61966-2-1 and CIE 15: grey code 119 has Y 0.1845, L* 50.03.
    assert drawings.hex_colour((50.03, 0.0, 0.0)) == drawings.SURROUND


def test_a_colour_beyond_the_screen_says_so():
    assert drawings.shown_text((60.0, 0.0, 120.0)) == "shown as near as a screen can"
    assert drawings.shown_text((60.0, 5.0, 30.0)) == ""


def test_compared_patches_touch_and_are_large_and_flat():
    svg = drawings.swatches([Patch((58, 6, 30), ("before",)), Patch((52, 4, 16), ("after",))])
    surround, first, second = tags(svg, "rect")
    assert surround.get("fill") == drawings.SURROUND
    assert float(first.get("x")) + float(first.get("width")) == pytest.approx(float(second.get("x")))
    assert float(first.get("x")) >= 24
    assert float(first.get("y")) >= 24
    assert min(float(patch.get(side)) for patch in (first, second) for side in ("width", "height")) >= 96
    assert first.get("fill") == drawings.hex_colour((58, 6, 30))
    assert second.get("fill") == drawings.hex_colour((52, 4, 16))


@pytest.mark.parametrize(
    "svg",
    [
        drawings.swatches([Patch((58, 6, 30), ("before", "unverified"), verified=False)]),
        drawings.level_strip([StripRow("before", level(), verified=False)], SCALE),
        drawings.ab_plane([point(verified=False)], drawings.plane_range([point()])),
    ],
)
def test_what_no_card_stands_behind_is_hatched_and_called_so(svg):
    names = [pattern.get("id") for pattern in tags(svg, "pattern")]
    assert len(names) == 1
    assert f"url(#{names[0]})" in svg
    assert any("unverified" in (text.text or "") for text in tags(svg, "text"))


def test_two_hatched_drawings_on_one_page_keep_their_names_apart():
    drawn = [drawings.level_strip([StripRow("before", level(low=at), False)], SCALE) for at in (5.0, 6.0)]
    names = [pattern.get("id") for svg in drawn for pattern in tags(svg, "pattern")]
    assert len(set(names)) == 2


def test_the_bar_of_a_level_ends_where_its_interval_ends():
    svg = drawings.level_strip([StripRow("before", Level(7.0, 6.0, 8.0, "", ""))], SCALE)
    ticks = {text.text: float(text.get("x")) for text in tags(svg, "text")}
    bar = next(rect for rect in tags(svg, "rect") if "fill-line" in (rect.get("class") or ""))
    assert float(bar.get("x")) == pytest.approx(ticks["6"], abs=0.1)
    sixth = list(tags(svg, "rect"))[5]  # ten patches of the scale come first
    assert float(sixth.get("x")) + float(sixth.get("width")) / 2 == pytest.approx(ticks["6"], abs=0.2)
    assert float(bar.get("x")) + float(bar.get("width")) == pytest.approx(ticks["8"], abs=0.1)


def test_the_strip_tells_a_screen_reader_what_it_shows():
    told = ET.fromstring(drawings.level_strip([StripRow("before", level())], SCALE, 6.0)).get("aria-label")
    assert told == "Level strip: before level 7.4, between 6.9 and 8.0; target level 6.0"


def test_the_target_is_a_hollow_mark():
    svg = drawings.level_strip([], SCALE, 6.0)
    assert [ring.get("fill") for ring in tags(svg, "circle")] == ["none"]


def centre_of(svg, tag="rect", kind="fill-text"):
    mark = next(found for found in tags(svg, tag) if found.get("class") == kind)
    return np.array([float(mark.get("x")) + 5, float(mark.get("y")) + 5])


def test_both_axes_of_the_plane_have_one_scale():
    shown = drawings.PlaneRange(-30.0, -10.0, 70.0)
    at = [centre_of(drawings.ab_plane([point(a=a, b=b)], shown)) for a, b in ((0, 0), (20, 0), (0, 20))]
    right, up = at[1] - at[0], at[2] - at[0]
    assert right == pytest.approx([20 * 300 / 70, 0], abs=0.11)
    assert up == pytest.approx([0, -20 * 300 / 70], abs=0.11)


def test_the_ellipse_holds_nine_of_ten_draws():
    shown = drawings.plane_range([point()])
    ellipse = next(iter(tags(drawings.ab_plane([point()], shown), "ellipse")))
    centre = np.array([float(ellipse.get("cx")), float(ellipse.get("cy"))])
    turn = np.radians(float(re.search(r"rotate\((-?[\d.]+)", ellipse.get("transform")).group(1)))
    draws = np.random.default_rng(5).multivariate_normal([10.0, 30.0], COVARIANCE[1:, 1:], 20000)
    pixels = (draws - [10.0, 30.0]) * [300 / shown.span, -300 / shown.span]
    along = pixels @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    inside = np.sum((along / [float(ellipse.get("rx")), float(ellipse.get("ry"))]) ** 2, axis=1) <= 1
    assert centre == pytest.approx(centre_of(drawings.ab_plane([point()], shown)), abs=0.1)
    assert inside.mean() == pytest.approx(0.9, abs=0.01)  # four standard errors, and radii drawn to a tenth of a pixel


def test_the_range_of_the_plane_is_square_and_holds_neutral_and_every_ellipse():
    points = [point(a=12, b=48), point(a=-14, b=3)]
    shown = drawings.plane_range(points)
    for at in [*points, point(a=0, b=0, covariance=None)]:
        reach = np.zeros(2) if at.covariance is None else np.sqrt(4.605 * np.diag(at.covariance)[1:])
        assert np.all(at.lab_d65[1:] - reach >= [shown.a_low, shown.b_low])
        assert np.all(at.lab_d65[1:] + reach <= [shown.a_low + shown.span, shown.b_low + shown.span])


def test_words_on_the_plane_do_not_cover_each_other():
    near = [point("before", 10, 30), point("after", 11, 28), point("target", 10, 26, None, "ring")]
    svg = drawings.ab_plane(near, drawings.plane_range([*near, point(a=-30, b=60)]))
    shown = [text for text in tags(svg, "text") if not text.get("aria-hidden")]
    words = [text for text in shown if text.text in ("before", "after", "target")]
    boxes = [(float(text.get("x")), float(text.get("y")), 8.2 * len(text.text)) for text in words]
    for number, (x, y, width) in enumerate(boxes):
        for other_x, other_y, other_width in boxes[number + 1 :]:
            assert x + width <= other_x or other_x + other_width <= x or abs(y - other_y) >= 15


def test_roots_to_ends_shows_the_colours_of_its_points():
    points = tuple(ProfilePoint(share, (40 + 20 * share, 8, 25), 1.0) for share in (0, 0.5, 1))
    svg = drawings.roots_to_ends([ProfileRow("before", points)])
    fills = [rect.get("fill") for rect in tags(svg, "rect")]
    assert fills == [drawings.SURROUND, *(drawings.hex_colour(at.lab_d65) for at in points)]


def test_hostile_words_stay_words_in_a_drawing():
    svg = drawings.swatches([Patch((50, 5, 20), (HOSTILE,))])
    root = ET.fromstring(svg)
    assert [element.tag for element in root.iter()].count(SVG + "script") == 0
    shown = [text.text for text in root.iter(SVG + "text")]
    assert shown == ["<script>alert(1)</script> & \" ' ]]>  #evil *b* {{x}} \u202e"]
    assert xml_text("\x00") == ""


def luminance(code):
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    channels = np.array([int(code[start : start + 2], 16) for start in (1, 3, 5)]) / 255
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(first, second):
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("ink", [ON_PAPER, ON_DARK])
def test_letters_and_lines_stand_out_in_both_themes(ink):
    assert contrast(ink.text, ink.paper) >= 7  # WCAG 2.2, 1.4.6
    assert contrast(ink.quiet, ink.paper) >= 4.5  # 1.4.3
    assert min(contrast(ink.line, ink.paper), contrast(ink.accent, ink.paper)) >= 3  # 1.4.11
    assert contrast("#000000", drawings.SURROUND) >= 4.5


@pytest.mark.parametrize("ink", [ON_PAPER, ON_DARK])
def test_the_accent_is_far_from_every_colour_of_hair(ink):
    from skimage.color import deltaE_ciede2000, rgb2lab

    accent = rgb2lab(np.array([[[int(ink.accent[at : at + 2], 16) / 255 for at in (1, 3, 5)]]]))[0, 0]
    # From grey and black hair, which are neutral, to the reddest and yellowest: no hair is bluer than neutral.
    hair = [(at, a, b) for at in range(12, 92, 2) for a in (0, 2, 5, 9, 14, 20) for b in (0, 3, 8, 16, 28, 45)]
    assert deltaE_ciede2000(np.broadcast_to(accent, (len(hair), 3)), np.array(hair, dtype=float)).min() >= 20
