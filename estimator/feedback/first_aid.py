"""First aid for a result that missed, in its order, and how far washing alone would mend it."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.feedback.figures import feedback_table
from estimator.feedback.signs import LIKELY_FROM, Miss
from estimator.toning.absorption import hair_absorption, lab_of
from estimator.toning.plan import Porosity
from estimator.toning.shades import Family

ANY_SIGN = "any"
SHARES_GONE: FloatArray = np.linspace(0.0, 0.75, 16)
WORTH_SHARE = 0.75  # of the distance to the target that may be left for washing to be worth telling; our assumption


class StepKind(StrEnum):
    """What a step of first aid is, the mildest first: steps stand in this order."""

    RINSE = "rinse"
    LOOK = "look"
    ASK = "ask"
    WASH = "wash"
    WAIT = "wait"
    BOWL = "bowl"
    LIGHTENER = "lightener"


@dataclass(frozen=True)
class FirstAid:
    """One step.

    sign : What it is against; "any" for what comes first in every case.
    local : It concerns a part of the zone alone, such as its ends.
    """

    sign: str
    kind: StepKind
    text: str
    source: str
    local: bool = False


@dataclass(frozen=True)
class Withheld:
    """A step that care does not allow today, and why. Its text is not shown: it would be a formula past a stop."""

    sign: str
    kind: StepKind
    why: str


@dataclass(frozen=True)
class Allowed:
    """What care allows today. An empty sentence allows; any other says why not.

    no_bowl, no_lightener : Why there is no second mix, and no lightener. copper : Whether it may be in the hair.
    """

    no_bowl: str
    no_lightener: str
    copper: bool


def first_aid_steps(miss: Miss, allowed: Allowed) -> tuple[FirstAid | Withheld, ...]:
    """The steps for one zone against all its likely signs: rinsing first, a second bowl late, a lightener last.

    Empty where nothing is to be mended. A step that two signs ask for stands once.
    """
    likely = [sign.code for sign in miss.signs if sign.odds >= LIKELY_FROM]
    if not likely:
        return ()
    rows = [
        row
        for sign in (ANY_SIGN, *likely)
        for row in feedback_table("rescue")["step"]
        if row["sign"] == sign and _fits(row, likely, allowed.copper)
    ]
    steps = {
        row["text"]: FirstAid(row["sign"], StepKind(row["kind"]), row["text"], row["source"], row.get("local", False))
        for row in rows
    }
    ordered = sorted(steps.values(), key=lambda step: list(StepKind).index(step.kind))
    return tuple(dict.fromkeys(_allowed_or_not(step, allowed) for step in ordered))


def wants_second_bowl(miss: Miss, copper: bool) -> bool:
    """Whether first aid for this zone holds a second mix for the whole of it, were everything allowed."""
    steps = first_aid_steps(miss, Allowed("", "", copper))
    return any(isinstance(step, FirstAid) and step.kind is StepKind.BOWL and not step.local for step in steps)


def _fits(row: dict[str, Any], likely: list[str], copper: bool) -> bool:
    """Whether a step belongs beside these signs: some stand only, or never, beside another sign or with copper."""
    return (
        row.get("if_copper", copper) == copper
        and row.get("if_sign", likely[0]) in likely
        and not set(row.get("unless_sign", ())) & set(likely)
    )


def _allowed_or_not(step: FirstAid, allowed: Allowed) -> FirstAid | Withheld:
    why = {StepKind.BOWL: allowed.no_bowl, StepKind.LIGHTENER: allowed.no_lightener}.get(step.kind, "")
    return Withheld(step.sign, step.kind, why) if why else step


# --- washing out ---


@dataclass(frozen=True, eq=False)
class WashOut:
    """How far washing alone would bring a zone to its target. All of it is common practice, not measured.

    share_gone : Of the dye that went in, when the zone is nearest to its target. 0-1
    washes_low, washes_high : Until then. lab_d65 : What it reads then.
    delta_e_2000_now, delta_e_2000_then : To the target.
    """

    share_gone: float
    washes_low: float
    washes_high: float
    lab_d65: FloatArray
    delta_e_2000_now: float
    delta_e_2000_then: float


def wash_out(
    before_lab_d65: FloatArray,
    after_lab_d65: FloatArray,
    target_lab_d65: FloatArray,
    families: Iterable[Family],
    porosity: Porosity,
) -> WashOut | None:
    """What washing would do; None where it would bring the zone no nearer.

    families : Of the shades on the hair; the one that leaves first tells the number of washes.
    """
    before, after = hair_absorption(np.array([before_lab_d65, after_lab_d65]))
    carried = after_lab_d65 - lab_of(after)
    colours = lab_of(after - SHARES_GONE[:, None] * np.maximum(after - before, 0.0)) + carried
    away = delta_e_2000(colours, target_lab_d65)
    best = int(np.argmin(away))
    if away[best] > WORTH_SHARE * away[0]:
        return None
    low, high = _washes(float(SHARES_GONE[best]), tuple(families), porosity)
    return WashOut(float(SHARES_GONE[best]), low, high, colours[best], float(away[0]), float(away[best]))


def _washes(share_gone: float, families: tuple[Family, ...], porosity: Porosity) -> tuple[float, float]:
    """Washes until that share is gone, where each takes the same share of what is left."""
    rows = [
        row for row in feedback_table("rescue")["fading"] if {str(family) for family in families} & set(row["families"])
    ]
    if not rows:
        rows = feedback_table("rescue")["fading"]
    times = float(np.log(1 - share_gone) / np.log(1 - figure("clearly_seen_share")))
    times *= figure("porous_washes_times") if porosity is Porosity.HIGH else 1.0
    return times * min(row["washes_low"] for row in rows), times * min(row["washes_high"] for row in rows)


def figure(name: str) -> float:
    """A figure of rescue. KeyError for a name that is none."""
    rows = {row["name"]: float(row["value"]) for row in feedback_table("rescue")["figure"]}
    return rows[name]
