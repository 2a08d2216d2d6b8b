"""The plan: recipes weighed, few bowls shared between the zones, grams, minutes and what each zone becomes."""

from dataclasses import replace

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.errors import BadInputError
from estimator.toning.grams import zone_grams
from estimator.toning.lightest import lightest_target
from estimator.toning.plan import MOST_ZONES, Plan, PlanSettings, SecondBest, ZonePlan, ZoneRequest
from estimator.toning.reach import levels_to_lift
from estimator.toning.recipes import Progress
from estimator.toning.shades import Shelf
from estimator.toning.sharing import LEFT_ALONE, IntArray, Sharing, second_best, share_bowls
from estimator.toning.targets import TONES, Scale, TargetKind, region_of
from estimator.toning.timing import usual_uptake
from estimator.toning.trays import Trays, trays_of
from estimator.toning.weighing import DRAWS_TO_WEIGH, Aim, draws_of
from estimator.toning.why import Shared, reasons_for
from estimator.toning.writing_out import ZoneWork, plan_notes, write_bowl, write_zone


def plan_bowls(
    requests: tuple[ZoneRequest, ...],
    shelf: Shelf,
    settings: PlanSettings | None = None,
    progress: Progress | None = None,
) -> Plan:
    """The bowls that bring all zones nearest to their targets, and what each zone becomes.

    progress : Told the share done, 0-1, while recipes are compared; whatever it raises stops the plan.
    Raises
    ------
    BadInputError : No zone, too many, or one named twice. EmptyShelfError : No shade may serve.
    """
    settings = settings or PlanSettings()
    _check_requests(requests)
    aimed = tuple(_with_region(request, shelf, settings) for request in requests)
    fringe_apart = "fringe" in {request.zone for request in requests}
    zones = tuple(
        _priced(zone_work(one, settings.scale), fringe_apart, settings) for one in sorted(aimed, key=_by_colour)
    )
    trays = trays_of(shelf, zones, settings, progress)
    shared = _shared(trays, zones, settings)
    return _written(shared, tuple(request.zone for request in requests), shelf, settings)


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


def _with_region(request: ZoneRequest, shelf: Shelf, settings: PlanSettings) -> ZoneRequest:
    """The request with a target whose region is known, now that the shelf is."""
    if request.target.kind is not TargetKind.LIGHTEST or request.target.region is not None:
        return request
    return replace(request, target=lightest_target(request, shelf, settings))


def _by_colour(request: ZoneRequest) -> tuple[float, ...]:
    # Neither names nor the order of entry may decide between equal plans.
    return (*map(float, request.lab_d65), request.target.level, float(list(TONES).index(request.target.tone)))


def zone_work(request: ZoneRequest, scale: Scale = None) -> ZoneWork:
    """The request with the region that counts as reached, and the zone as the search sees it."""
    region = region_of(request.target, scale)
    lift = levels_to_lift(request) > 0
    # What needs lift is weighed at the lightness it has, so that the nearest within reach can be named.
    own = float(request.lab_d65[0])
    aimed = np.array([own, *TONES[request.target.tone].ab_at(own)]) if lift else region.centre_lab_d65
    lab, covariance = np.asarray(request.lab_d65, np.float64), np.asarray(request.covariance, np.float64)
    uptake = request.uptake or usual_uptake(request.hair.porosity)
    return ZoneWork(request, region, Aim(lab, covariance, aimed, not lift, uptake=uptake), scale)


def _priced(zone: ZoneWork, fringe_apart: bool, settings: PlanSettings) -> ZoneWork:
    grams = zone_grams(zone.request.zone, zone.request.hair, fringe_apart)
    return replace(zone, aim=replace(zone.aim, mix_price=settings.gram_price * grams))


def _shared(trays: Trays, zones: tuple[ZoneWork, ...], settings: PlanSettings) -> Shared:
    """The sharing over the zones that can be reached, and the next best; the others are left alone."""
    places = np.flatnonzero([zone.aim.shared for zone in zones])
    cost, price = trays.cost[:, places], trays.price
    alone = np.array([_cost_alone(zones[place].aim) for place in places])
    found = share_bowls(cost, price, alone, settings.max_bowls)
    other = second_best(cost, price, alone, settings.max_bowls, (found, trays.mix_of_row))
    count = len(zones)
    return Shared(trays, zones, _over_all(found, places, count), _over_all(other, places, count) if other else None)


def _over_all(found: Sharing, places: IntArray, count: int) -> Sharing:
    recipe_of_zone = np.full(count, LEFT_ALONE)
    recipe_of_zone[places] = found.recipe_of_zone
    return replace(found, recipe_of_zone=recipe_of_zone)


def _cost_alone(aim: Aim) -> float:
    hair, _, _ = draws_of(aim, DRAWS_TO_WEIGH)
    return float(delta_e_2000(hair.lab_d65, aim.target_lab_d65).mean())


def _bowl_numbers(recipe_of_zone: IntArray) -> dict[int, int]:
    """Bowl number by recipe row, from 1; the bowl that serves most zones is the first."""
    rows, counts = np.unique(recipe_of_zone[recipe_of_zone != LEFT_ALONE], return_counts=True)
    ordered = sorted(zip(rows, counts, strict=True), key=lambda pair: (-pair[1], pair[0]))
    return {int(row): number for number, (row, _) in enumerate(ordered, start=1)}


def _written(shared: Shared, names: tuple[str, ...], shelf: Shelf, settings: PlanSettings) -> Plan:
    trays, rows = shared.trays, shared.found.recipe_of_zone
    numbers = _bowl_numbers(rows)
    plans: dict[str, ZonePlan] = {}
    for place, zone in enumerate(shared.zones):
        row = int(rows[place])
        dose = None if row == LEFT_ALONE else trays.dose(row, place, numbers[row])
        plans[zone.request.zone] = write_zone(zone, dose, trays.nearest_dose(place), set(names))
    in_order = tuple(plans[name] for name in names)
    bowls = tuple(
        replace(
            write_bowl(number, trays.mix(row), tuple(plan for plan in in_order if plan.bowl_number == number), shelf),
            why=reasons_for(shared, row),
        )
        for row, number in numbers.items()
    )
    return Plan(
        bowls=bowls,
        zones=in_order,
        proved_best=shared.found.proved,
        notes=plan_notes(bowls, in_order, shelf),
        recipes_weighed=trays.weighed,
        shelf_name=shelf.name,
        shelf_demo=shelf.demo,
        second_best=_second_best(shared),
        scale=settings.scale,
    )


def _second_best(shared: Shared) -> SecondBest | None:
    if shared.other is None:
        return None
    rows = shared.other.recipe_of_zone
    bowls = tuple(
        (shared.trays.mix(row).parts, tuple(shared.zones[place].request.zone for place in np.flatnonzero(rows == row)))
        for row in _bowl_numbers(rows)
    )
    worse = _cost_of_zones(shared, rows) - _cost_of_zones(shared, shared.found.recipe_of_zone)
    worst = int(np.argmax(worse))
    costs = max(shared.other.total - shared.found.total, 0.0)
    return SecondBest(bowls, costs, shared.zones[worst].request.zone, max(float(worse[worst]), 0.0))


def _cost_of_zones(shared: Shared, rows: IntArray) -> FloatArray:
    alone = np.array([_cost_alone(zone.aim) for zone in shared.zones])
    of_rows: FloatArray = np.where(rows == LEFT_ALONE, alone, shared.trays.cost[rows, np.arange(len(rows))])
    return of_rows
