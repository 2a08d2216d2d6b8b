"""The drawing board: a photograph to look at, to outline zones on, or to point at a neutral thing."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import streamlit as st

from estimator.pages.draft import OutlinedZone
from estimator.pages.kept_readings import Picture

Mode = Literal["look", "outline", "spot"]
_HERE = Path(__file__).parent
_board = st.components.v2.component(
    "tressmeter_photo_board",
    html=(_HERE / "photo_board.html").read_text(encoding="utf-8"),
    css=(_HERE / "photo_board.css").read_text(encoding="utf-8"),
    js=(_HERE / "photo_board.js").read_text(encoding="utf-8"),
)

_OUTLINE_WORDS = {
    "tools": [["remove", "Remove this point"], ["add", "Add a point"]],
    "more": "Move a point with buttons",
    "more_tools": [
        ["previous", "Previous point"],
        ["next", "Next point"],
        ["left", "Left"],
        ["right", "Right"],
        ["up", "Up"],
        ["down", "Down"],
    ],
}
_SPOT_WORDS = {
    "tools": [
        ["left", "Left"],
        ["right", "Right"],
        ["up", "Up"],
        ["down", "Down"],
        ["bigger", "Larger"],
        ["smaller", "Smaller"],
    ]
}
_WORDS: dict[Mode, dict[str, Any]] = {"look": {}, "outline": _OUTLINE_WORDS, "spot": _SPOT_WORDS}


@dataclass(frozen=True)
class Drawing:
    """What lies over the picture, in pixels of the photograph."""

    zones: tuple[OutlinedZone, ...] = ()
    quads_px: tuple[Any, ...] = ()
    spot: tuple[float, float, float] | None = None
    selected: int = -1
    serial: int = 0
    revision: int = 0


def photo_board(
    picture: Picture,
    alt: str,
    drawing: Drawing,
    *,
    mode: Mode = "look",
    key: str,
    on_event: Callable[[dict[str, Any]], None] | None = None,
) -> None:
    """Show the picture with what lies over it; tell `on_event` of each change, once the finger is lifted.

    The events are {"kind": "outline", zone, points, serial}, {"kind": "choose", zone, serial} and
    {"kind": "spot", x_px, y_px, radius_px, serial}.
    """

    def hear() -> None:
        event = st.session_state[key].get("event")
        if event and on_event:
            on_event(event)

    # The picture travels beside the board, not in its messages: a tap then costs a few hundred bytes, not its 300 kB.
    source = f"board_source_{key}"
    with st.container(key=source):
        st.image(picture.jpeg, alt=alt)
    given = _handed_over(picture, alt, drawing, mode) | {"source": f".st-key-{source} img"}
    _board(data=given, key=key, on_event_change=hear)


def _handed_over(picture: Picture, alt: str, drawing: Drawing, mode: Mode) -> dict[str, Any]:
    spot = None if drawing.spot is None else dict(zip(("x_px", "y_px", "radius_px"), drawing.spot, strict=True))
    zones = [
        {"label": zone.name.replace("_", " "), "points": [list(p) for p in zone.points_px]} for zone in drawing.zones
    ]
    return {
        "photo": {"width_px": picture.width_px, "height_px": picture.height_px, "alt": alt},
        "mode": mode,
        "words": _WORDS[mode],
        "zones": zones,
        "quads": [[list(map(float, corner)) for corner in quad] for quad in drawing.quads_px],
        "spot": spot,
        "selected": drawing.selected,
        "serial": drawing.serial,
        "revision": drawing.revision,
        "tallest_share": 0.62,
    }
