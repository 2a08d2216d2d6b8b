"""Drawings for the sheet that a client photographs by: the light, the card or white sheet, and what each view shows."""

from estimator.reports.svg import ON_PAPER, drawing, letters

WIDTH, HEIGHT = 160.0, 150.0
SKIN, HAIR, SHEET, CARD, LIGHT = "#ece7e0", "#8c8c8c", "#ffffff", "#c9c9c9", "#f3e3a6"
_INK = ON_PAPER.text
_PEN = f'stroke="{_INK}" stroke-width="2" stroke-linejoin="round" stroke-linecap="round"'

_PROFILE = (
    "M62 36C40 38 34 58 36 70L28 84L36 88L36 100C37 108 46 110 54 108L54 126L98 126L98 92C112 78 108 38 62 36Z",
    "M60 30C84 22 118 36 116 74C115 98 122 112 118 124L92 124C84 108 86 92 80 80C72 66 54 62 40 58C40 44 48 34 60 30Z",
)


def view_drawing(code: str) -> str:
    """What the view of this code shows, as SVG with words for a screen reader. Raises KeyError for another code."""
    words, body = _VIEWS[code]
    return drawing(WIDTH, HEIGHT, words, [body])


def light_drawing() -> str:
    """Where to stand: facing a window, the card or a white sheet beside the hair, the camera between."""
    ground = f'<path d="M20 196H520" {_PEN}/>'
    window = (
        f'<rect x="30" y="30" width="78" height="120" fill="{LIGHT}" {_PEN}/><path d="M69 30V150M30 90H108" {_PEN}/>'
    )
    rays = "".join(f'<path d="M118 {y}L180 {y + 6}" {_PEN} stroke-dasharray="2 7"/>' for y in (60, 92, 124))
    phone = f'<rect x="216" y="84" width="18" height="34" rx="3" fill="{CARD}" {_PEN}/><path d="M225 118V196" {_PEN}/>'
    person = (
        f'<path d="M372 196V150C372 136 440 136 440 150V196" fill="{CARD}" {_PEN}/>'
        f'<circle cx="404" cy="92" r="34" fill="{SKIN}" {_PEN}/>'
        f'<path d="M388 62C400 50 450 56 446 98C445 120 450 130 448 140L424 140C420 118 424 92 388 62Z" fill="{HAIR}"'
        f" {_PEN}/>"
    )
    sheet = f'<rect x="462" y="76" width="44" height="34" fill="{SHEET}" {_PEN}/><path d="M446 152L470 112" {_PEN}/>'
    said = (
        letters(69, 22, "window", _INK, anchor="middle")
        + letters(225, 72, "camera", _INK, anchor="middle")
        + letters(536, 44, "card or sheet", _INK, anchor="end")
    )
    words = (
        "Face the window. The camera is between you and the window. The card or white sheet is held beside the hair."
    )
    return drawing(540, 205, words, [ground, window, rays, phone, person, sheet, said])


def _head(hair: str, face: str = "") -> str:
    shoulders = f'<path d="M28 146C30 122 52 118 80 118C108 118 130 122 132 146" fill="{CARD}" {_PEN}/>'
    return f"{shoulders}{face}{hair}"


def _mirrored(body: str) -> str:
    return f'<g transform="translate({WIDTH:g} 0) scale(-1 1)">{body}</g>'


_SIDE = (
    f'<path d="M30 146C34 128 50 122 76 122C104 122 122 126 126 146" fill="{CARD}" {_PEN}/>'
    f'<path d="{_PROFILE[0]}" fill="{SKIN}" {_PEN}/><path d="{_PROFILE[1]}" fill="{HAIR}" {_PEN}/>'
)
_FACE = f'<ellipse cx="80" cy="74" rx="30" ry="38" fill="{SKIN}" {_PEN}/>'
_FACE += f'<path d="M70 68v4M90 68v4M72 92q8 5 16 0" fill="none" {_PEN}/>'
_ROUND = "M80 22C40 22 36 58 38 96C39 110 36 120 40 126L120 126C124 120 121 110 122 96C124 58 120 22 80 22Z"
_FRONT_HAIR = (
    "M80 22C40 22 36 58 38 96C39 110 36 120 40 126L56 126C46 96 50 62 62 50C72 58 92 58 100 48C110 62 114 96 104 126"
    "L120 126C124 120 121 110 122 96C124 58 120 22 80 22Z"
)
_STRANDS = f'<path d="M60 40C54 70 56 100 54 124M80 34V124M100 40C106 70 104 100 106 124" fill="none" {_PEN}/>'
_VIEWS = {
    "front": (
        "The head from the front, hair falling on both sides.",
        _head(f'<path d="{_FRONT_HAIR}" fill="{HAIR}" {_PEN}/>', _FACE),
    ),
    "left": ("The head from its left side.", _SIDE),
    "right": ("The head from its right side.", _mirrored(_SIDE)),
    "back": (
        "The head from behind, hair down.",
        _head(f'<path d="{_ROUND}" fill="{HAIR}" {_PEN}/>{_STRANDS}'),
    ),
    "crown": (
        "The bowed head from above, the hair parted once.",
        f'<ellipse cx="80" cy="76" rx="52" ry="58" fill="{HAIR}" {_PEN}/>'
        f'<path d="M80 22C78 60 82 90 80 130" fill="none" stroke="{SKIN}" stroke-width="7"/>'
        '<path d="M74 40C56 46 44 60 36 78M74 70C58 76 48 90 42 106M86 40C104 46 116 60 124 78M86 70C102 76 112 90 '
        f'118 106" fill="none" {_PEN}/>',
    ),
    "ends": (
        "The ends of the hair on an open palm, the card or sheet beside it.",
        f'<rect x="98" y="54" width="50" height="40" fill="{SHEET}" {_PEN}/>'
        f'<path d="M20 110C16 84 30 78 44 80L92 88C100 90 98 100 90 100L70 100L96 106C102 110 98 118 92 116L50 124'
        f'C34 128 24 124 20 110Z" fill="{SKIN}" {_PEN}/>'
        f'<path d="M40 10C34 40 50 64 46 100M52 8C48 40 62 64 58 104M64 10C62 40 74 66 70 102" fill="none" '
        f'stroke="{HAIR}" stroke-width="7" stroke-linecap="round"/>',
    ),
}
