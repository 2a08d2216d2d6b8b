"""The plan of a lift: for each zone how far today, with what, how long, in which order; judged by care before it shows.

A stop hides the mix, the strength and the minutes of the zone that it is about.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from estimator.care.answers import Answer
from estimator.care.facts import Facts
from estimator.care.rules import judge_with_answers
from estimator.care.unknown import UNKNOWN, Unknown
from estimator.care.verdicts import WORST_FIRST, CareFinding, CareVerdict, verdict_from
from estimator.errors import BadInputError
from estimator.lifting.additives import NO_ADDITIVE, additive_step, checked_percent
from estimator.lifting.curve import LiftCurve, carried_over, fit_curve
from estimator.lifting.figures import figure
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
from estimator.lifting.lightener_bowl import LightenerBowl, LightenerMix, bowls_of, lightener_grams, mix_of
from estimator.lifting.stopping import Forecast, forecast
from estimator.lifting.strand import Strand
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.scale.appearance import Level, Warmth
from estimator.scale.level import LevelScale
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import MOST_ZONES, Density, HairFacts, Reason, StrandDiameter
from estimator.toning.reach import COOLER_THAN_NEUTRAL, ORANGE_OR_REDDER
from estimator.toning.targets import Target

NEVER_LIGHTENED_WEEKS = 999


@dataclass(frozen=True)
class LiftRequest:
    """One zone to lift.

    touches_scalp, touches_relaxed_hair, touches_lightened_hair : Where the mix will lie; UNKNOWN counts as the worse.
    tested : The curve of a strand of this zone; None where none was tested.
    """

    zone: str
    level: Level
    warmth: Warmth
    target: Target
    hair: HairFacts = HairFacts()  # noqa: RUF009
    touches_scalp: bool | Unknown = UNKNOWN
    touches_relaxed_hair: bool | Unknown = UNKNOWN
    touches_lightened_hair: bool | Unknown = UNKNOWN
    tested: LiftCurve | None = None


@dataclass(frozen=True)
class LiftSettings:
    """What the colourist adds.

    additive_percent : Of the whole bowl, as the additive's maker says; 0 for none.
    scale : The salon's level scale; the default one where None.
    """

    additive_percent: float = NO_ADDITIVE
    scale: LevelScale | None = None

    def __post_init__(self) -> None:
        checked_percent(self.additive_percent)


@dataclass(frozen=True)
class Client:
    """Who is judged: facts, answers to findings, and the day."""

    facts: Facts
    day: date
    answers: tuple[Answer, ...] = ()

    def judged_with(self, facts: Facts) -> CareVerdict:
        """Care's verdict on these facts with the client's answers."""
        return judge_with_answers(facts, self.answers, self.day)


@dataclass(frozen=True, eq=False)
class ZoneLift:
    """What one zone gets.

    base_level : What it must be lifted to before the toner; level_today : the aim of this visit.
    visits : None where no lift is needed, or nothing known gets so far.
    mix, forecast, check_every_minutes : None where care says stop, no lift is needed, or no mix is allowed.
    most_minutes : The clock's maximum; None without a mix.
    order : 1 is put on first; None without a mix.
    """

    zone: str
    target: Target
    level_now: Level
    base_level: float
    level_today: float
    levels_today: float
    visits: Visits | None
    reachable_today: bool
    care: CareVerdict
    mix: LightenerMix | None
    forecast: Forecast | None
    most_minutes: float | None
    first_check_minutes: float | None
    check_every_minutes: float | None
    order: int | None
    reasons: tuple[Reason, ...] = ()
    basis: str = ""

    @property
    def needs_lift(self) -> bool:
        return self.levels_today > 0


@dataclass(frozen=True, eq=False)
class LiftPlan:
    """All zones, in the order in which they are put on; the bowls; care's worst word over all of them.

    earliest_next_visit_weeks : Between two lightenings; None where one visit is enough.
    """

    zones: tuple[ZoneLift, ...]
    bowls: tuple[LightenerBowl, ...]
    care: CareVerdict
    notes: tuple[str, ...]
    earliest_next_visit_weeks: float | None

    @property
    def hidden(self) -> tuple[str, ...]:
        """Zones whose mix a stop hides."""
        return tuple(lift.zone for lift in self.zones if lift.care.is_stop)


@dataclass(frozen=True, eq=False)
class _Draft:
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
    grams: float = field(default=0.0)

    @property
    def levels(self) -> float:
        return max(self.today - self.request.level.level, 0.0)


def plan_lift(requests: tuple[LiftRequest, ...], client: Client, settings: LiftSettings | None = None) -> LiftPlan:
    """The lift of each zone, judged by care with its own figures. Raises BadInputError for no zones or twins."""
    settings = settings or LiftSettings()
    names = [request.zone for request in requests]
    if not 1 <= len(names) <= MOST_ZONES or len(set(names)) < len(names):
        raise BadInputError(f"{len(names)} zones to lift were given; name 1 to {MOST_ZONES}, each once.")
    fringe_apart = any("fringe" in name.casefold() for name in names)
    drafts = [
        replace(_draft(request, client, settings), grams=lightener_grams(request.zone, request.hair, fringe_apart))
        for request in requests
    ]
    judged = [(draft, _judged(draft, client)) for draft in drafts]
    judged.sort(key=lambda pair: _order_key(pair[0]))
    zones = _numbered(tuple(_zone_lift(draft, care, settings) for draft, care in judged))
    mixes = {lift.zone: lift.mix for lift in zones if lift.mix is not None}
    grams = {draft.request.zone: draft.grams for draft in drafts}
    hair = {request.zone: request.hair for request in requests}
    bowls = bowls_of(grams, mixes, hair, settings.additive_percent)
    again = any(lift.visits is not None and lift.visits.most > 1 for lift in zones)
    weeks = lift_rule("weeks_between_visits") if again else None
    return LiftPlan(zones, bowls, _worst_of(zones), _notes(zones, hair, weeks), weeks)


# --- one zone


def _draft(request: LiftRequest, client: Client, settings: LiftSettings) -> _Draft:
    facts = _own_facts(request, client.facts)
    base = _base_level(request)
    distance = base - request.level.level
    if distance < lift_rule("least_lift_levels"):
        return _Draft(request, facts, base, request.level.level, None, None, None, None)
    kinds = kinds_of_hair(request.hair.strand_diameter, facts)
    visits = visits_for(distance, kinds, facts)
    # Hair that may be darker than it reads may need one visit more.
    darker = visits_for(base - request.level.level_low, kinds, facts)
    if visits is None or darker is None:
        return _Draft(request, facts, base, request.level.level, None, None, None, None, (_too_far(distance),))
    most = most_levels_in_one_visit(kinds)
    one = strength_rule(kinds, min(distance, most), request.touches_scalp is not False)
    fewest = max(visits.fewest, -(-whole_levels(distance) // most), one.fewest_visits if one is not None else 1)
    visits = Visits(fewest, max(visits.most, darker.most, fewest), visits.because)
    draft = _with_mix(request, facts, min(distance / fewest, most), kinds, settings)
    if draft.forecast is not None and draft.forecast.odds < lift_rule("likely_odds") and visits.most == fewest:
        visits = replace(visits, most=fewest + 1)
    return replace(draft, base=base, visits=visits)


def _with_mix(
    request: LiftRequest, facts: Facts, levels: float, kinds: tuple[str, ...], settings: LiftSettings
) -> _Draft:
    """The mildest developer that is likely to lift so far today; the strongest allowed where none is."""
    today = request.level.level + levels
    rule = strength_rule(kinds, levels, request.touches_scalp is not False)
    if rule is None:
        raise ValueError(f"{levels:.1f} levels are beyond the rules for {kinds}; the caller splits them into visits.")
    for developer in _gentle_first(rule, request, facts):
        curve = _curve(request, developer, facts, settings)
        if curve.reach(today, rule.most_minutes).likely:
            break
    return _Draft(request, facts, today, today, None, rule, curve, forecast(curve, today, rule.most_minutes))


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


# --- care


def _own_facts(request: LiftRequest, facts: Facts) -> Facts:
    """The client's facts as this zone has them: where the mix will lie, and the worse of two words on the strand."""
    weeks = facts.lightened_weeks_ago
    lies: dict[str, bool | Unknown] = {
        "touches_scalp": True,
        "touches_relaxed_hair": facts.relaxer_kind if facts.relaxer_kind is UNKNOWN else facts.relaxer_kind != "none",
        "touches_lightened_hair": weeks if weeks is UNKNOWN else weeks < NEVER_LIGHTENED_WEEKS,
    }
    said = {name: getattr(request, name) for name in lies if getattr(request, name) is not UNKNOWN}
    own = facts.with_plan_figures(**{**lies, **said})
    if request.hair.strand_diameter is StrandDiameter.FINE:
        own = replace(own, strand_diameter="fine")
    return replace(own, density="high") if request.hair.density is Density.HIGH else own


def _judged(draft: _Draft, client: Client) -> CareVerdict:
    if draft.levels <= 0 and not draft.reasons:
        return verdict_from([])
    volume = draft.curve.strand.developer.volume if draft.curve is not None else 0.0
    visits = draft.visits.most if draft.visits is not None else 1
    figures = draft.facts.with_plan_figures(
        wants_lightener=True,
        lightener_volume=volume,
        levels_to_lift=min(draft.levels, 10.0),
        lightening_passes_today=1,
        minutes_planned=draft.rule.most_minutes if draft.rule is not None else 0.0,
        visits_needed=visits,
    )
    return client.judged_with(figures)


def _worst_of(zones: tuple[ZoneLift, ...]) -> CareVerdict:
    """Every finding of every zone once, the worst first; an answered one never stands for an open one."""
    found: dict[tuple[str, str], CareFinding] = {}
    for lift in zones:
        for finding in lift.care.findings:
            key = (finding.code, finding.message)
            known = found.get(key)
            if known is None or WORST_FIRST.index(finding.verdict) < WORST_FIRST.index(known.verdict):
                found[key] = finding
    return verdict_from(list(found.values()))


# --- put together


def _order_key(draft: _Draft) -> tuple[bool, float]:
    """Slow zones first, roots last: the scalp warms them."""
    place = place_of(draft.request.zone)
    pace = draft.curve.strand.pace_times * draft.levels if draft.curve is not None else 0.0
    return place.last, -pace


def _zone_lift(draft: _Draft, care: CareVerdict, settings: LiftSettings) -> ZoneLift:
    request, shown = draft.request, draft.forecast is not None and not care.is_stop
    rule, curve = draft.rule, draft.curve
    mix = told = None
    if shown and rule is not None and curve is not None:
        mix = mix_of(draft.grams, curve.strand.developer, rule.developer_parts, settings.additive_percent)
        told = draft.forecast
    odds = draft.forecast.odds if draft.forecast is not None else 0.0
    once = draft.visits is not None and draft.visits.fewest == 1
    every = _check_minutes(draft)
    return ZoneLift(
        zone=request.zone,
        target=request.target,
        level_now=request.level,
        base_level=draft.base,
        level_today=draft.today,
        levels_today=draft.levels,
        visits=draft.visits,
        reachable_today=(draft.levels == 0 and not draft.reasons) or (once and odds >= lift_rule("likely_odds")),
        care=care,
        mix=mix,
        forecast=told,
        most_minutes=rule.most_minutes if mix is not None and rule is not None else None,
        first_check_minutes=every if mix is not None else None,
        check_every_minutes=every if mix is not None else None,
        order=None,
        reasons=draft.reasons,
        basis=curve.basis if mix is not None and curve is not None else "",
    )


def _check_minutes(draft: _Draft) -> float:
    quick = draft.request.hair.strand_diameter is StrandDiameter.FINE or draft.facts.curl_pattern == "coily"
    porous = draft.request.hair.porosity in ("high", "uneven")
    return figure("near_check_minutes") if quick or porous or draft.levels <= 1 else figure("check_minutes")


def _numbered(zones: tuple[ZoneLift, ...]) -> tuple[ZoneLift, ...]:
    mixed = [lift.zone for lift in zones if lift.mix is not None]
    return tuple(replace(lift, order=mixed.index(lift.zone) + 1 if lift.zone in mixed else None) for lift in zones)


def _notes(zones: tuple[ZoneLift, ...], hair: Mapping[str, HairFacts], weeks: float | None) -> tuple[str, ...]:
    notes = []
    stopped = [lift.zone for lift in zones if lift.care.is_stop]
    if stopped:
        notes.append(f"Care says stop for {', '.join(stopped)}: no mix is shown there until the reason is gone.")
    trap = [
        zone
        for zone, facts in hair.items()
        if facts.strand_diameter is StrandDiameter.FINE and facts.density is Density.HIGH
    ]
    if trap:
        notes.append(
            f"{', '.join(trap)}: much hair, but each strand is thin. It looks strong and is not: mild mix, thin "
            "slices, quick lift. Start the two halves apart, with fresh mix for the second, and look every few minutes."
        )
    if weeks is not None:
        kinder = lift_rule("kinder_weeks_between_visits")
        notes.append(f"At least {weeks:g} weeks between two lightenings; {kinder:g} to 8 are kinder.")
    if any(lift.mix is not None for lift in zones):
        notes.append("Slowest zones first, roots last with fresh mix. Eye and skin decide before the clock does.")
        notes.append("Stop at pale yellow: what is left to white is the toner's work.")
    return tuple(notes)
