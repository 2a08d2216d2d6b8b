"""Level and remaining warmth of hair, each with its nine-in-ten interval."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Level:
    """Level of hair on the trade's scale: 1 black to 10 lightest blonde, with its nine-in-ten interval.

    beyond : "" inside the scale; "darker than 1" or "lighter than 10" outside it.
    scale : Name of the scale it stands on, such as "default scale (an assumption)".
    """

    level: float
    level_low: float
    level_high: float
    beyond: str
    scale: str


@dataclass(frozen=True)
class Warmth:
    """Remaining warmth: how far, and in which direction, hair stands out from neutral hair of the same lightness.

    warmth_chroma : CIE C*, with its nine-in-ten interval.
    warmth_hue_deg : CIE hue angle, 0-360; half_width_deg is half its nine-in-ten interval (180: no hue at all).
    stage : The trade's word: "little warmth", "red", "red-brown", "orange", "gold", "yellow", "pale yellow",
        "green cast", "blue cast", "violet cast".
    other_stages : Stages that the interval reaches into as well, the likeliest first.
    """

    warmth_chroma: float
    warmth_chroma_low: float
    warmth_chroma_high: float
    warmth_hue_deg: float
    half_width_deg: float
    stage: str
    other_stages: tuple[str, ...]
