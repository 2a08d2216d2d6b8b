"""Trays: the shades of one kind of colour that may share a bowl, and the recipes weighed of them."""

from dataclasses import dataclass, replace

import numpy as np

from calibration.colourspaces import FloatArray
from estimator.errors import EmptyShelfError
from estimator.toning.grams import MixingRule, mixing_rules
from estimator.toning.mixing import shelf_absorption
from estimator.toning.plan import PlanSettings
from estimator.toning.recipes import Progress
from estimator.toning.shades import Family, Shade, ShadeKind, Shelf
from estimator.toning.sharing import IntArray
from estimator.toning.timing import haste_of, strength_steps
from estimator.toning.weighing import Aim, Dyes, Recipes, weigh_recipes
from estimator.toning.writing_out import Dose, Mix, ZoneWork


@dataclass(frozen=True, eq=False)
class Tray:
    """All shades of one kind, with the recipes weighed of them.

    log_covariance : Of the log of `added`, shape (shades, bands, bands).
    """

    rule: MixingRule
    shades: tuple[Shade, ...]
    clear: Shade | None
    added: FloatArray
    log_covariance: FloatArray
    recipes: Recipes

    def mix(self, row: int) -> Mix:
        """The recipe of this row, with shade names, the largest part first."""
        rows, parts = self.recipes.shade_rows[row], self.recipes.parts[row]
        used = [(int(shade), int(count)) for shade, count in zip(rows, parts, strict=True) if count]
        clear = int(self.recipes.clear_parts[row])
        total = sum(count for _, count in used) + clear
        named = [(self.shades[shade].name, count) for shade, count in used]
        if self.clear and clear:
            named.append((self.clear.name, clear))
        named.sort(key=lambda part: -part[1])
        of_shade = {self.shades[shade].name: count * self.added[shade] / total for shade, count in used}
        spread = {self.shades[shade].name: self.log_covariance[shade] for shade, _ in used}
        return Mix(tuple(named), np.sum(list(of_shade.values()), axis=0), self.rule, of_shade, spread)

    def dose(self, row: int, zone: int, number: int) -> Dose:
        """The recipe of this row at its best time for a zone."""
        return Dose(self.mix(row), strength_steps()[self.recipes.steps[row, zone]], number)

    def nearest(self, zone: int) -> tuple[float, int]:
        """Cost and row of the recipe that is best for a zone."""
        row = int(np.argmin(self.recipes.cost[:, zone]))
        return float(self.recipes.cost[row, zone]), row


@dataclass(frozen=True, eq=False)
class Trays:
    """All trays of a shelf; rows count through them in order."""

    trays: tuple[Tray, ...]

    @property
    def cost(self) -> FloatArray:
        """Cost of each recipe in each zone. shape (recipes, zones)."""
        return np.concatenate([tray.recipes.cost for tray in self.trays])

    @property
    def price(self) -> FloatArray:
        """Price of mixing each recipe at all. shape (recipes,)."""
        return np.concatenate([tray.recipes.price for tray in self.trays])

    @property
    def mix_of_row(self) -> IntArray:
        """A number for each mix: rows that differ in their usual time alone bear the same. shape (recipes,)."""
        numbers, before = [], 0
        for tray in self.trays:
            numbers.append(before + tray.recipes.mix_of_row)
            before = int(numbers[-1].max()) + 1
        return np.concatenate(numbers)

    @property
    def weighed(self) -> int:
        return sum(tray.recipes.weighed for tray in self.trays)

    def at(self, row: int) -> tuple[Tray, int]:
        """The tray that holds a row, and the row within it."""
        for tray in self.trays:
            if row < len(tray.recipes.price):
                return tray, row
            row -= len(tray.recipes.price)
        raise IndexError(row)

    def mix(self, row: int) -> Mix:
        tray, own_row = self.at(row)
        return tray.mix(own_row)

    def dose(self, row: int, zone: int, number: int) -> Dose:
        tray, own_row = self.at(row)
        return tray.dose(own_row, zone, number)

    def nearest_dose(self, zone: int) -> Dose:
        """The best that any recipe weighed does for a zone; it bears the number 0."""
        tray = min(self.trays, key=lambda held: held.nearest(zone)[0])
        return tray.dose(tray.nearest(zone)[1], zone, 0)


def trays_of(
    shelf: Shelf, zones: tuple[ZoneWork, ...], settings: PlanSettings, progress: Progress | None = None
) -> Trays:
    """The shelf's shades that may tone, by kind, with their recipes weighed for these zones. EmptyShelfError."""
    kinds = [kind for kind in mixing_rules() if _colours(shelf, kind)]
    if not kinds:
        raise EmptyShelfError(
            "No shade on the shelf may tone: permanent colour and clear alone do not. "
            "Add a demi-permanent or semi-permanent shade."
        )
    sizes = [len(_colours(shelf, kind)) ** 3 for kind in kinds]
    trays = []
    for place, kind in enumerate(kinds):
        done, own = sum(sizes[:place]) / sum(sizes), sizes[place] / sum(sizes)
        told = None if progress is None else lambda share, done=done, own=own: progress(done + own * share)
        trays.append(_tray(shelf, _poured(mixing_rules()[kind], settings), zones, settings, told))
    return Trays(tuple(trays))


def may_tone(shelf: Shelf) -> tuple[Shade, ...]:
    """The shades that a plan may use, clear left out."""
    return tuple(shade for kind in mixing_rules() for shade in _colours(shelf, kind))


def _colours(shelf: Shelf, kind: ShadeKind) -> list[Shade]:
    # Sorted by colour: neither names nor the order of the shelf may decide between equal recipes.
    of_kind = [shade for shade in shelf.shades if shade.kind is kind and shade.family is not Family.CLEAR]
    return sorted(of_kind, key=lambda shade: shade.lab_d65_on_white)


def _tray(
    shelf: Shelf, rule: MixingRule, zones: tuple[ZoneWork, ...], settings: PlanSettings, progress: Progress | None
) -> Tray:
    shades = _colours(shelf, rule.kind)
    clear = next((shade for shade in shelf.shades if (shade.kind, shade.family) == (rule.kind, Family.CLEAR)), None)
    on_shelf = shelf_absorption(shelf)
    rows = [on_shelf.names.index(shade.name) for shade in shades]
    aims = tuple(_hasty(zone, rule, settings) for zone in zones)
    dyes = Dyes(on_shelf.added[rows], np.array([shade.doubt for shade in shades]), clear is not None)
    recipes = weigh_recipes(dyes, aims, settings, progress)
    return Tray(rule, tuple(shades), clear, dyes.added, on_shelf.log_covariance[rows], recipes)


def _hasty(zone: ZoneWork, rule: MixingRule, settings: PlanSettings) -> Aim:
    """The zone's aim with what it costs to be done within a few minutes."""
    haste = haste_of(rule.full_minutes, zone.request.hair.porosity, zone.aim.uptake.rate)
    return replace(zone.aim, step_price=settings.haste_price * haste)


def _poured(rule: MixingRule, settings: PlanSettings) -> MixingRule:
    if settings.developer is None or not rule.developer_parts:
        return rule
    return replace(rule, developer=settings.developer)
