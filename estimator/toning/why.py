"""Why this bowl: the three reasons that weigh most, each with its figure."""

from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import FloatArray, delta_e_2000
from estimator.toning.mixing import Hair, hair_of
from estimator.toning.sharing import LEFT_ALONE, Sharing
from estimator.toning.timing import minutes_for
from estimator.toning.trays import Trays
from estimator.toning.writing_out import Dose, ZoneWork


@dataclass(frozen=True, eq=False)
class Shared:
    """Zones in their order, the recipes weighed for them, the best sharing of bowls, and the next best if any."""

    trays: Trays
    zones: tuple[ZoneWork, ...]
    found: Sharing
    other: Sharing | None


@dataclass(frozen=True, eq=False)
class _Served:
    """The zones of one bowl, as they are and with the dose that each gets."""

    zones: tuple[ZoneWork, ...]
    doses: tuple[Dose, ...]
    hair: Hair
    target_lab_d65: FloatArray

    @property
    def strengths(self) -> FloatArray:
        pairs = zip(self.zones, self.doses, strict=True)
        return np.array([[zone.aim.uptake.mean * dose.strength] for zone, dose in pairs])

    def results(self, added: FloatArray) -> FloatArray:
        """CIELAB of each zone with this K/S instead of the mix's. shape (zones, 3)."""
        return self.hair.with_dye(self.strengths * added)


def reasons_for(shared: Shared, row: int) -> tuple[str, ...]:
    """What the mix opposes and with which shade, what its thickness gives, and why these zones share it."""
    places = np.flatnonzero(shared.found.recipe_of_zone == row)
    zones = tuple(shared.zones[place] for place in places)
    doses = tuple(shared.trays.dose(row, int(place), 0) for place in places)
    targets = np.array([zone.aim.target_lab_d65 for zone in zones])
    served = _Served(zones, doses, hair_of(np.array([zone.aim.lab_d65 for zone in zones])), targets)
    return (_what_it_does(served), _its_thickness(served), _why_shared(shared, row))


def _what_it_does(served: _Served) -> str:
    mix = served.doses[0].mix
    now, after = (np.hypot(lab[:, 1], lab[:, 2]).mean() for lab in (served.hair.lab_d65, served.results(mix.added)))
    stages = " and ".join(dict.fromkeys(zone.request.warmth.stage for zone in served.zones))
    moved = "brings" if after < now else "takes"
    start = f"It {moved} the warmth read ({stages}) from C* {now:.0f} to C* {after:.0f}"
    if len(mix.of_shade) < 2:
        return f"{start}, with one shade alone."
    reached = _mean_away(served, mix.added)
    loss = {name: _mean_away(served, mix.added - own) - reached for name, own in mix.of_shade.items()}
    name = max(loss, key=lambda shade: loss[shade])
    return f"{start}; without {name} the zones would end {max(loss[name], 0):.1f} ΔE2000 farther from their targets."


def _mean_away(served: _Served, added: FloatArray) -> float:
    return float(delta_e_2000(served.results(added), served.target_lab_d65).mean())


def _its_thickness(served: _Served) -> str:
    mix = served.doses[0].mix
    clear = sum(count for name, count in mix.parts if name not in mix.of_shade)
    total = sum(count for _, count in mix.parts)
    minutes = np.array(
        [_minutes(zone, dose.strength, dose) for zone, dose in zip(served.zones, served.doses, strict=True)]
    )
    planned = (
        f"{minutes.min():.0f}"
        if round(minutes.min()) == round(minutes.max())
        else (f"{minutes.min():.0f} to {minutes.max():.0f}")
    )
    if not clear:
        return f"Undiluted it gets there in about {planned} minutes; thinner would take longer or fall short."
    share = (total - clear) / total
    pairs = zip(served.zones, served.doses, strict=True)
    hasty = min(_minutes(zone, share * dose.strength, dose) for zone, dose in pairs)
    return (
        f"With {clear} of {total} parts clear there are about {planned} minutes to watch it; undiluted the same depth "
        f"would be there after {max(hasty, 0.5):.1f}."
    )


def _minutes(zone: ZoneWork, strength: float, dose: Dose) -> float:
    return minutes_for(strength, dose.mix.rule.full_minutes, zone.request.hair.porosity, zone.aim.uptake.rate)


def _why_shared(shared: Shared, row: int) -> str:
    places = np.flatnonzero(shared.found.recipe_of_zone == row)
    cost = shared.trays.cost
    if len(places) > 1:
        gain = (cost[row, places] - cost[:, places].min(axis=0)).mean()
        return (
            f"One bowl serves {len(places)} zones: a bowl for each would bring them {max(gain, 0):.1f} ΔE2000 nearer."
        )
    others = [int(one) for one in np.unique(shared.found.recipe_of_zone) if one not in (row, LEFT_ALONE)]
    if others:
        loss = cost[others, places[0]].min() - cost[row, places[0]]
        return f"It is a bowl of its own: in the nearest other bowl the zone would end {loss:.1f} ΔE2000 farther off."
    return f"Of {shared.trays.weighed} mixes without clear that were compared, none comes nearer by the plan's measure."
