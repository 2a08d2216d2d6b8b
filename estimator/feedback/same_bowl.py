"""Bowls that are mixed already: minutes, predictions and intervals made anew for hair of which more is known now."""

from dataclasses import replace

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.toning.bowls import zone_work
from estimator.toning.grams import mixing_rules
from estimator.toning.mixing import shelf_absorption
from estimator.toning.plan import Bowl, Plan, ZonePlan, ZoneRequest
from estimator.toning.shades import Family, Shelf
from estimator.toning.timing import outer_minutes, strength_after
from estimator.toning.weighing import DRAWS_TO_WEIGH, draws_of
from estimator.toning.writing_out import Dose, Mix, ZoneWork, plan_notes, write_zone

HALF_MINUTES = 0.5


def same_bowls(plan: Plan, requests: tuple[ZoneRequest, ...], shelf: Shelf) -> Plan:
    """The plan with the bowls as they are, each zone at the minutes that now bring it nearest to its target.

    requests : Those of the plan, with what is known of their uptake now.
    """
    by_zone = {request.zone: request for request in requests}
    named = set(by_zone)
    mixes = {bowl.number: mix_of(bowl, shelf) for bowl in plan.bowls}
    zones = tuple(_anew(zone, _asked(zone, by_zone[zone.zone], plan), mixes, named) for zone in plan.zones)
    return replace(plan, zones=zones, notes=plan_notes(plan.bowls, zones, shelf))


def mix_of(bowl: Bowl, shelf: Shelf) -> Mix:
    """What a bowl does, by the shelf as it is known now."""
    on_shelf = shelf_absorption(shelf)
    row_of = dict(zip(on_shelf.names, on_shelf.added, strict=True))
    total = sum(count for _, count in bowl.parts)
    of_shade = {
        name: count / total * row_of[name] for name, count in bowl.parts if shelf.shade(name).family is not Family.CLEAR
    }
    rule = replace(mixing_rules()[bowl.kind], developer=bowl.developer)
    spread = {name: on_shelf.spread_of(name) for name in of_shade}
    return Mix(bowl.parts, np.sum(list(of_shade.values()), axis=0), rule, of_shade, spread)


def _asked(zone: ZonePlan, request: ZoneRequest, plan: Plan) -> ZoneWork:
    """The zone as the plan saw it: its target may have been found with the shelf, as the lightest within reach."""
    return zone_work(replace(request, target=zone.target), plan.scale)


def _anew(zone: ZonePlan, work: ZoneWork, mixes: dict[int, Mix], named: set[str]) -> ZonePlan:
    if zone.bowl_number is None:
        return zone
    mix = mixes[zone.bowl_number]
    dose = Dose(mix, _best_strength(work, mix), zone.bowl_number)
    return write_zone(work, dose, dose, named)


def _best_strength(work: ZoneWork, mix: Mix) -> float:
    """Share of the full dye that brings a zone nearest to its target, on the mean over what is not known."""
    aim, full = work.aim, mix.rule.full_minutes
    minutes = np.arange(1.0, outer_minutes() + HALF_MINUTES / 2, HALF_MINUTES)
    strengths = [strength_after(float(m), full, work.request.hair.porosity, aim.uptake.rate) for m in minutes]
    hair, uptake, _ = draws_of(aim, DRAWS_TO_WEIGH)

    def away(strength: float) -> float:
        results: FloatArray = hair.with_dye(uptake[:, None] * strength * mix.added)
        return float(delta_e_2000(results, aim.target_lab_d65).mean())

    return min(strengths, key=away)
