"""One zone's lift before care has looked: how far, in how many visits, the mildest mix that is likely to do it."""

from dataclasses import dataclass, replace

from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN
from estimator.lifting.additives import additive_step
from estimator.lifting.curve import LiftCurve, carried_over, fit_curve
from estimator.lifting.lift_care import facts_of_lift
from estimator.lifting.lift_plan import Client, LiftRequest, LiftSettings
from estimator.lifting.lift_rules import (
    StrengthRule,
    Visits,
    base_level,
    developers,
    kinds_of_hair,
    lift_rule,
    most_levels_in_one_visit,
    place_of,
    strength_rule,
    visits_for,
    whole_levels,
)
from estimator.lifting.stopping import Forecast, forecast
from estimator.lifting.strand import Strand
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import Density, Reason, StrandDiameter
from estimator.toning.reach import COOLER_THAN_NEUTRAL, ORANGE_OR_REDDER


@dataclass(frozen=True, eq=False)
class LiftDraft:
    """A zone's lift before care has looked at its figures."""

    request: LiftRequest
    facts: Facts
    base: float
    today: float
    visits: Visits | None
    rule: StrengthRule | None
    curve: LiftCurve | None
    forecast: Forecast | None
    reasons: tuple[Reason, ...] = ()
    grams: float = 0.0

    @property
    def levels(self) -> float:
        return max(self.today - self.request.level.level, 0.0)


def draft_lift(request: LiftRequest, client: Client, settings: LiftSettings) -> LiftDraft:
    """The zone's lift as the rules and its curve have it. Raises BadInputError."""
    facts = facts_of_lift(request, client.zoned)
    base = _base_level(request)
    distance = base - request.level.level
    if distance < lift_rule("least_lift_levels"):
        return LiftDraft(request, facts, base, request.level.level, None, None, None, None)
    kinds = kinds_of_hair(request.hair.strand_diameter, facts)
    visits = visits_for(distance, kinds, facts)
    # Hair that may be darker than it reads may need one visit more.
    darker = visits_for(base - request.level.level_low, kinds, facts)
    if visits is None or darker is None:
        return LiftDraft(request, facts, base, request.level.level, None, None, None, None, (_too_far(distance),))
    most = most_levels_in_one_visit(kinds)
    one = strength_rule(kinds, min(distance, most), request.touches_scalp is not False)
    fewest = max(visits.fewest, -(-whole_levels(distance) // most), one.fewest_visits if one is not None else 1)
    visits = Visits(fewest, max(visits.most, darker.most, fewest), visits.because)
    draft, count = _in_few_visits(request, facts, (distance, most), kinds, (visits, settings))
    if draft.forecast is not None and draft.forecast.odds < lift_rule("likely_odds") and visits.most == count:
        visits = replace(visits, most=count + 1)
    return replace(draft, base=base, visits=replace(visits, fewest=count))


def _in_few_visits(
    request: LiftRequest,
    facts: Facts,
    levels: tuple[float, int],
    kinds: tuple[str, ...],
    within: tuple[Visits, LiftSettings],
) -> tuple[LiftDraft, int]:
    """Today's part of the way where it is shared by the fewest visits that are likely to do it, and their number."""
    (distance, most), (visits, settings) = levels, within
    for count in range(visits.fewest, visits.most + 1):
        draft = _with_mix(request, facts, min(distance / count, most), kinds, settings)
        if draft.forecast is not None and draft.forecast.odds >= lift_rule("likely_odds"):
            break
    return draft, count


def _with_mix(
    request: LiftRequest, facts: Facts, levels: float, kinds: tuple[str, ...], settings: LiftSettings
) -> LiftDraft:
    """The mildest developer that is likely to lift so far today; the strongest allowed where none is."""
    today = request.level.level + levels
    rule = strength_rule(kinds, levels, request.touches_scalp is not False)
    if rule is None:
        raise ValueError(f"{levels:.1f} levels are beyond the rules for {kinds}; the caller splits them into visits.")
    for developer in _gentle_first(rule, request, facts):
        curve = _curve(request, developer, facts, settings)
        if curve.reach(today, rule.most_minutes).likely:
            break
    return LiftDraft(request, facts, today, today, None, rule, curve, forecast(curve, today, rule.most_minutes))


def _gentle_first(rule: StrengthRule, request: LiftRequest, facts: Facts) -> tuple[PeroxideStrength, ...]:
    allowed = developers(rule)
    delicate = facts.elasticity == "reduced" or facts.breakage == "some"
    many_fine = request.hair.strand_diameter is StrandDiameter.FINE and request.hair.density is Density.HIGH
    return allowed[:1] if delicate or many_fine else allowed


def _curve(request: LiftRequest, developer: PeroxideStrength, facts: Facts, settings: LiftSettings) -> LiftCurve:
    slower = additive_step("lightener").minutes_times if settings.additive_percent > 0 else 1.0
    sd = max((request.level.level_high - request.level.level_low) / (2 * NINE_IN_TEN), 0.05)
    strand = Strand(
        request.hair.strand_diameter,
        developer,
        min(max(request.level.level, 1.0), 10.0),
        min(sd, 5.0),
        _dyed(facts),
        place_of(request.zone).minutes_times * slower,
    )
    return fit_curve(strand, (), settings.scale) if request.tested is None else carried_over(request.tested, strand)


def _dyed(facts: Facts) -> bool:
    return facts.earlier_colour is UNKNOWN or bool(facts.earlier_colour)


def _base_level(request: LiftRequest) -> float:
    base = base_level(request.target)
    if request.target.tone in COOLER_THAN_NEUTRAL and request.warmth.stage in ORANGE_OR_REDDER:
        # No toner hides orange at its own level: at least one level of it must go.
        base = max(base, min(request.level.level + 1, 10.0))
    return base


def _too_far(distance: float) -> Reason:
    return Reason(
        "too-far",
        f"{distance:.1f} levels are further than any number of visits is known to lift soundly.",
        "Agree a darker goal.",
    )
