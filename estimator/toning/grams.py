"""Grams: what a zone takes, what a bowl holds, and how colour and developer share it."""

import math
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from estimator.toning.peroxide import NO_OXIDANT, PeroxideStrength
from estimator.toning.plan import HairFacts
from estimator.toning.shades import ShadeKind


@cache
def toning_table(name: str) -> dict[str, Any]:
    """A table of toning as TOML; a row without a source stops it. ValueError says which."""
    table = tomllib.loads(files("estimator.toning").joinpath(f"tables/{name}.toml").read_text(encoding="utf-8"))
    for key, rows in table.items():
        unsourced = [row for row in rows if not row.get("source")] if isinstance(rows, list) else []
        if unsourced:
            raise ValueError(f"Table {name}, [[{key}]]: {unsourced[0]} has no source; a row without one does not load.")
    return table


def head_share(zone: str) -> float:
    """Share of a whole head's mix that a zone of this name takes. 0-1"""
    table = toning_table("zone_shares")
    words = _words(zone)
    for row in table["zone"]:
        if words & set(row["words"]):
            return float(row["share"])
    return 1.0 if words & _regrowth_words() else float(table["other"]["share"])


def zone_grams(zone: str, hair: HairFacts, fringe_apart: bool = False) -> float:
    """Grams of mix for one zone, without waste. [g]

    fringe_apart : The fringe, which usually counts as part of the crown, is a zone of its own in this plan.
    """
    share = head_share(zone)
    if fringe_apart and "crown" in _words(zone):
        share -= head_share("fringe")
    factors = [row["times"] for row in toning_table("head_grams")["factor"] if row["word"] == getattr(hair, row["of"])]
    return float(share * _whole_head_grams(zone, hair.length_cm) * math.prod(factors))


def bowl_grams(zones_grams: Iterable[float]) -> float:
    """Grams of a bowl for these zones: a tenth more for waste, rounded up to 5 g. [g]"""
    table = toning_table("head_grams")
    step = float(table["round_up_to_grams"])
    # The small subtraction keeps 50.000000001 g, a sum of thirds, from becoming 55 g.
    return step * math.ceil(sum(zones_grams) * (1 + float(table["waste_share"])) / step - 1e-6)


@dataclass(frozen=True)
class MixingRule:
    """How a kind of colour is mixed. developer_parts : to one part of colour, by weight; 0 where none is added."""

    kind: ShadeKind
    developer: PeroxideStrength
    developer_parts: float
    weakest: PeroxideStrength
    strongest: PeroxideStrength
    full_minutes: float

    @property
    def ratio_text(self) -> str:
        """Colour to developer, such as "1:2"."""
        return f"1:{self.developer_parts:g}" if self.developer_parts else "no developer"

    @property
    def on_head(self) -> PeroxideStrength:
        """Strength in the mix."""
        return self.developer.mixed(1, self.developer_parts) if self.developer_parts else NO_OXIDANT


@cache
def mixing_rules() -> dict[ShadeKind, MixingRule]:
    """Rules for the kinds of colour that may tone; permanent colour has none and is left out of plans."""
    return {
        ShadeKind(row["kind"]): MixingRule(
            ShadeKind(row["kind"]),
            PeroxideStrength.from_volume(row["developer_volume"]),
            float(row["developer_parts"]),
            PeroxideStrength.from_volume(row["weakest_volume"]),
            PeroxideStrength.from_volume(row["strongest_volume"]),
            float(row["full_minutes"]),
        )
        for row in toning_table("kinds")["kind"]
    }


def colour_and_developer_grams(total_grams: float, developer_parts: float) -> tuple[float, float]:
    """Grams of colour and of developer in a bowl of this total, to the scale's step. [g]"""
    colour = _to_scale(total_grams / (1 + developer_parts))
    return colour, total_grams - colour


def shade_grams(parts: tuple[tuple[str, int], ...], colour_grams: float) -> tuple[tuple[str, float], ...]:
    """Grams of each shade, to the scale's step, adding up to `colour_grams`."""
    step = float(toning_table("head_grams")["weigh_to_grams"])
    whole = sum(count for _, count in parts)
    exact = [colour_grams * count / whole / step for _, count in parts]
    steps = [math.floor(share + 1e-9) for share in exact]
    left = round(colour_grams / step) - sum(steps)
    # What rounding down leaves goes where it lacks most.
    for place in sorted(range(len(parts)), key=lambda row: steps[row] - exact[row])[:left]:
        steps[place] += 1
    return tuple((name, step * count) for (name, _), count in zip(parts, steps, strict=True))


def _to_scale(grams: float) -> float:
    step = float(toning_table("head_grams")["weigh_to_grams"])
    return step * round(grams / step)


def _whole_head_grams(zone: str, length_cm: float) -> float:
    table = toning_table("head_grams")
    if _words(zone) & _regrowth_words():
        return float(table["regrowth"]["grams"])
    return float(next(row["grams"] for row in table["length"] if length_cm <= row["up_to_cm"]))


def _regrowth_words() -> set[str]:
    words = set(toning_table("head_grams")["regrowth"]["words"])
    return words | {f"{word}s" for word in words}


def _words(zone: str) -> set[str]:
    return set(re.findall(r"[a-z]+", zone.casefold()))
