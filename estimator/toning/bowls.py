"""The plan: recipes weighed, few bowls shared between the zones, grams, minutes and what each zone becomes."""

from dataclasses import dataclass, replace

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.errors import BadInputError, EmptyShelfError
from estimator.scale.level import lightness_of_level
from estimator.toning.grams import MixingRule, mixing_rules
from estimator.toning.mixing import shelf_absorption
from estimator.toning.plan import MOST_ZONES, Plan, PlanSettings, ZoneRequest
from estimator.toning.reach import levels_to_lift
from estimator.toning.shades import Family, Shade, ShadeKind, Shelf
from estimator.toning.sharing import LEFT_ALONE, IntArray, Sharing, share_bowls
from estimator.toning.targets import TONES, target_region
from estimator.toning.timing import haste_of, strength_steps, usual_uptake
from estimator.toning.weighing import DRAWS_TO_WEIGH, Aim, Recipes, draws_of, weigh_recipes
from estimator.toning.writing_out import Dose, Mix, ZoneWork, plan_notes, write_bowl, write_zone


@dataclass(frozen=True, eq=False)
class _Tray:
    """All shades of one kind, with the recipes weighed of them."""

    rule: MixingRule
    shades: tuple[Shade, ...]
    clear: Shade | None
    added: FloatArray
    recipes: Recipes

    def mix(self, row: int) -> Mix:
        """The recipe of this row, with shade names, the largest part first."""
        rows, parts = self.recipes.shade_rows[row], self.recipes.parts[row]
        clear = int(self.recipes.clear_parts[row])
        named = [(self.shades[shade].name, int(count)) for shade, count in zip(rows, parts, strict=True) if count]
        each = parts[:, None] * self.added[rows] / (parts.sum() + clear)
        of_shade = {self.shades[shade].name: row for shade, row, count in zip(rows, each, parts, strict=True) if count}
        if self.clear and clear:
            named.append((self.clear.name, clear))
        named.sort(key=lambda part: -part[1])
        return Mix(tuple(named), each.sum(axis=0), self.rule, of_shade)


def plan_bowls(requests: tuple[ZoneRequest, ...], shelf: Shelf, settings: PlanSettings | None = None) -> Plan:
    """The bowls that bring all zones nearest to their targets, and what each zone becomes.

    Raises
    ------
    BadInputError : No zone, too many, or one named twice. EmptyShelfError : No shade may serve.
    """
    settings = settings or PlanSettings()
    _check_requests(requests)
    zones = tuple(zone_work(request) for request in sorted(requests, key=_by_colour))
    trays = _trays(shelf, zones, settings)
    sharing = _shared(trays, zones, settings)
    numbers = _bowl_numbers(sharing.recipe_of_zone)
    named = {request.zone for request in requests}
    plans = {}
    for place, zone in enumerate(zones):
        dose = _dose(trays, int(sharing.recipe_of_zone[place]), place, numbers)
        plans[zone.request.zone] = write_zone(zone, dose, _nearest_dose(trays, place), named)
    in_order = tuple(plans[request.zone] for request in requests)
    bowls = tuple(
        write_bowl(number, _mix(trays, row), tuple(plan for plan in in_order if plan.bowl_number == number), shelf)
        for row, number in numbers.items()
    )
    weighed = sum(tray.recipes.weighed for tray in trays)
    return Plan(bowls, in_order, sharing.proved, plan_notes(bowls, in_order, shelf), weighed, shelf.name, shelf.demo)


def _check_requests(requests: tuple[ZoneRequest, ...]) -> None:
    if not requests:
        raise BadInputError("No zone has a target. Choose a level and a tone for at least one zone.")
    if len(requests) > MOST_ZONES:
        raise BadInputError(
            f"{len(requests)} zones have a target; a plan holds at most {MOST_ZONES}. Join zones that read alike."
        )
    names = [request.zone for request in requests]
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise BadInputError(f"Zone {', '.join(doubled)} has two targets. Keep one for each zone.")


def _by_colour(request: ZoneRequest) -> tuple[float, ...]:
    # Neither names nor the order of entry may decide between equal plans.
    return (*map(float, request.lab_d65), request.target.level, float(list(TONES).index(request.target.tone)))


def zone_work(request: ZoneRequest) -> ZoneWork:
    """The request with the region that counts as reached, and the zone as the search sees it."""
    level, tone = request.target.level, TONES[request.target.tone]
    half_level = (lightness_of_level(level + 0.5) - lightness_of_level(level - 0.5)) / 2
    region = target_region(tone, lightness_of_level(level), half_level)
    lift = levels_to_lift(request) > 0
    # What needs lift is weighed at the lightness it has, so that the nearest within reach can be named.
    own = float(request.lab_d65[0])
    aimed = np.array([own, *tone.ab_at(own)]) if lift else region.centre_lab_d65
    lab, covariance = np.asarray(request.lab_d65, np.float64), np.asarray(request.covariance, np.float64)
    return ZoneWork(request, region, Aim(lab, covariance, aimed, not lift, uptake=request.uptake or usual_uptake()))


def _trays(shelf: Shelf, zones: tuple[ZoneWork, ...], settings: PlanSettings) -> tuple[_Tray, ...]:
    trays = [
        tray
        for kind, rule in mixing_rules().items()
        if (tray := _tray(shelf, kind, _poured(rule, settings), zones, settings)) is not None
    ]
    if not trays:
        raise EmptyShelfError(
            "No shade on the shelf may tone: permanent colour and clear alone do not. "
            "Add a demi-permanent or semi-permanent shade."
        )
    return tuple(trays)


def _tray(
    shelf: Shelf, kind: ShadeKind, rule: MixingRule, zones: tuple[ZoneWork, ...], settings: PlanSettings
) -> _Tray | None:
    of_kind = [shade for shade in shelf.shades if shade.kind is kind]
    # Sorted by colour: neither names nor the order of the shelf may decide between equal recipes.
    shades = sorted((shade for shade in of_kind if shade.family is not Family.CLEAR), key=_shade_by_colour)
    if not shades:
        return None
    clear = next((shade for shade in of_kind if shade.family is Family.CLEAR), None)
    on_shelf = shelf_absorption(shelf)
    rows = [on_shelf.names.index(shade.name) for shade in shades]
    aims = tuple(_hasty(zone, rule, settings) for zone in zones)
    recipes = weigh_recipes(on_shelf.added[rows], clear is not None, aims, settings)
    return _Tray(rule, tuple(shades), clear, on_shelf.added[rows], recipes)


def _hasty(zone: ZoneWork, rule: MixingRule, settings: PlanSettings) -> Aim:
    """The zone's aim with what it costs to be done within a few minutes."""
    haste = haste_of(rule.full_minutes, zone.request.hair.porosity, zone.aim.uptake.rate)
    return replace(zone.aim, step_price=settings.haste_price * haste)


def _shade_by_colour(shade: Shade) -> tuple[float, ...]:
    return shade.lab_d65_on_white


def _poured(rule: MixingRule, settings: PlanSettings) -> MixingRule:
    if settings.developer is None or not rule.developer_parts:
        return rule
    return replace(rule, developer=settings.developer)


def _shared(trays: tuple[_Tray, ...], zones: tuple[ZoneWork, ...], settings: PlanSettings) -> Sharing:
    """The sharing over the zones that can be reached; the others are left alone. Rows count through all trays."""
    shared = np.flatnonzero([zone.aim.shared for zone in zones])
    cost = np.concatenate([tray.recipes.cost for tray in trays])[:, shared]
    price = np.concatenate([tray.recipes.price for tray in trays])
    alone = np.array([_cost_alone(zones[place].aim) for place in shared])
    found = share_bowls(cost, price, alone, settings.max_bowls)
    recipe_of_zone = np.full(len(zones), LEFT_ALONE)
    recipe_of_zone[shared] = found.recipe_of_zone
    return Sharing(recipe_of_zone, found.total, found.proved)


def _cost_alone(aim: Aim) -> float:
    hair, _, _ = draws_of(aim, DRAWS_TO_WEIGH)
    return float(delta_e_2000(hair.lab_d65, aim.target_lab_d65).mean())


def _bowl_numbers(recipe_of_zone: IntArray) -> dict[int, int]:
    """Bowl number by recipe row, from 1; the bowl that serves most zones is the first."""
    rows, counts = np.unique(recipe_of_zone[recipe_of_zone != LEFT_ALONE], return_counts=True)
    ordered = sorted(zip(rows, counts, strict=True), key=lambda pair: (-pair[1], pair[0]))
    return {int(row): number for number, (row, _) in enumerate(ordered, start=1)}


def _place(trays: tuple[_Tray, ...], row: int) -> tuple[_Tray, int]:
    """The tray that holds a row counted through all trays, and the row within it."""
    for tray in trays:
        if row < len(tray.recipes.price):
            return tray, row
        row -= len(tray.recipes.price)
    raise IndexError(row)


def _mix(trays: tuple[_Tray, ...], row: int) -> Mix:
    tray, own_row = _place(trays, row)
    return tray.mix(own_row)


def _dose(trays: tuple[_Tray, ...], row: int, zone: int, numbers: dict[int, int]) -> Dose | None:
    """What this zone gets; None where it is left alone."""
    if row == LEFT_ALONE:
        return None
    tray, own_row = _place(trays, row)
    return Dose(tray.mix(own_row), strength_steps()[tray.recipes.steps[own_row, zone]], numbers[row])


def _nearest_dose(trays: tuple[_Tray, ...], zone: int) -> Dose:
    """The best that any recipe weighed does for a zone; it bears the number 0."""
    tray = min(trays, key=lambda held: held.recipes.cost[:, zone].min())
    row = int(np.argmin(tray.recipes.cost[:, zone]))
    return Dose(tray.mix(row), strength_steps()[tray.recipes.steps[row, zone]], 0)
