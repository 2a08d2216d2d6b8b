"""Bowls and zones written out: grams, minutes, the predicted result with its spread, and what to know about it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.scale.level import level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.absorption import lab_slope
from estimator.toning.grams import (
    MixingRule,
    bowl_grams,
    colour_and_developer_grams,
    shade_grams,
    zone_grams,
)
from estimator.toning.mixing import Hair, hair_of
from estimator.toning.peroxide import LIFT_STARTS_AT_VOLUME
from estimator.toning.plan import Bowl, Reason, ZonePlan, ZoneRequest
from estimator.toning.reach import (
    Course,
    left_longer,
    levels_to_lift,
    nearest_in_words,
    reasons_of_porous_hair,
    reasons_out_of_reach,
)
from estimator.toning.shades import ShadeKind, Shelf
from estimator.toning.targets import Scale, TargetRegion
from estimator.toning.timing import Timing, comfortable_minutes, minutes_for, outer_minutes, strength_after, timing_of
from estimator.toning.uptake import Uptake, UptakeBasis
from estimator.toning.weighing import DRAWS_TO_TELL, LAW_LAB_SD, MODEL_LAB_SD, Aim, draws_of

# The warning about leaving it on looks at the outer limit, or at twice the planned minutes where that is more.
LONGER_TIMES = 2.0
MINUTES_LOOKED_AT = 41
ONE_IN_TWENTY = 1.645  # standard deviations
WIDE_LIGHTNESS_SD = 4.0  # about a level either way, nine in ten
OWN_BOWL_GAINS = 1.5  # [ΔE2000] what a bowl of its own must gain to be worth telling
COSTS_LEVELS = 0.5  # darkening worth telling


@dataclass(frozen=True, eq=False)
class ZoneWork:
    """A request, the region that counts as reached, and the zone as the search sees it."""

    request: ZoneRequest
    region: TargetRegion
    aim: Aim
    scale: Scale = None


@dataclass(frozen=True, eq=False)
class Mix:
    """One recipe: named parts with clear among them, its K/S at full strength, and how its kind is mixed.

    of_shade : What each shade but clear adds to that K/S.
    spread : Covariance of the log of that, by shade; empty where it is not known shade by shade.
    """

    parts: tuple[tuple[str, int], ...]
    added: FloatArray
    rule: MixingRule
    of_shade: Mapping[str, FloatArray]
    spread: Mapping[str, FloatArray] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Dose:
    """A mix, the share of its dye that is let in, and the number of its bowl (0: of none)."""

    mix: Mix
    strength: float
    bowl_number: int


def write_zone(zone: ZoneWork, dose: Dose | None, nearest: Dose, named: set[str]) -> ZonePlan:
    """What a zone gets and becomes.

    dose : None where it is left as it is. nearest : the best that could be had for it.
    named : Names of all zones of the plan.
    """
    request, uptake = zone.request, zone.aim.uptake
    added = uptake.mean * dose.strength * dose.mix.added if dose else np.zeros_like(nearest.mix.added)
    now = hair_of(zone.aim.lab_d65)
    predicted = now.with_dye(added)[0]
    results = _possible_results(zone.aim, dose)
    covariance = np.cov(results.T)
    best = now.with_dye(uptake.mean * nearest.strength * nearest.mix.added)[0]
    reasons, timing = _reasons(zone, nearest, best), _timing(zone, dose)
    return ZonePlan(
        zone=request.zone,
        bowl_number=dose.bowl_number if dose else None,
        target=request.target,
        target_lab_d65=zone.region.centre_lab_d65,
        now_lab_d65=zone.aim.lab_d65,
        predicted_lab_d65=predicted,
        predicted_covariance=covariance,
        predicted_level=level_of_colour(predicted, covariance, zone.scale),
        predicted_warmth=warmth_of_colour(predicted, covariance),
        expected_delta_e_2000=float(delta_e_2000(results, zone.region.centre_lab_d65).mean()),
        odds_inside=float(zone.region.holds(results).mean()),
        deposit_strength=dose.strength if dose else 0.0,
        grams=zone_grams(request.zone, request.hair, "fringe" in named) if dose else 0.0,
        minutes_low=timing.minutes_low,
        minutes_high=timing.minutes_high,
        first_check_minutes=timing.first_check_minutes,
        check_every_minutes=timing.check_every_minutes,
        if_left_longer=_if_left_longer(zone, now, dose) if dose else "",
        out_of_reach=reasons,
        nearest_text=nearest_in_words(best, zone.scale) if reasons else "",
        notes=_zone_notes(zone, dose, predicted, best),
        rests_on=uptake.basis,
    )


def _reasons(zone: ZoneWork, nearest: Dose, best: FloatArray) -> tuple[Reason, ...]:
    request = zone.request
    away = float(delta_e_2000(best, zone.aim.target_lab_d65))
    least = minutes_for(nearest.strength, nearest.mix.rule.full_minutes, request.hair.porosity, zone.aim.uptake.rate)
    reasons = reasons_out_of_reach(request, best, zone.region, away)
    if any(reason.code == "needs_lift" for reason in reasons):
        return reasons
    return (*reasons, *reasons_of_porous_hair(request, least))


def _possible_results(aim: Aim, dose: Dose | None) -> FloatArray:
    """Colours that the zone may have afterwards, evenly drawn. shape (draws, 3)."""
    hair, uptake, scatter = draws_of(aim, DRAWS_TO_TELL)
    if dose is None:
        return hair.lab_d65
    knows = aim.uptake.knows(dose.mix.of_shade)
    spread = _spread_of_spectra(aim, dose) + (_spread_by_shade(aim, dose) if knows else 0)
    scattered = (scatter / MODEL_LAB_SD) @ np.linalg.cholesky(spread).T
    taken = np.full(len(uptake), aim.uptake.mean) if knows else uptake
    results: FloatArray = hair.with_dye(taken[:, None] * dose.strength * dose.mix.added) + scattered
    return results


def _spread_of_spectra(aim: Aim, dose: Dose) -> FloatArray:
    """Covariance of the result that comes from the law and from not knowing the spectra of the shades. shape (3, 3)."""
    mix = dose.mix
    if set(mix.spread) != set(mix.of_shade):
        return np.diag(MODEL_LAB_SD**2)
    times = aim.uptake.mean * dose.strength
    slope = lab_slope(hair_of(aim.lab_d65).absorption[0] + times * mix.added)
    spread = np.diag(LAW_LAB_SD**2)
    for name, added in mix.of_shade.items():
        by_log = slope * (times * added)
        spread = spread + by_log @ mix.spread[name] @ by_log.T
    return spread


def _spread_by_shade(aim: Aim, dose: Dose) -> FloatArray:
    """Covariance of the result that comes from not knowing the dose of each shade. shape (3, 3)."""
    assert aim.uptake.by_shade is not None
    names = tuple(dose.mix.of_shade)
    step = 0.05
    times = aim.uptake.mean * dose.strength
    each = step * times * np.array([dose.mix.of_shade[name] for name in names])
    ends = hair_of(aim.lab_d65).with_dye(times * dose.mix.added + np.concatenate([each, -each]))
    slope = (ends[: len(names)] - ends[len(names) :]) / (2 * step)
    spread: FloatArray = slope.T @ aim.uptake.by_shade.of(names) @ slope
    return spread


def _timing(zone: ZoneWork, dose: Dose | None) -> Timing:
    if dose is None:
        return Timing(0.0, 0.0, 0.0, 0.0)
    request, rule = zone.request, dose.mix.rule
    known = _uptake_of_mix(zone.aim.uptake, dose.mix)
    return timing_of(dose.strength, rule.full_minutes, request.hair.porosity, request.level.level, known)


def _uptake_of_mix(uptake: Uptake, mix: Mix) -> Uptake:
    """The uptake with the spread of this very mix, where shades are known apart."""
    if not uptake.knows(mix.of_shade) or uptake.by_shade is None:
        return uptake
    share = np.array([row.sum() for row in mix.of_shade.values()]) / mix.added.sum()
    log_variance = share @ uptake.by_shade.of(tuple(mix.of_shade)) @ share
    return replace(uptake, sd=uptake.mean * float(np.sqrt(log_variance)))


def _if_left_longer(zone: ZoneWork, now: Hair, dose: Dose) -> str:
    full_minutes, porosity, uptake = dose.mix.rule.full_minutes, zone.request.hair.porosity, zone.aim.uptake
    planned = minutes_for(dose.strength, full_minutes, porosity, uptake.rate)
    last = max(outer_minutes(), LONGER_TIMES * planned)
    minutes = np.linspace(planned, last, MINUTES_LOOKED_AT)
    strengths = [strength_after(float(minute), full_minutes, porosity, uptake.rate) for minute in minutes]
    strengths[0] = dose.strength
    course = now.with_dye(uptake.mean * np.array(strengths)[:, None] * dose.mix.added)
    fast = 1 + ONE_IN_TWENTY * _uptake_of_mix(uptake, dose.mix).sd / uptake.mean
    return left_longer(Course(minutes, course, fast ** (-1 / uptake.rate)), zone.scale)


def _zone_notes(zone: ZoneWork, dose: Dose | None, predicted: FloatArray, best: FloatArray) -> tuple[str, ...]:
    request, notes = zone.request, []
    if dose is None and not levels_to_lift(request):
        notes.append("Left as it is: none of these bowls brings it nearer to its target.")
    reached, within_reach = delta_e_2000(np.array([predicted, best]), zone.aim.target_lab_d65)
    if zone.aim.shared and reached - within_reach > OWN_BOWL_GAINS:
        notes.append(f"A bowl of its own would bring it nearer: {nearest_in_words(best, zone.scale)}.")
    if dose and _timing(zone, dose).minutes_high < comfortable_minutes():
        notes.append("It takes colour within minutes here: put it on last and stay with it.")
    exact = np.zeros((3, 3))
    costs = request.level.level - level_of_colour(predicted, exact, zone.scale).level
    if costs >= COSTS_LEVELS:
        notes.append(f"This tone costs {costs:.1f} levels of lightness.")
    if float(np.sqrt(zone.aim.covariance[0, 0])) > WIDE_LIGHTNESS_SD:
        notes.append("The reading of this zone is wide: tone a strand first.")
    return tuple(notes)


def write_bowl(number: int, mix: Mix, zones: tuple[ZonePlan, ...], shelf: Shelf) -> Bowl:
    """One bowl for these zones, weighed out."""
    total = bowl_grams(zone.grams for zone in zones)
    colour, developer = colour_and_developer_grams(total, mix.rule.developer_parts)
    weighed = shade_grams(mix.parts, colour)
    return Bowl(
        number=number,
        parts=mix.parts,
        shade_grams=weighed,
        developer=mix.rule.developer,
        ratio_text=mix.rule.ratio_text,
        developer_grams=developer,
        total_grams=total,
        on_head=mix.rule.on_head,
        zones=tuple(zone.zone for zone in zones),
        kind=mix.rule.kind,
        price=_price(weighed, shelf),
    )


def _price(weighed: tuple[tuple[str, float], ...], shelf: Shelf) -> float | None:
    prices = [(shelf.shade(name).price_per_gram, grams) for name, grams in weighed]
    if any(price is None for price, _ in prices):
        return None
    return sum(price * grams for price, grams in prices if price is not None)


def plan_notes(bowls: tuple[Bowl, ...], zones: tuple[ZonePlan, ...], shelf: Shelf) -> tuple[str, ...]:
    """Sentences that belong beside the whole plan, the weightiest first."""
    notes = []
    if bowls:
        notes.append("Deposit only: a toner colours and never lightens.")
    warming = [bowl for bowl in bowls if not bowl.developer.deposit_only]
    if warming:
        notes.append(
            f"At {LIFT_STARTS_AT_VOLUME:g} volume a toner is no longer deposit only: bare natural hair may warm up "
            "by half a level. Keep it off natural roots, or take a weaker developer."
        )
    elif any(bowl.kind is ShadeKind.DEMI_ALKALINE for bowl in bowls):
        notes.append("An alkaline toner can warm bare natural hair a little: keep it off natural roots.")
    if bowls:
        notes.append("Ends take colour fast: do them last.")
        notes.append(
            "Ratios, grams, developer and minutes follow common practice; how far the dye goes in with time is an "
            "assumption. The maker's instructions stand above them."
        )
        notes.extend(_what_uptake_rests_on(zones))
    if any(shade.kind is ShadeKind.PERMANENT for shade in shelf.shades):
        notes.append("Permanent shades were left out: they are no toner for lightened hair.")
    if any(zone.out_of_reach for zone in zones):
        notes.append("Some targets are out of reach; the reasons stand at their zones.")
    return tuple(notes)


def _what_uptake_rests_on(zones: tuple[ZonePlan, ...]) -> list[str]:
    dyed = [zone for zone in zones if zone.bowl_number is not None]
    known = [basis for basis in UptakeBasis if basis is not UptakeBasis.COMMON_PRACTICE]
    return [
        f"Uptake and minutes rest on {basis}: {', '.join(named)}."
        for basis in known
        if (named := [zone.zone for zone in dyed if zone.rests_on is basis])
    ]
