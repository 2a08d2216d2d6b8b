"""What a predicted colour looks like in words, and why a target is out of reach."""

from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.scale.appearance import Level
from estimator.scale.level import level_of_colour
from estimator.toning.plan import Porosity, Reason, ZoneRequest
from estimator.toning.targets import TONES, Scale, TargetKind, TargetRegion, nearest_tone

# A target this far above the hair's own level asks for lift; within it, it counts as the hair's own level. [levels]
LIFT_FROM_LEVELS = 0.5
ORANGE_OR_REDDER = ("red", "red-brown", "orange")
COOLER_THAN_NEUTRAL = ("pearl", "ash", "violet")
GREEN_BEYOND = 2.5  # a* below the target's, and below 0, by so much looks green. Our assumption.
CLEAR_DELTA_E_2000 = 4.0  # a difference that is clear to the eye. Our assumption.
FAR_DELTA_E_2000 = 6.0  # a best mix farther off than this does not give the tone asked for. Our assumption.
_NO_SPREAD: FloatArray = np.zeros((3, 3))
# A toned result is named by the tone it lies nearest to; the pastel has its own words where it is not meant.
WORDS_WITHIN_REACH = tuple(word for word in TONES if word != "violet")
VIOLET_IS_DARK_BELOW = 35.0  # L*
GONE_OVER = ("violet-grey", "dark violet", "greenish", "slate blue")
# Lightened, porous hair that goes so much deeper needs a warm base first: common practice; both figures our assumption.
FILLER_FROM_LEVELS, HOLLOW_BELOW_CHROMA = 1.5, 15.0
GRABS_WITHIN_MINUTES = 3.0  # too short to look and rinse; our assumption


def levels_to_lift(request: ZoneRequest) -> float:
    """How far the target lies above the hair's own level; 0 where it does not need lift. [levels]"""
    if request.target.kind is TargetKind.LIGHTEST:
        return 0.0
    above = request.target.level - request.level.level
    return above if above > LIFT_FROM_LEVELS else 0.0


def look_of(lab_d65: FloatArray) -> str:
    """What the eye would call this colour: a tone's name, or what it has gone over to."""
    lightness, red_green, yellow_blue = lab_d65
    if yellow_blue < 0 < red_green:
        return "violet-grey" if lightness > VIOLET_IS_DARK_BELOW else "dark violet"
    if red_green < -GREEN_BEYOND:
        return "greenish" if yellow_blue > 0 else "slate blue"
    return nearest_tone(lab_d65, WORDS_WITHIN_REACH)


def nearest_in_words(lab_d65: FloatArray, scale: Scale = None) -> str:
    """A colour within reach, as a colourist would say it."""
    return f"about level {_level_of(lab_d65, scale):.1f}, {look_of(lab_d65)}"


@dataclass(frozen=True, eq=False)
class Course:
    """A zone's colour while the mix stays on.

    minutes : From the planned time to the last looked at, rising. shape (n,). lab_d65 : Then. shape (n, 3).
    early_share : Of those minutes, on hair that takes up as fast as one in twenty does. [0-1]
    """

    minutes: FloatArray
    lab_d65: FloatArray
    early_share: float


def left_longer(course: Course, scale: Scale = None) -> str:
    """One sentence on what the zone becomes where the mix stays on: what it turns to, and after how many minutes."""
    looks = [look_of(lab) for lab in course.lab_d65]
    turns = next((row for row, look in enumerate(looks) if look in GONE_OVER and look != looks[0]), None)
    if turns is None:
        turns = next((row for row, look in enumerate(looks) if look != looks[0]), None)
    darker = _level_of(course.lab_d65[0], scale) - _level_of(course.lab_d65[-1], scale)
    last = f"left to {course.minutes[-1]:.0f} minutes"
    if turns is None:
        deeper = f" and {darker:.1f} levels deeper" if darker >= 0.1 else ""
        return f"{last.capitalize()} it stays {looks[0]}{deeper}."
    when, early = course.minutes[turns], course.minutes[turns] * course.early_share
    soon = f", as early as {max(early, 1):.0f} on hair that takes fast" if round(early) < round(when) else ""
    deeper = f"; {last} it is {darker:.1f} levels deeper" if darker >= 0.1 else ""
    return f"It turns {looks[turns]} after about {when:.0f} minutes{soon}{deeper}."


def reasons_out_of_reach(
    request: ZoneRequest, predicted_lab_d65: FloatArray, region: TargetRegion, delta_e_2000: float
) -> tuple[Reason, ...]:
    """Why the nearest result is not the target; empty where it is near enough. The weightiest reason stands first."""
    lift = levels_to_lift(request)
    if lift:
        return (_needs_lift(request, lift),)
    if region.holds(predicted_lab_d65) or delta_e_2000 < CLEAR_DELTA_E_2000:
        return ()
    if _looks_green(predicted_lab_d65, region):
        return (_turns_green(request),)
    if _too_warm(request, predicted_lab_d65, region):
        return (_too_warm_to_hide(request),)
    return (_not_on_shelf(request, delta_e_2000),) if delta_e_2000 > FAR_DELTA_E_2000 else ()


def _looks_green(predicted_lab_d65: FloatArray, region: TargetRegion) -> bool:
    return bool(predicted_lab_d65[1] < min(region.centre_lab_d65[1], 0.0) - GREEN_BEYOND)


def _too_warm(request: ZoneRequest, predicted_lab_d65: FloatArray, region: TargetRegion) -> bool:
    by_rule = request.warmth.stage in ORANGE_OR_REDDER and request.target.tone in COOLER_THAN_NEUTRAL
    warmth_left = np.hypot(*predicted_lab_d65[1:]) - np.hypot(*region.centre_lab_d65[1:])
    too_dark = region.centre_lab_d65[0] - predicted_lab_d65[0]
    return bool(by_rule or warmth_left > 4 or too_dark > 8)


def _needs_lift(request: ZoneRequest, lift: float) -> Reason:
    return Reason(
        "needs_lift",
        f"Level {_short(request.target.level)} lies {lift:.1f} levels above this zone, "
        f"which reads {request.level.level:.1f}; a toner never lightens.",
        "Lift first, or choose the zone's own level or a deeper one.",
    )


def _turns_green(request: ZoneRequest) -> Reason:
    return Reason(
        "turns_green",
        f"The nearest mix of this shelf would turn this zone green on the way to {_wished(request)}.",
        "Add a violet or a red to the shelf, or choose a warmer tone.",
    )


def _too_warm_to_hide(request: ZoneRequest) -> Reason:
    return Reason(
        "too_warm",
        f"Too much warmth is left ({request.warmth.stage}) for {_wished(request)}.",
        "Lift first, or choose a warmer or deeper target.",
    )


def _not_on_shelf(request: ZoneRequest, delta_e_2000: float) -> Reason:
    return Reason(
        "not_on_shelf",
        f"No mix of this shelf comes near {_wished(request)}; the nearest is {delta_e_2000:.0f} ΔE2000 away.",
        f"Add a shade that leans to {request.target.tone}, or choose another tone.",
    )


def reasons_of_porous_hair(request: ZoneRequest, least_minutes: float) -> tuple[Reason, ...]:
    """What porous hair does to this target. least_minutes : That the nearest mix would have to stay on. [min]"""
    if request.hair.porosity not in (Porosity.HIGH, Porosity.UNEVEN):
        return ()
    reasons = []
    deeper = request.level.level - request.target.level
    if deeper >= FILLER_FROM_LEVELS and float(np.hypot(*request.lab_d65[1:])) < HOLLOW_BELOW_CHROMA:
        reasons.append(_needs_filler(deeper))
    if 0 < least_minutes < GRABS_WITHIN_MINUTES:
        reasons.append(_would_grab(least_minutes))
    return tuple(reasons)


def _needs_filler(deeper: float) -> Reason:
    return Reason(
        "needs_filler",
        f"Hollow: porous, no warm base left, and the target lies {deeper:.1f} levels deeper; it would look grey.",
        "Fill first with a weak gold or copper-gold, 5 minutes, look again, then tone. Or choose a warmer target.",
    )


def _would_grab(least_minutes: float) -> Reason:
    return Reason(
        "would_grab",
        f"Porous hair would grab: the nearest mix of this shelf is done in {least_minutes:.0f} minutes or less.",
        "Add clear or a weaker shade to the shelf, put it on last, and tone a strand first.",
    )


def _short(level: float) -> str:
    return f"{level:.1f}".removesuffix(".0")


def _wished(request: ZoneRequest) -> str:
    target = request.target
    if target.kind is TargetKind.IN_WORDS:
        return f"{target.tone} at level {target.level:g}"
    return f"what was wished for ({target.said})"


def _level_of(lab_d65: FloatArray, scale: Scale) -> float:
    level: Level = level_of_colour(lab_d65, _NO_SPREAD, scale)
    return level.level
