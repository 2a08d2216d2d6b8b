"""What a predicted colour looks like in words, and why a target is out of reach."""

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.scale.appearance import Level
from estimator.scale.level import level_of_colour
from estimator.toning.plan import Reason, ZoneRequest
from estimator.toning.targets import TONES, TargetRegion

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


def levels_to_lift(request: ZoneRequest) -> float:
    """How far the target lies above the hair's own level; 0 where it does not need lift. [levels]"""
    above = request.target.level - request.level.level
    return above if above > LIFT_FROM_LEVELS else 0.0


def look_of(lab_d65: FloatArray) -> str:
    """What the eye would call this colour: a tone's name, or what it has gone over to."""
    lightness, red_green, yellow_blue = lab_d65
    if yellow_blue < 0 < red_green:
        return "violet-grey" if lightness > VIOLET_IS_DARK_BELOW else "dark violet"
    if red_green < -GREEN_BEYOND:
        return "greenish" if yellow_blue > 0 else "slate blue"
    return min(WORDS_WITHIN_REACH, key=lambda word: float(np.linalg.norm(TONES[word].ab_at(lightness) - lab_d65[1:])))


def nearest_in_words(lab_d65: FloatArray) -> str:
    """A colour within reach, as a colourist would say it."""
    return f"about level {_level_of(lab_d65):.1f}, {look_of(lab_d65)}"


def left_longer(minutes: float, planned_lab_d65: FloatArray, longer_lab_d65: FloatArray) -> str:
    """One sentence on what the zone becomes where the mix stays on to `minutes`."""
    darker = _level_of(planned_lab_d65) - _level_of(longer_lab_d65)
    planned, longer = look_of(planned_lab_d65), look_of(longer_lab_d65)
    turns = f"it turns {longer}" if longer != planned else f"it stays {longer}"
    deeper = f" and {darker:.1f} levels deeper" if darker >= 0.1 else ""
    return f"Left to {minutes:.0f} minutes {turns}{deeper}."


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
        f"Level {request.target.level:g} lies {lift:.1f} levels above this zone, "
        f"which reads {request.level.level:.1f}; a toner never lightens.",
        "Lift first, or choose the zone's own level or a deeper one.",
    )


def _turns_green(request: ZoneRequest) -> Reason:
    return Reason(
        "turns_green",
        f"The nearest mix of this shelf would turn this zone green on the way to {request.target.tone}.",
        "Add a violet or a red to the shelf, or choose a warmer tone.",
    )


def _too_warm_to_hide(request: ZoneRequest) -> Reason:
    return Reason(
        "too_warm",
        f"Too much warmth is left ({request.warmth.stage}) for {request.target.tone} "
        f"at level {request.target.level:g}.",
        "Lift first, or choose a warmer or deeper target.",
    )


def _not_on_shelf(request: ZoneRequest, delta_e_2000: float) -> Reason:
    return Reason(
        "not_on_shelf",
        f"No mix of this shelf comes near {request.target.tone} at level {request.target.level:g}; "
        f"the nearest is {delta_e_2000:.0f} ΔE2000 away.",
        f"Add a shade that leans to {request.target.tone}, or choose another tone.",
    )


def _level_of(lab_d65: FloatArray) -> float:
    level: Level = level_of_colour(lab_d65, _NO_SPREAD)
    return level.level
