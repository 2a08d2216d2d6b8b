"""Why a reading is as wide as it is, in three plain sentences, and what would make it tighter."""

from estimator.reading.explaining import Explanation, Help, Tighter
from estimator.reports.wording import list_text, number_text, zone_text
from estimator.zones.outline import Setting

MOST_HELPS = 2  # more than two things to do are not done
_DO = {
    Help.STATE_PATTERN: "state the strand pattern",
    Help.SWATCH: "put the swatch in the shot",
    Help.TURNED: "take a second photo turned under the lamp",
    Help.CARD: "put a 24-patch card in the shot",
    Help.BETTER_CARD: "lay the card flat in the same light as the hair, without shine on it",
    Help.MORE_HAIR: "outline more of this hair, or take the photo from closer",
    Help.PLAIN_GROUND: "lay hair and card on one plain surface",
    Help.ONE_LAMP: "turn off the lamp by the window, so that one kind of light is left",
    Help.ORIGINAL_FILE: "send the photo as a file, not through the messenger",
}


def explanation_lines(told: Explanation) -> tuple[str, str, str]:
    """What the colours rest on, what the hair's reading rests on, and what would make it tighter."""
    return _colours(told), _hair(told), _tighter(told)


def _colours(told: Explanation) -> str:
    error = number_text(told.held_out_de2000, 1)
    if told.verified:
        return f"The colours rest on the card in this photo, which leaves an error of {error} ΔE2000."
    return f"No card stands behind the colours; an error of {error} ΔE2000 is assumed."


def _hair(told: Explanation) -> str:
    place = "on a board" if told.setting is Setting.BOARD else "on a head"
    pattern = f"stated to be {told.pattern}" if told.pattern else "of a strand pattern that nobody stated"
    swatches = f", beside the swatch {list_text([zone_text(name) for name in told.swatches])}" if told.swatches else ""
    return f"It is read from {told.pixels:,} pixels of hair {place}, {pattern}{swatches}: {_to_within(told.half_now)}."


def _tighter(told: Explanation) -> str:
    helps = [_help(each) for each in told.tighter[:MOST_HELPS]]
    if not helps:
        return "Nothing that this program can try would make it noticeably tighter."
    return "For a tighter reading, " + "; or ".join(helps) + "."


def _help(each: Tighter) -> str:
    return f"{_DO[each.help]} (about ±{number_text(each.half_then, 1)} L*)"


def _to_within(half: float) -> str:
    return f"its lightness is known to ±{number_text(half, 1)} L*, nine times in ten"
