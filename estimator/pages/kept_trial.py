"""Strands that were toned before the head: what they tell, and the plan made anew with it, kept by what it rests on."""

from typing import TYPE_CHECKING

import streamlit as st

from calibration.errors import CalibrationError
from estimator.errors import BadInputError, EstimatorError
from estimator.pages import kept_plans, kept_readings, outlines, taught
from estimator.pages.draft import Draft, Shot, StrandTried
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.reading.zone_reading import ZoneReading
    from estimator.visit import CheckedPlan, PhotoReading, TrialPlans, TriedStrand, Wishes

TRIALS_KEPT = 12


def trial_key(visit_draft: Draft) -> str:
    """Changes whenever what the strands tell would."""
    photo = kept_readings.reading_key(visit_draft.trial) if visit_draft.trial else ""
    return repr((photo, visit_draft.tried, taught.code(visit_draft), taught.day(visit_draft)))


def tried_zones(visit_draft: Draft) -> tuple[str, ...]:
    """Zones whose strand can be judged: it came out sound, its minutes are written down, and its colour is there."""
    drawn = {zone.name for zone in outlines.drawn_zones(visit_draft.trial)} if visit_draft.trial else set()
    return tuple(
        zone
        for zone, tried in visit_draft.tried.items()
        if tried.minutes and tried.came_out and kept_plans.CAME_OUT[tried.came_out].serves
        if tried.measured_lab_d65 is not None or zone in drawn
    )


def plans(visit_draft: Draft) -> "TrialPlans":
    """What the strands tell, and the plan before and after them. Raises BadInputError, PhotoRefusedError."""
    rests_on = (kept_plans.key_before_trial(visit_draft), trial_key(visit_draft))
    return _plans(repr(rests_on), visit_draft)


@st.cache_resource(max_entries=TRIALS_KEPT, show_spinner="Making the plan anew")
def _plans(key: str, _draft: Draft) -> "TrialPlans":
    from estimator import visit

    wishes = kept_plans.wishes(_draft)
    strands = tuple(_strand(_draft, zone) for zone in tried_zones(_draft))
    told = visit.try_strands(strands, taught.code(_draft), taught.day(_draft), wishes.shelf, taught.earlier(_draft))
    read = kept_readings.reading_before(_draft)
    return visit.plan_after_trial(read, kept_plans.consultation(_draft), wishes, told)


def _strand(visit_draft: Draft, zone: str) -> "TriedStrand":
    from estimator.feedback.outcome import Done
    from estimator.toning.plan import HairFacts
    from estimator.visit import TriedStrand

    tried = visit_draft.tried[zone]
    before = _read(kept_readings.reading_before(visit_draft), zone, "before")
    porosity = kept_plans.hair(visit_draft).get(zone, HairFacts()).porosity
    return TriedStrand(before, _after(visit_draft, zone, before), Done(tried.parts, tried.minutes or 0.0, porosity))


def _after(visit_draft: Draft, zone: str, before: "ZoneReading") -> "ZoneReading":
    from estimator import visit

    measured = visit_draft.tried[zone].measured_lab_d65
    if measured is not None:
        return visit.strand_by_instrument(before, measured)
    assert visit_draft.trial is not None  # `tried_zones` names only those that are drawn on it
    read = kept_readings.reading(visit_draft.trial)
    if read.refused:
        finding = read.corrected.verdict.findings[0]
        raise BadInputError(f"The photograph of the strand has to be taken again. {finding.message} {finding.remedy}")
    return _read(read, zone, "after")


def _read(read: "PhotoReading", zone: str, side: str) -> "ZoneReading":
    try:
        return read.zone(zone).reading
    except KeyError as problem:
        raise BadInputError(f"The strand of {wording.zone_text(zone)} was not read {side}. Outline it.") from problem


def to_follow(visit_draft: Draft) -> "CheckedPlan":
    """The plan that rests on the strands; the plan before them where nothing may rest on them any more."""
    made = _plans_that_hold(visit_draft)
    return made.to_follow if made else kept_plans.before_trial(visit_draft)


def wishes_to_follow(visit_draft: Draft) -> "Wishes":
    """The wishes that this plan rests on: with the uptake of the strands, where it rests on them."""
    made = _plans_that_hold(visit_draft)
    return made.known if made and made.known else kept_plans.wishes(visit_draft)


def _plans_that_hold(visit_draft: Draft) -> "TrialPlans | None":
    if tried_zones(visit_draft):
        try:
            return plans(visit_draft)
        except (EstimatorError, CalibrationError):  # the section on the trial says it in words, beside its way out
            pass
    return None


def strand_outlined(shot: Shot, visit_draft: Draft, zone: str) -> Shot:
    """The photograph of strands with this zone's in hand; a new outline falls as its zone's hair does before."""
    if any(one.name == zone for one in shot.zones):
        return outlines.choose(shot, zone)
    known = outlines.drawn_zones(visit_draft.before) if visit_draft.before else ()
    pattern = next((one.strand_pattern for one in known if one.name == zone), None)
    return outlines.with_pattern(outlines.choose(shot, zone), pattern)


def with_entry(visit_draft: Draft, zone: str, entry: StrandTried | None) -> dict[str, StrandTried]:
    """The strands with this one changed; without it for None."""
    others = {name: tried for name, tried in visit_draft.tried.items() if name != zone}
    return others if entry is None else {**others, zone: entry}


def parts_planned(visit_draft: Draft, zone: str) -> tuple[tuple[str, float], ...]:
    """What the zone's bowl holds, as planned without the trial; empty where it gets none."""
    planned = kept_plans.before_trial(visit_draft).plan
    held = [one for one in planned.zones if one.zone == zone and one.bowl_number is not None] if planned else []
    if planned is None or not held or held[0].bowl_number is None:
        return ()
    return tuple((name, float(count)) for name, count in planned.bowl(held[0].bowl_number).parts)
