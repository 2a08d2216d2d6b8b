"""Draws how to take a photograph that reads well, and how not to: docs/pictures/*.svg.

    python -m tests.studies.capture_pictures

Seen from above: the camera below, the hair in the middle, the card beside it, and where the light comes from. Seen from
the front: what the camera should see. A tick or a cross stands on each, so that the picture needs no colour.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from estimator.reports.svg import ON_PAPER, TEXT_PX, drawing, letters, line

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
WIDTH_PX, HEIGHT_PX = 320, 306
HAIR, SKIN, LIGHT, WARM_LIGHT = "#7a5a3c", "#d9c3ae", "#e3edf7", "#f7e3c0"
GREYS = ("#f2f2f2", "#c8c8c8", "#a0a0a0", "#7a7a7a", "#555555", "#303030")
COLOURS = ("#735244", "#c29682", "#627a9d", "#576c43", "#8580b1", "#67bdaa")
CAMERA, HAIR_AT, CARD_AT = (160.0, 196.0), (138.0, 96.0), (222.0, 104.0)


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    for name, picture in pictures().items():
        (PICTURES / f"{name}.svg").write_text(picture + "\n", encoding="utf-8")
    print(f"{len(pictures())} drawings written to docs/pictures")


def pictures() -> dict[str, str]:
    """Every drawing by the name of its file."""
    front = [*_window((160, 236), 120, 0), *_beams((160, 230), LIGHT, 56)]
    return {
        "card_beside": _picture(True, ("The card beside the hair,", "facing the camera"), _front()),
        "hair_spread": _picture(True, ("Hair spread flat and dry,", "roots and ends in sight"), _spread()),
        "one_light": _picture(True, ("One kind of light, from", "behind the camera"), [*front, *_above(0.0)]),
        "wrong_card_tilted": _picture(
            False, ("Card turned away: it sees", "another light than the hair"), [*front, *_above(50.0)]
        ),
        "wrong_window_and_lamp": _picture(
            False,
            ("Window and lamp together:", "two colours of light"),
            [*_window((22, 110), 90, 90), *_side_beam((28, 110), 138, LIGHT, 42),
             *_side_beam((296, 104), 150, WARM_LIGHT, 6), *_lamp((296, 104)), *_above(0.0)],
        ),
        "wrong_backlit": _picture(
            False,
            ("Light from behind: the hair", "is a shadow, the card too"),
            [*_window((150, 26), 120, 0), *_beams((150, 30), LIGHT, 56), *_above(0.0)],
        ),
    }  # fmt: skip


def _picture(right: bool, words: tuple[str, str], body: Sequence[str]) -> str:
    ground = f'<rect width="{WIDTH_PX}" height="{HEIGHT_PX}" rx="8" fill="{ON_PAPER.paper}"/>'
    told = [letters(44, 272 + 22 * row, words[row], ON_PAPER.text, "strong" if row == 0 else "text") for row in (0, 1)]
    what = ("Right: " if right else "Wrong: ") + " ".join(words)
    return drawing(WIDTH_PX, HEIGHT_PX, what, [ground, *body, *told, _sign(right)])


def _sign(right: bool) -> str:
    path = "M14 276l8 9l13 -19" if right else "M14 266l18 18m0 -18l-18 18"
    return f'<path d="{path}" fill="none" stroke="{ON_PAPER.accent if right else ON_PAPER.text}" stroke-width="4"/>'


def _card(left: float, top: float, pitch: float) -> list[str]:
    """A card of six greys and twelve colours as the camera sees it."""
    frame = f'<rect x="{left:g}" y="{top:g}" width="{6.4 * pitch:g}" height="{3.4 * pitch:g}" rx="2" fill="#202020"/>'
    rows = (COLOURS, COLOURS[::-1], GREYS)
    return [frame] + [
        f'<rect x="{left + (0.25 + column) * pitch:g}" y="{top + (0.25 + row) * pitch:g}" width="{0.85 * pitch:g}"'
        f' height="{0.85 * pitch:g}" fill="{colour}"/>'
        for row, colours in enumerate(rows)
        for column, colour in enumerate(colours)
    ]


def _strands(starts: np.ndarray, ends: np.ndarray) -> list[str]:
    return [
        f'<path d="M{a[0]:.1f} {a[1]:.1f}C{a[0]:.1f} {a[1] + 60:.1f} {b[0]:.1f} {b[1] - 60:.1f} {b[0]:.1f} {b[1]:.1f}"'
        f' fill="none" stroke="{HAIR}" stroke-width="3.4" stroke-opacity="{0.65 + 0.35 * (number % 2):g}"/>'
        for number, (a, b) in enumerate(zip(starts, ends, strict=True))
    ]


def _front() -> list[str]:
    """A head from behind, hair hanging, the card held beside it in the same plane."""
    across = np.linspace(-1, 1, 25)
    starts = np.column_stack([110 + 34 * across, 62 - 34 * np.sqrt(1 - 0.98 * across**2)])
    ends = np.column_stack([110 + 58 * across, 200 + 10 * np.cos(2 * across)])
    shoulders = f'<path d="M20 236C30 196 190 196 200 236Z" fill="{ON_PAPER.rule}"/>'
    return [shoulders, *_strands(starts, ends), *_card(186, 84, 18)]


def _spread() -> list[str]:
    """Lengths fanned out over a plain cape, the card on it."""
    across = np.linspace(-1, 1, 31)
    cape = f'<rect x="12" y="14" width="296" height="222" rx="6" fill="{ON_PAPER.rule}"/>'
    starts = np.column_stack([104 + 26 * across, np.full(31, 34.0)])
    ends = np.column_stack([104 + 76 * across, 218 - 12 * across**2])
    return [cape, *_strands(starts, ends), *_card(190, 96, 17)]


def _above(turn_deg: float) -> list[str]:
    """Head, card and camera from above; the card turned by `turn_deg` away from the camera."""
    (x, y), (card_x, card_y) = HAIR_AT, CARD_AT
    turn = np.radians(turn_deg)
    half = 30 * np.array([np.cos(turn), -np.sin(turn)])
    head = (
        f'<ellipse cx="{x}" cy="{y}" rx="38" ry="44" fill="{HAIR}"/>'
        f'<path d="M{x - 8} {y - 42}l8 -12l8 12Z" fill="{SKIN}"/>'
    )
    card = line((card_x - half[0], card_y - half[1]), (card_x + half[0], card_y + half[1]), "#202020", width=7)
    named = [letters(x, y + 6, "hair", "#ffffff", anchor="middle"),
             letters(card_x + 8, card_y - 20 - abs(half[1]) * 0.6, "card", ON_PAPER.text, anchor="middle")]  # fmt: skip
    return [head, card, *named, *_camera()]


def _camera() -> list[str]:
    x, y = CAMERA
    return [
        f'<rect x="{x - 17}" y="{y - 9}" width="34" height="20" rx="3" fill="{ON_PAPER.text}"/>',
        f'<rect x="{x - 6}" y="{y - 16}" width="12" height="8" fill="{ON_PAPER.text}"/>',
        letters(x + 24, y + 7, "camera", ON_PAPER.text),
    ]


def _window(middle: tuple[float, float], length: float, turn_deg: float) -> list[str]:
    x, y = middle
    body = (
        f'<rect x="{x - length / 2:g}" y="{y - 4:g}" width="{length:g}" height="8" fill="{LIGHT}"'
        f' stroke="{ON_PAPER.text}" stroke-width="1.5" transform="rotate({turn_deg:g} {x:g} {y:g})"/>'
    )
    place = (x - length / 2 - 8, y + TEXT_PX / 3, "end") if turn_deg == 0 else (x - 12, y - length / 2 - 8, "start")
    return [body, letters(place[0], place[1], "window", ON_PAPER.text, anchor=place[2])]


def _lamp(middle: tuple[float, float]) -> list[str]:
    x, y = middle
    return [
        f'<circle cx="{x:g}" cy="{y:g}" r="11" fill="{WARM_LIGHT}" stroke="{ON_PAPER.text}" stroke-width="1.5"/>',
        letters(x + 12, y - 20, "lamp", ON_PAPER.text, anchor="end"),
    ]


def _beams(origin: tuple[float, float], colour: str, half_px: float) -> list[str]:
    """Light that falls onto hair and card from before or behind, from so much to either side of a place."""
    x, y = origin
    return [
        f'<path d="M{x - half_px:g} {y:g}L{to_x - 24:g} {to_y:g}L{to_x + 24:g} {to_y:g}L{x + half_px:g} {y:g}Z"'
        f' fill="{colour}"/>'
        for to_x, to_y in (HAIR_AT, CARD_AT)
    ]


def _side_beam(origin: tuple[float, float], to_x: float, colour: str, half_px: float) -> list[str]:
    """Light that falls from one side, as far as `to_x`."""
    x, y = origin
    return [
        f'<path d="M{x:g} {y - half_px:g}L{to_x:g} {y - 36:g}L{to_x:g} {y + 28:g}L{x:g} {y + half_px:g}Z"'
        f' fill="{colour}"/>'
    ]


if __name__ == "__main__":
    main()
