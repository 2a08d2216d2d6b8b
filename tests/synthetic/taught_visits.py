"""Visits to an invented salon whose shades and clients hide a truth: what the program is told, and what happens.

Dyes and hair have spectra of their own shapes, not those that the program assumes. Each shade is weaker or stronger
than its swatch, each client's hair takes more or less dye, and faster or slower, than the tables say.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from calibration.findings import verdict_from
from estimator.feedback.applying import learned_shelf, uptake_of
from estimator.feedback.learning import Belief
from estimator.feedback.outcome import Done, Outcome, Readings, outcome_of
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.level import level_of_colour
from estimator.scale.warmth import warmth_of_colour
from estimator.toning.absorption import lab_of
from estimator.toning.bowls import plan_bowls
from estimator.toning.grams import mixing_rules
from estimator.toning.observer import BANDS_NM
from estimator.toning.plan import HairFacts, Plan, PlanSettings, Porosity, ZoneRequest
from estimator.toning.shades import Family, Shade, ShadeKind, Shelf
from estimator.toning.targets import Target
from estimator.toning.timing import minutes_for
from estimator.toning.uptake import UptakeBasis
from estimator.zones.outline import Setting

KIND = ShadeKind.DEMI_ACIDIC
FIRST_DAY = date(2026, 1, 5)
ZONES = ("fringe", "crown", "back", "nape")
TONES = ("neutral", "beige", "soft warm", "pearl")
# Bands of the invented dyes: peak [nm], height (K/S); each is skewed by its own amount.
BANDS = {
    ("Plum, invented", Family.VIOLET): ((575, 0.45),),
    ("Thistle, invented", Family.BLUE_VIOLET): ((595, 0.5), (540, 0.15)),
    ("Slate, invented", Family.BLUE): ((620, 0.45),),
    ("Straw, invented", Family.GOLD): ((430, 0.6), (480, 0.15)),
    ("Rust, invented", Family.COPPER): ((500, 0.4), (440, 0.3)),
    ("Walnut, invented", Family.NEUTRAL): ((440, 0.5), (530, 0.4), (610, 0.4)),
}
SHADE_LOG_SD, CLIENT_LOG_SD, CLASS_LOG_SD, APPLICATION_LOG_SD, RATE_SD = 0.25, 0.15, 0.1, 0.1, 0.1
# Of a reading: the part that the same hair gives again, the part of the photograph (card, lamp), and the zone's own.
AGAIN_SD, PHOTO_SD, OWN_SD = np.array([1.0, 0.5, 0.8]), np.array([0.6, 0.4, 0.6]), np.array([0.6, 0.4, 0.6])


@dataclass(frozen=True, eq=False)
class Salon:
    """The shelf as its swatches show it, and the truth behind it."""

    shelf: Shelf
    dye: dict[str, np.ndarray]
    log_strength: dict[str, float]
    log_uptake: dict[tuple[str, Porosity], float]
    rate: dict[str, float]

    def true_result(self, hair: np.ndarray, client: str, done: Done, rng: np.random.Generator) -> np.ndarray:
        """CIELAB of hair with this K/S after what was done to it."""
        full = minutes_for(1.0, mixing_rules()[KIND].full_minutes, done.porosity)
        log_dose = self.log_uptake[client, done.porosity] + self.rate[client] * np.log(done.minutes / full)
        log_dose += APPLICATION_LOG_SD * rng.standard_normal()
        total = sum(count for _, count in done.parts)
        dyes = [
            count / total * np.exp(log_dose + self.log_strength[name]) * self.dye[name]
            for name, count in done.parts
            if name in self.dye
        ]
        return lab_of(hair + np.sum(dyes, axis=0))


def salon(rng: np.random.Generator, clients: int = 5) -> Salon:
    """A salon with hidden strengths, each about a quarter off, and clients of their own uptake."""
    white = _hair(rng, 0.02)
    dye = {name: _dye(rng, bands) for (name, _), bands in BANDS.items()}
    shades = [Shade(name, family, 8, KIND, tuple(map(float, lab_of(white + dye[name])))) for name, family in BANDS]
    shades.append(Shade("Water, invented", Family.CLEAR, 10, KIND, tuple(map(float, lab_of(white)))))
    named = [f"client {number}" for number in range(clients)]
    uptake = {name: CLIENT_LOG_SD * rng.standard_normal() for name in named}
    return Salon(
        Shelf(tuple(shades), tuple(map(float, lab_of(white))), "invented"),
        dye,
        {name: SHADE_LOG_SD * rng.standard_normal() for name in dye},
        {(n, p): uptake[n] + CLASS_LOG_SD * rng.standard_normal() for n in named for p in Porosity},
        {name: float(np.clip(0.5 + RATE_SD * rng.standard_normal(), 0.3, 0.7)) for name in named},
    )


def _hair(rng: np.random.Generator, pigment: float) -> np.ndarray:
    red = rng.uniform(0, 0.5)
    melanin = (1 - red) * (BANDS_NM / 550) ** -3.33 + red * (BANDS_NM / 550) ** -4.75
    return pigment * melanin + rng.uniform(0.05, 0.4) * np.exp(-(BANDS_NM - 400) / rng.uniform(25, 50))


def _dye(rng: np.random.Generator, bands: tuple[tuple[int, float], ...]) -> np.ndarray:
    dye = np.zeros(len(BANDS_NM))
    for peak_nm, height in bands:
        sd_nm, lean = rng.uniform(35, 50), rng.uniform(0.8, 1.3)
        wide = np.where(peak_nm > BANDS_NM, lean, 1 / lean) * sd_nm
        dye += height * np.exp(-0.5 * ((BANDS_NM - peak_nm) / wide) ** 2)
    return dye


@dataclass(frozen=True, eq=False)
class Visit:
    """One visit: the plan that was followed, what each zone truly became, and the outcomes to learn from."""

    plan: Plan
    true_after: dict[str, np.ndarray]
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, eq=False)
class Head:
    """Hair of one client on one day: K/S of each zone, its true colour, and its reading before."""

    client: str
    day: date
    porosity: Porosity
    absorption: dict[str, np.ndarray]
    before: dict[str, ZoneReading]
    again: dict[str, np.ndarray]
    tones: dict[str, str]


def head(number: int, rng: np.random.Generator, clients: int = 5) -> Head:
    """The head of one visit."""
    photo = PHOTO_SD * rng.standard_normal(3)
    pale = rng.uniform(np.log(0.04), np.log(0.15))
    absorption = {zone: _hair(rng, np.exp(pale + 0.25 * rng.standard_normal())) for zone in ZONES}
    again = {zone: AGAIN_SD * rng.standard_normal(3) for zone in ZONES}
    before = {
        zone: reading(zone, lab_of(absorption[zone]) + again[zone] + photo + OWN_SD * rng.standard_normal(3))
        for zone in ZONES
    }
    porosity = list(Porosity)[int(rng.integers(0, 3))]
    tones = {zone: TONES[int(rng.integers(len(TONES)))] for zone in ZONES}
    day = FIRST_DAY + timedelta(days=7 * number)
    return Head(f"client {number % clients}", day, porosity, absorption, before, again, tones)


def reading(zone: str, lab: np.ndarray) -> ZoneReading:
    """A verified reading of a good photograph, with the covariance that its errors have."""
    shared = np.diag(AGAIN_SD**2)
    own = np.diag(PHOTO_SD**2 + OWN_SD**2)
    return ZoneReading(
        zone, Setting.HEAD, None, lab, shared + own, shared, np.ones(3), (), 9000, True, False, verdict_from(()), (), ()
    )


def toned(truth: Salon, here: Head, belief: Belief | None, rng: np.random.Generator) -> Visit:
    """The visit: planned with what is believed (None: nothing is ever learned), done, and photographed again."""
    plan = _planned(truth.shelf, here, belief)
    photo = PHOTO_SD * rng.standard_normal(3)
    true_after, outcomes = {}, []
    for zone in plan.zones:
        jitter, own = np.exp(0.05 * rng.standard_normal()), OWN_SD * rng.standard_normal(3)
        if zone.bowl_number is None:
            continue
        bowl = plan.bowl(zone.bowl_number)
        planned_minutes = (zone.minutes_low + zone.minutes_high) / 2
        done = Done(tuple((name, float(count)) for name, count in bowl.parts), planned_minutes * jitter, here.porosity)
        after = truth.true_result(here.absorption[zone.zone], here.client, done, rng)
        true_after[zone.zone] = after
        read = reading(zone.zone, after + here.again[zone.zone] + photo + own)
        outcomes.append(outcome_of(Readings(here.client, here.day, here.before[zone.zone], read), done, truth.shelf))
    return Visit(plan, true_after, tuple(outcomes))


def _planned(shelf: Shelf, here: Head, belief: Belief | None) -> Plan:
    uptake = None
    if belief is not None:
        uptake = uptake_of(belief, here.client, here.porosity, shelf, UptakeBasis.RESULTS)
        shelf = learned_shelf(shelf, belief)
    requests = []
    for zone, read in here.before.items():
        level, warmth = level_of_colour(read.lab_d65, read.covariance), warmth_of_colour(read.lab_d65, read.covariance)
        target = Target(zone, max(1.0, level.level - 0.8), here.tones[zone])
        hair = HairFacts(porosity=here.porosity)
        requests.append(ZoneRequest(zone, read.lab_d65, read.covariance, level, warmth, target, hair, uptake))
    return plan_bowls(tuple(requests), shelf, PlanSettings(max_bowls=2))


def with_other_minutes(outcome: Outcome, minutes: float) -> Outcome:
    """The same outcome, had the mix stayed on for so long."""
    return replace(outcome, minutes=minutes, key=f"{outcome.key}-{minutes:g}")
