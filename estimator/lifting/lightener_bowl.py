"""Lightener weighed out: powder, developer and additive for each zone, and for the bowl."""

from collections.abc import Mapping
from dataclasses import dataclass

from estimator.lifting.lift_rules import lift_rule
from estimator.toning.grams import bowl_grams, toning_table, zone_grams
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import Density, HairFacts


@dataclass(frozen=True)
class LightenerMix:
    """What one zone, or a bowl, takes. All in grams, to the scale's step.

    developer_parts : To one part of powder, by weight; the additive stands beside both and changes neither.
    additive_grams : Weighed in as part of the whole.
    """

    developer: PeroxideStrength
    developer_parts: float
    powder_grams: float
    developer_grams: float
    additive_grams: float

    @property
    def total_grams(self) -> float:
        """Everything together."""
        return self.powder_grams + self.developer_grams + self.additive_grams

    @property
    def ratio_text(self) -> str:
        """Powder to developer, such as "1:1.5"."""
        return f"1:{self.developer_parts:g}"

    @property
    def on_head(self) -> PeroxideStrength:
        """Strength in the mix, thinned by powder and additive alike. Densities taken as equal."""
        return self.developer.mixed(self.powder_grams + self.additive_grams, self.developer_grams)


@dataclass(frozen=True)
class LightenerBowl:
    """One mix for the zones that share strength and thickness.

    whole : All of it, with a tenth for waste, rounded up to 5 g.
    batches : Mixed fresh in so many goes, since a mix weakens. fresh_minutes : how long one is used.
    """

    number: int
    whole: LightenerMix
    zones: tuple[str, ...]
    batches: int
    fresh_minutes: float


def lightener_grams(zone: str, hair: HairFacts, fringe_apart: bool) -> float:
    """Grams of lightener for a zone, without waste: half as much again as of toner, both faces soaked. [g]"""
    return zone_grams(zone, hair, fringe_apart) * lift_rule("times_toner_grams")


def mix_of(grams: float, developer: PeroxideStrength, developer_parts: float, additive_percent: float) -> LightenerMix:
    """So many grams shared out. additive_percent : of the whole, by weight."""
    step = float(toning_table("head_grams")["weigh_to_grams"])

    def weighed(exact: float) -> float:
        return step * round(exact / step)

    additive = weighed(grams * additive_percent / 100)
    powder = weighed((grams - additive) / (1 + developer_parts))
    return LightenerMix(developer, developer_parts, powder, weighed(grams - additive - powder), additive)


def bowls_of(
    grams: Mapping[str, float],
    mixes: Mapping[str, LightenerMix],
    hair: Mapping[str, HairFacts],
    additive_percent: float,
) -> tuple[LightenerBowl, ...]:
    """One bowl for each strength and thickness, in the order in which the zones come. All keyed by zone."""
    groups: dict[tuple[float, float], list[str]] = {}
    for zone, mix in mixes.items():
        groups.setdefault((mix.developer.volume, mix.developer_parts), []).append(zone)
    bowls = []
    for number, zones in enumerate(groups.values(), start=1):
        total = bowl_grams(grams[zone] for zone in zones)
        first = mixes[zones[0]]
        whole = mix_of(total, first.developer, first.developer_parts, additive_percent)
        # Much hair takes long to cover: the second half gets fresh mix.
        batches = 2 if any(hair[zone].density is Density.HIGH for zone in zones) else 1
        bowls.append(LightenerBowl(number, whole, tuple(zones), batches, lift_rule("mix_fresh_minutes")))
    return tuple(bowls)
