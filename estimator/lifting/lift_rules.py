"""What the trade allows in a lift: strength, mix, visits, the base that a tone needs, the pace of each place."""

import re
from dataclasses import dataclass
from functools import cache
from math import floor

from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN
from estimator.lifting.figures import figure, lifting_table
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import StrandDiameter
from estimator.toning.targets import Target

HARDLY_ANY = 0.05  # levels: rounding noise


@dataclass(frozen=True)
class StrengthRule:
    """What one kind of hair may take for a lift of this many levels in one visit.

    developer_parts : To one part of powder, by weight.
    most_minutes : The outer limit of the lift.
    """

    hair: str
    weakest: PeroxideStrength
    strongest: PeroxideStrength
    developer_parts: float
    fewest_visits: int
    most_minutes: float


@cache
def lift_rule(code: str) -> float:
    """A single figure of the rules."""
    return next(float(row["value"]) for row in lifting_table("lift_rules")["rule"] if row["code"] == code)


def whole_levels(levels: float) -> int:
    """Levels as the trade's tables count them: halves go up."""
    return floor(levels + 0.5)


def base_level(target: Target) -> float:
    """The level that hair must be lifted to before a toner can make this target of it. 1-10"""
    row = next(row for row in lifting_table("lift_rules")["base"] if row["tone"] == target.tone)
    return float(min(max(target.level + row["levels_above"], row["least_level"]), 10.0))


def kinds_of_hair(diameter: StrandDiameter, facts: Facts) -> tuple[str, ...]:
    """Every kind that this hair counts as; the most careful of their rules holds. `facts`: the zone's own."""
    kinds = [str(diameter)]
    if facts.curl_pattern == "coily" or facts.curl_pattern is UNKNOWN:
        kinds.append("coily")
    if facts.touches_relaxed_hair is not False and facts.relaxer_kind != "none":
        kinds.append("thio")
    if facts.touches_lightened_hair is not False:
        kinds.append("lightened")
    return tuple(kinds)


def strength_rule(kinds: tuple[str, ...], levels: float, on_scalp: bool) -> StrengthRule | None:
    """The most careful of the rules for these kinds of hair; None where one of them forbids a lift so far."""
    found = [_row(kind, levels) for kind in kinds]
    rows = [row for row in found if row is not None]
    if len(rows) < len(found):
        return None
    most = "on_scalp_volume" if on_scalp else "strongest_volume"
    strongest = min(row[most] for row in rows)
    return StrengthRule(
        " and ".join(kinds),
        PeroxideStrength.from_volume(min(strongest, *(row["weakest_volume"] for row in rows))),
        PeroxideStrength.from_volume(strongest),
        max(float(row["parts_on_scalp" if on_scalp else "parts_off_scalp"]) for row in rows),
        max(int(row["fewest_visits"]) for row in rows),
        min(float(row.get("most_minutes", figure("outer_minutes"))) for row in rows),
    )


def most_levels_in_one_visit(kinds: tuple[str, ...]) -> int:
    """The furthest that the most careful of the rules for these kinds goes in one visit. [levels]"""
    rows = lifting_table("lift_rules")["strength"]
    return min(max(int(row["up_to_levels"]) for row in rows if row["hair"] == kind) for kind in kinds)


def developers(rule: StrengthRule) -> tuple[PeroxideStrength, ...]:
    """Developers on a salon's shelf that the rule allows, the mildest first."""
    volumes = lifting_table("lift_rules")["developer"][0]["volumes"]
    inside = [volume for volume in volumes if rule.weakest.volume <= volume <= rule.strongest.volume]
    return tuple(PeroxideStrength.from_volume(volume) for volume in inside or [rule.strongest.volume])


@dataclass(frozen=True)
class Visits:
    """How many visits a distance takes, fewest and most, and why more than usual."""

    fewest: int
    most: int
    because: tuple[str, ...]


def visits_for(levels: float, kinds: tuple[str, ...], facts: Facts) -> Visits | None:
    """Visits for this many levels; None where nothing is known to get so far."""
    weakened = facts.elasticity == "reduced"
    rows = lifting_table("lift_rules")["visits"]
    column = "delicate" if set(kinds) & {"coily", "thio", "lightened"} else "fine" if "fine" in kinds else "medium"
    whole = whole_levels(levels)
    row = next((row for row in rows if whole <= row["up_to_levels"]), None)
    if row is None:
        return None
    more = [extra for extra in lifting_table("lift_rules")["more_visits"] if extra["code"] in _slowed_by(facts)]
    fewest, most = (count + sum(extra["visits"] for extra in more) for count in row[column])
    because = [str(extra["why"]) for extra in more]
    if weakened and whole > lift_rule("levels_less_where_weakened"):
        # One level less in each visit: as many more as that leaves over.
        a_visit = max(whole / most - lift_rule("levels_less_where_weakened"), 1.0)
        most = max(most + 1, -(-whole // int(a_visit)))
        because.append("the hair stretches less than it should")
    return Visits(fewest, most, tuple(because))


def _slowed_by(facts: Facts) -> set[str]:
    colour = frozenset[str]() if facts.earlier_colour is UNKNOWN else facts.earlier_colour
    layers = 0.0 if facts.dark_dye_layers is UNKNOWN else facts.dark_dye_layers
    found = set()
    if layers >= 3:
        found.add("layers")
    elif "box" in colour or layers > 0:
        found.add("dyed")
    if colour & {"henna", "henna_compound", "unknown"}:
        found.add("henna-or-unknown")
    return found


@dataclass(frozen=True)
class Place:
    """How a place on the head lifts: its pace against mid-lengths, and whether it always comes last."""

    minutes_times: float
    last: bool


def place_of(zone: str) -> Place:
    """The place that a zone's name names; mid-lengths where it names none."""
    words = set(re.findall(r"[a-z]+", zone.casefold()))
    words |= {word.removesuffix("s") for word in words}
    for row in lifting_table("lift_rules")["place"]:
        if words & set(row["words"]):
            return Place(float(row["minutes_times"]), bool(row["last"]))
    return Place(1.0, False)


def _row(kind: str, levels: float) -> dict[str, float] | None:
    rows = [row for row in lifting_table("lift_rules")["strength"] if row["hair"] == kind]
    return next((row for row in rows if whole_levels(levels - HARDLY_ANY) <= row["up_to_levels"]), None)
