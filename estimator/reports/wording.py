"""Numbers to words: the only place where a value is rounded. Pages, command and reports all speak through it.

Intervals are nine-in-ten and are shown to two significant digits of their own width: finer would pretend.
"""

import math
import unicodedata
from collections.abc import Sequence
from datetime import date

from calibration.colourspaces import lab_to_lch
from calibration.findings import Verdict
from calibration.photo import FloatArray
from estimator.care.answers import Answer
from estimator.feedback.first_aid import WashOut
from estimator.feedback.happened import Cause, LightTaken
from estimator.feedback.signs import Sign
from estimator.reading.comparing import ZoneDifference
from estimator.reading.evenness import EVEN_INSIDE_L, UNEVEN_INSIDE_L, Evenness
from estimator.reading.zone_reading import NINE_IN_TEN, HairPart, ZoneReading
from estimator.scale.appearance import Level, Warmth
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import Plan
from estimator.toning.targets import Target

LAB = ("L*", "a*", "b*")
MINUS = "\u2212"
VERDICT_WORDS = {Verdict.USABLE: "usable", Verdict.CARE: "usable with care", Verdict.RETAKE: "retake"}

NO_CHANGE = "no change shown"
LARGE_CHANGE_DE2000 = 5.0  # CIEDE2000 is meant for small differences; beyond it the parts of the change are told too


AXIS_WORDS = (("lighter", "deeper"), ("redder", "less red"), ("yellower", "less yellow"))
MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


# --- numbers ---------------------------------------------------------------------------------------------------


def number_text(number: float, decimals: int) -> str:
    """The number with so many decimals, a true minus sign, and never "−0"."""
    shown = f"{number:.{decimals}f}"
    if float(shown) == 0:
        shown = f"{0:.{decimals}f}"
    return shown.replace("-", MINUS)


def interval_decimals(low: float, high: float, at_most: int = 1) -> int:
    """Decimals that show the width of an interval with two significant digits. [0 to at_most]"""
    width = abs(high - low)
    if not math.isfinite(width) or width <= 0:
        return at_most
    return max(0, min(at_most, 1 - math.floor(math.log10(width))))


def interval_text(value: float, low: float, high: float, at_most: int = 1) -> str:
    """A value with its nine-in-ten interval: "7.4 (6.9 to 8.0)"."""
    decimals = interval_decimals(low, high, at_most)
    shown = [number_text(number, decimals) for number in (value, low, high)]
    return f"{shown[0]} ({shown[1]} to {shown[2]})"


def plain_text(number: float) -> str:
    """A number with one decimal, which is left out where it is nought: "10", "12.5"."""
    return number_text(number, 1).removesuffix(".0")


# --- readings --------------------------------------------------------------------------------------------------


def level_text(level: Level) -> str:
    """Level with its interval: "7.4 (6.9 to 8.0)"; outside the scale it says so: "10 (9.6 to 10), lighter than 10"."""
    shown = interval_text(level.level, level.level_low, level.level_high)
    return f"{shown}, {level.beyond}" if level.beyond else shown


def stage_text(warmth: Warmth) -> str:
    """Stage of warmth in the trade's words: "orange, perhaps gold"."""
    return f"{warmth.stage}, perhaps {' or '.join(warmth.other_stages)}" if warmth.other_stages else warmth.stage


def chroma_text(warmth: Warmth) -> str:
    """How far the hair stands out from neutral: "34 (30 to 38)"."""
    return interval_text(warmth.warmth_chroma, warmth.warmth_chroma_low, warmth.warmth_chroma_high)


def hue_text(warmth: Warmth) -> str:
    """Direction of the warmth: "58° (52° to 64°)", or "no direction" where the interval goes all the way round."""
    if warmth.half_width_deg >= 180:
        return "no direction"
    low, high = warmth.warmth_hue_deg - warmth.half_width_deg, warmth.warmth_hue_deg + warmth.half_width_deg
    shown = [number_text(angle % 360, 0) for angle in (warmth.warmth_hue_deg, low, high)]
    return f"{shown[0]}° ({shown[1]}° to {shown[2]}°)"


def warmth_text(warmth: Warmth) -> str:
    """Warmth in one line: "orange, perhaps gold; strength 34 (30 to 38)"."""
    return f"{stage_text(warmth)}; strength {chroma_text(warmth)}"


def lab_interval_text(reading: ZoneReading) -> str:
    """CIELAB of one zone with its intervals: "L* 52.3 (50.1 to 54.5), a* ...\""""
    axes = zip(LAB, reading.lab_d65, reading.lab_low, reading.lab_high, strict=True)
    return ", ".join(f"{name} {interval_text(float(now), float(low), float(high))}" for name, now, low, high in axes)


def reading_text(reading: ZoneReading) -> str:
    """CIELAB of one zone with its intervals, and a word where nothing known stands behind it."""
    shown = lab_interval_text(reading)
    return shown if reading.verified else f"{shown}; unverified"


def part_text(part: HairPart, level: Level, warmth: Warmth) -> str:
    """One of two colours in a zone: "lighter strands, 62 % (38 to 86): level 9.1 (8.5 to 9.6), yellow"."""
    shares = [number_text(100 * share, 0) for share in (part.share, part.share_low, part.share_high)]
    return f"{part.place}, {shares[0]} % ({shares[1]} to {shares[2]}): level {level_text(level)}, {stage_text(warmth)}"


def planned_part_text(zone: str, part: HairPart) -> str:
    """For which of a zone's two colours its plan is."""
    return (
        f"{zone_text(zone)} holds two colours: this plan is for its {part.place}, {share_text(part.share)} of it. "
        "Is that the part you mean to tone? If not, outline the other as a zone of its own."
    )


def spread_text(reading: ZoneReading) -> str:
    """How even one zone is inside: "even, ±2.1 L*", which holds nine of ten places in it.

    Between even and uneven lies what shading alone can do: there the figure stands, and no verdict.
    """
    spread = float(reading.spread_lab[0])
    reach = f"±{number_text(NINE_IN_TEN * spread, 1)} L*"
    if spread > UNEVEN_INSIDE_L:
        return f"uneven, {reach}"
    return f"even, {reach}" if spread <= EVEN_INSIDE_L else f"{reach}, shading included"


def evenness_text(evenness: Evenness) -> str:
    """How well the zones match: "nape is darker than crown; ΔE 6.1 between ..."."""
    words = evenness.words.rstrip(".")
    for zone in evenness.pair:
        words = words.replace(zone, zone_text(zone))
    between = f"{delta_e_text(evenness.largest_delta_e_2000)} between the two that differ most"
    reach = f"{number_text(evenness.lightness_range, 1)} L* from darkest to lightest"
    inside = f"; uneven inside: {list_text([zone_text(zone) for zone in evenness.uneven_inside])}"
    return f"{words}; {between}, {reach}{inside if evenness.uneven_inside else ''}"


def delta_e_text(delta_e_2000: float) -> str:
    """A colour difference: "ΔE 3.2", held together by a space that does not break."""
    return f"ΔE\N{NO-BREAK SPACE}{number_text(delta_e_2000, 1)}"


def verdict_text(verdict: Verdict) -> str:
    """Verdict on a capture: "usable", "usable with care", "retake"."""
    return VERDICT_WORDS[verdict]


def card_error_text(held_out_de2000: float, verified: bool) -> str:
    """How far the corrected colours can be trusted, in words."""
    shown = delta_e_text(held_out_de2000)
    return f"{shown} on patches that the correction had not seen" if verified else f"{shown} assumed: no card was used"


# --- differences -----------------------------------------------------------------------------------------------


def shift_text(change: float, low: float, high: float, words: tuple[str, str]) -> str:
    """One axis of a change in words: "lighter by 12.3 (10.1 to 14.5)"; open both ways where nought lies inside."""
    if low <= 0 <= high:
        decimals = interval_decimals(low, high)
        ends = f"{number_text(low, decimals)} to {number_text(high, decimals)}"
        return f"{words[0]} or {words[1]} not told apart ({ends})"
    if change < 0:
        return f"{words[1]} by {interval_text(-change, -high, -low)}"
    return f"{words[0]} by {interval_text(change, low, high)}"


def change_text(change: ZoneDifference) -> str:
    """What changed: "clearly darker and more muted, ΔE 11.0"; "no change shown" where it is within its own interval."""
    return f"{change.words}, {delta_e_text(change.delta_e_2000)}"


def direction_text(change: ZoneDifference) -> str:
    """A change in figures, axis by axis: "deeper by 6.1 (4.8 to 7.4); less yellow by 12 (9 to 15)"."""
    if change.words == NO_CHANGE:
        return "within what the photographs can tell apart"
    told = [
        shift_text(float(moved), float(low), float(high), words)
        for moved, low, high, words in zip(change.d_lab, change.d_low, change.d_high, AXIS_WORDS, strict=True)
        if not low <= 0 <= high
    ]
    return "; ".join(told) or "changed in several ways at once, each too small to be told alone"


def lab_difference_text(change: ZoneDifference) -> str:
    """A change on each axis with its interval: "ΔL* −6.1 (−7.4 to −4.8), Δa* ..."."""
    return ", ".join(
        f"{name} {interval_text(float(moved), float(low), float(high))}"
        for name, moved, low, high in zip(("ΔL*", "Δa*", "Δb*"), change.d_lab, change.d_low, change.d_high, strict=True)
    )


def large_change_text(before_lab_d65: FloatArray, after_lab_d65: FloatArray) -> str:
    """A large change in lightness, strength and direction: "ΔL* −12.0, ΔC* −20.1, hue 74° to 68°"."""
    before, after = lab_to_lch(before_lab_d65), lab_to_lch(after_lab_d65)
    hues = f"hue {number_text(before[2], 0)}° to {number_text(after[2], 0)}°"
    return f"ΔL* {number_text(after[0] - before[0], 1)}, ΔC* {number_text(after[1] - before[1], 1)}, {hues}"


# --- plan ------------------------------------------------------------------------------------------------------


def target_text(target: Target) -> str:
    """What a zone shall become: "level 8, beige", or how it was wished with what that comes to."""
    in_words = f"level {number_text(target.level, 1).removesuffix('.0')}, {target.tone}"
    return f"{target.said} ({in_words})" if target.said else in_words


TOLD_FROM = 0.05  # ΔE2000: less is shown as 0.0, and nobody sees it


def second_best_text(plan: Plan) -> str:
    """The second-best plan and what it costs, in a sentence; "" where there is none."""
    other = plan.second_best
    if other is None:
        return ""
    mixes = "; ".join(
        f"{parts_text(parts)} for {list_text([zone_text(zone) for zone in zones])}" for parts, zones in other.bowls
    )
    named = f"Second best: {mixes}" if mixes else "Second best: nothing at all, every zone left as it is"
    if other.costs < TOLD_FROM:
        return f"{named}; as near over all zones."
    worse = f"{number_text(other.costs, 1)} ΔE2000 worse over all zones"
    most = (
        f", most of it in {zone_text(other.worst_zone)} ({number_text(other.worst_by, 1)})"
        if other.worst_by >= TOLD_FROM
        else ""
    )
    return f"{named}; {worse}{most}."


def grams_text(grams: float) -> str:
    """Grams to weigh: "20 g", "6.7 g"."""
    return f"{plain_text(grams)} g"


def count_text(count: int, word: str) -> str:
    """So many of something: "1 part", "3 parts"."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def parts_text(parts: Sequence[tuple[str, int]]) -> str:
    """A recipe in parts: "2 parts violet soft, 1 part clear"."""
    return ", ".join(f"{count_text(count, 'part')} {name}" for name, count in parts)


def strength_text(strength: PeroxideStrength) -> str:
    """Strength of a developer in both of the trade's units: "6 volume (1.8 %)"."""
    return f"{plain_text(strength.volume)} volume ({plain_text(strength.percent)} %)"


def developer_text(strength: PeroxideStrength) -> str:
    """What is poured, where it stands at the beginning of a line: "Developer 6 volume (1.8 %)"."""
    return f"Developer {strength_text(strength)}"


def minutes_text(minutes_low: float, minutes_high: float) -> str:
    """A range of minutes: "5 to 20 minutes", or "5 minutes" where both ends are the same.

    Whole minutes from 5 on, halves before, always rounded down: too early can be mended, too late can't.
    """
    low, high = (plain_text(_rounded_down(minutes)) for minutes in (minutes_low, minutes_high))
    if low == high:
        return "1 minute" if low == "1" else f"{low} minutes"
    return f"{low} to {high} minutes"


def _rounded_down(minutes: float) -> float:
    return float(math.floor(minutes + 1e-9) if minutes >= 5 else math.floor(2 * minutes + 1e-9) / 2)


def checks_text(first_check_minutes: float, check_every_minutes: float) -> str:
    """When to look: "first look at 2 minutes, then every 3 minutes"."""
    first, every = plain_text(first_check_minutes), plain_text(check_every_minutes)
    then = "every minute" if every == "1" else f"every {every} minutes"
    return f"first look at {first} {'minute' if first == '1' else 'minutes'}, then {then}"


def odds_text(share: float) -> str:
    """Chances in words that a person can weigh: "7 in 10"."""
    if share < 0.05:
        return "fewer than 1 in 20"
    if share > 0.95:
        return "more than 19 in 20"
    return f"about {max(1, min(9, round(10 * share)))} in 10"


def share_text(share: float) -> str:
    """A share of a whole: "43 %"."""
    return f"{number_text(100 * share, 0)} %"


# --- results ---------------------------------------------------------------------------------------------------


def factor_text(middle: float, low: float, high: float) -> str:
    """A factor with its nine-in-ten interval: "1.24 times (1.05 to 1.46)"."""
    shown = [number_text(number, 2) for number in (middle, low, high)]
    return f"{shown[0]} times ({shown[1]} to {shown[2]})"


def sign_text(sign: Sign) -> str:
    """How a result missed, with its odds: "too violet (about 8 in 10)"."""
    return f"{sign.words} ({odds_text(sign.odds)})"


def light_text(light: LightTaken) -> str:
    """Light that hair takes away, against hair of the colour wanted: "green light: 40 % more (15 to 70 %)"."""
    times, low, high = (100 * (value - 1) for value in (light.times, light.low, light.high))
    if low <= 0 <= high:
        return f"{light.name}: as wanted, as far as the photograph tells ({_signed(low)} to {_signed(high)} %)"
    if times > 0:
        return f"{light.name}: {number_text(times, 0)} % more ({number_text(low, 0)} to {number_text(high, 0)} %)"
    return f"{light.name}: {number_text(-times, 0)} % less ({number_text(-high, 0)} to {number_text(-low, 0)} %)"


def _signed(number: float) -> str:
    shown = number_text(number, 0)
    return shown if shown.startswith((MINUS, "0")) else f"+{shown}"


_CAUSES = {
    "as_planned": "the dye went in as planned, and the target was off what the plan could do",
    "more_dye": "more of the bowl went in than planned: left longer, or thirstier hair",
    "less_dye": "less of the bowl went in than planned: rinsed sooner, or slower hair",
    "leans_violet": "the result leans to violet beyond what the bowl should give",
    "leans_blue": "the result leans to blue beyond what the bowl should give",
    "leans_red": "the result leans to red beyond what the bowl should give",
    "leans_gold": "the result leans to gold beyond what the bowl should give",
}


def cause_text(cause: Cause) -> str:
    """What may have happened, with its odds."""
    return f"{_CAUSES[cause.code]} ({odds_text(cause.odds)})"


def washing_text(washing: WashOut) -> str:
    """What washing alone would do, marked as common practice."""
    washes = f"{number_text(washing.washes_low, 0)} to {number_text(washing.washes_high, 0)} washes"
    if washing.washes_high < 1:
        washes = "one wash or less"
    return (
        f"washing alone brings it nearest once about {share_text(washing.share_gone)} of the dye is out, in {washes} "
        f"(common practice, not measured): from {delta_e_text(washing.delta_e_2000_now)} off its target to "
        f"{delta_e_text(washing.delta_e_2000_then)}"
    )


# --- names and dates -------------------------------------------------------------------------------------------


def zone_text(zone: str) -> str:
    """Name of a zone as it is spoken: "crown regrowth" for `crown_regrowth`."""
    spoken = zone.replace("_", " ").strip()
    # A name of nothing but marks that steer or take no room would leave its place empty.
    return spoken if any(unicodedata.category(letter)[0] not in "CZ" for letter in spoken) else "unnamed zone"


def list_text(words: Sequence[str]) -> str:
    """Words in a row: "crown, fringe and nape"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1]))) if words else ""


def answer_text(answer: Answer) -> str:
    """What was done about a finding, by whom and when."""
    strength = "" if answer.strength_volume is None else f", with {plain_text(answer.strength_volume)} volume"
    place = f", {answer.place}" if answer.place else ""
    return f"{answer.what} ({answer.who}, {date_text(answer.when)}{place}{strength})"


def date_text(day: date) -> str:
    """A date that cannot be read the wrong way round: "25 November 2026"."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def hash_text(sha256: str) -> str:
    """The first twelve digits of a photo's hash, in fours: enough to find the photo again."""
    return " ".join(sha256[start : start + 4] for start in range(0, 12, 4))


def whole_hash_text(sha256: str) -> str:
    """All of a photo's hash in eights, so that it can be compared by eye and a line may end between two."""
    return " ".join(sha256[start : start + 8] for start in range(0, len(sha256), 8))
