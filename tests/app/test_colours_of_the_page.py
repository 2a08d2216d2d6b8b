"""Contrast of the page's own colours, by WCAG 2.2 (relative luminance; success criteria 1.4.3, 1.4.6, 1.4.11)."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STYLE = (ROOT / "estimator/pages/style.css").read_text(encoding="utf-8")
THEME = tomllib.loads((ROOT / ".streamlit/config.toml").read_text(encoding="utf-8"))["theme"]
NAMED = dict(re.findall(r"--([a-z-]+): light-dark\((#[0-9a-f]{6}), #[0-9a-f]{6}\)", STYLE))
DARK = dict(re.findall(r"--([a-z-]+): light-dark\(#[0-9a-f]{6}, (#[0-9a-f]{6})\)", STYLE))


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, WCAG 2.2."""
    codes = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in codes)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2. [1-21]"""
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_ratio_of_black_to_white_and_of_the_darkest_grey_that_passes() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, definition of contrast ratio
    assert contrast("#767676", "#ffffff") == pytest.approx(
        4.54, abs=0.01
    )  # the well-known limit for 4.5:1; from memory


@pytest.mark.parametrize("theme", [NAMED, DARK], ids=["light", "dark"])
def test_words_and_lines_stand_out_from_what_they_lie_on(theme: dict[str, str]) -> None:
    for ground in (theme["paper"], theme["sheet"]):
        assert contrast(theme["ink"], ground) >= 7  # amounts, times and stops: 1.4.6
        assert contrast(theme["quiet"], ground) >= 4.5  # 1.4.3
        assert contrast(theme["line"], ground) >= 3  # parts of controls: 1.4.11
        assert contrast(theme["stop"], ground) >= 3
    assert contrast(theme["on-accent"], theme["accent"]) >= 4.5


def test_the_style_sheet_and_the_theme_speak_of_the_same_colours() -> None:
    for theme, name in ((NAMED, "light"), (DARK, "dark")):
        assert THEME[name]["primaryColor"] == theme["accent"]
        assert THEME[name]["backgroundColor"] == theme["paper"]
        assert THEME[name]["secondaryBackgroundColor"] == theme["sheet"]
        assert THEME[name]["textColor"] == theme["ink"]


def test_greys_of_the_page_are_neutral_so_that_no_tint_stands_beside_hair() -> None:
    for theme in (NAMED, DARK):
        for name in ("ink", "quiet", "paper", "sheet", "line", "hairline"):
            red, green, blue = (theme[name][i : i + 2] for i in (1, 3, 5))
            assert red == green == blue
    assert "--surround: #777777" in STYLE  # L* 50: black on it has 4.7:1, white only 4.48:1
    assert contrast("#000000", "#777777") >= 4.5
