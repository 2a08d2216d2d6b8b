"""Kept rows of a visit in words: readings, plan, clock and what changed, as they were that day."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from calibration.findings import CaptureVerdict, Verdict
from estimator.reading.comparing import ZoneDifference, difference
from estimator.reading.zone_reading import ZoneReading
from estimator.records.visit_record import ClockRecord, OutcomeRecord, ReadingRecord, VisitRecord, ZoneRecord
from estimator.reports import wording
from estimator.reports.lift_wording import clock_event_text
from estimator.reports.record_sheet import Facts, RecordTable
from estimator.scale.appearance import Level, Warmth
from estimator.toning.peroxide import PeroxideStrength
from estimator.zones.outline import Setting, StrandPattern

DIFFERENCE = "difference"  # under this name an outcome holds what the two photographs told
_COLUMNS = ("Zone", "Photo", "Level", "Warmth left", "CIELAB")


def level_then(told: Mapping[str, Any]) -> Level:
    """A level as it was kept."""
    return Level(**told)


def warmth_then(told: Mapping[str, Any]) -> Warmth:
    """A warmth as it was kept."""
    return Warmth(**{**told, "other_stages": tuple(told["other_stages"])})


def reading_then(read: ReadingRecord, zone: ZoneRecord) -> ZoneReading:
    """A reading as it was kept; it is no longer beside its photograph, so nothing can be read anew from it."""
    return ZoneReading(
        zone=zone.name,
        setting=Setting(zone.setting),
        strand_pattern=StrandPattern(zone.strand_pattern) if zone.strand_pattern else None,
        lab_d65=np.array(read.lab_d65, dtype=np.float64),
        covariance=np.array(read.covariance, dtype=np.float64),
        shared_covariance=np.array(read.shared_covariance, dtype=np.float64),
        spread_lab=np.array(read.spread_lab, dtype=np.float64),
        profile=(),
        pixels=read.pixels,
        verified=read.verified,
        proposed=read.proposed,
        verdict=CaptureVerdict(Verdict(read.verdict), ()),
        findings=(),
        basis=read.basis,
    )


def readings_table(record: VisitRecord) -> RecordTable | None:
    """Every reading with its intervals; None where there is none."""
    zones = {zone.name: zone for zone in record.zones}
    rows = tuple(
        (
            wording.zone_text(read.zone),
            read.side if read.verified else f"{read.side}, unverified",
            wording.level_text(level_then(read.level)),
            wording.warmth_text(warmth_then(read.warmth)),
            wording.lab_interval_text(reading_then(read, zones[read.zone])),
        )
        for read in record.readings
    )
    return RecordTable(_COLUMNS, rows, tuple(not read.verified for read in record.readings)) if rows else None


# --- plan ------------------------------------------------------------------------------------------------------


def target_facts(zones: Sequence[ZoneRecord]) -> Facts:
    """What was wanted for each zone."""
    return tuple(
        (f"Wanted, {wording.zone_text(zone.name)}", f"level {wording.plain_text(zone.target['level'])}, {tone}")
        for zone in zones
        if zone.target.get("level") is not None
        for tone in (zone.target.get("tone", ""),)
    )


def plan_facts(content: Mapping[str, Any]) -> Facts:
    """Each bowl and each zone of a plan as it was kept; a plan of an older program may hold less."""
    return (*map(_bowl, content.get("bowls", ())), *map(_aim, content.get("zones", ())))


def _bowl(bowl: Mapping[str, Any]) -> tuple[str, str]:
    zones = wording.list_text([wording.zone_text(str(zone)) for zone in bowl.get("zones", ())])
    grams = {str(name): float(weight) for name, weight in bowl.get("shade_grams", ())}
    parts = [(str(name), int(count)) for name, count in bowl.get("parts", ())]
    mix = [
        wording.parts_text([(name, count)]) + (f" ({wording.grams_text(grams[name])})" if name in grams else "")
        for name, count in parts
    ]
    if bowl.get("developer_grams"):
        strength = PeroxideStrength(**bowl["developer"])
        mix.append(f"developer {wording.strength_text(strength)} {wording.grams_text(bowl['developer_grams'])}")
    total = f"; {wording.grams_text(bowl['total_grams'])} in all" if bowl.get("total_grams") else ""
    return f"Planned bowl {bowl['number']}{f' for {zones}' if zones else ''}", f"{', '.join(mix)}{total}"


def _aim(zone: Mapping[str, Any]) -> tuple[str, str]:
    told = []
    if zone.get("predicted_level") and zone.get("predicted_warmth"):
        level, warmth = level_then(zone["predicted_level"]), warmth_then(zone["predicted_warmth"])
        told.append(f"level {wording.level_text(level)}; {wording.warmth_text(warmth)}")
    if zone.get("bowl_number") is None:
        told.append("no bowl: left as it is")
    elif zone.get("minutes_high"):
        told.append(wording.minutes_text(zone["minutes_low"], zone["minutes_high"]))
    told += [f"out of reach: {reason['message']}" for reason in zone.get("out_of_reach", ())]
    return f"Predicted, {wording.zone_text(str(zone['zone']))}", "; ".join(told)


# --- the clock, and what came of it ----------------------------------------------------------------------------


def clock_facts(events: Sequence[ClockRecord]) -> Facts:
    """Each event of the clock in its order, by the time of day in UTC."""
    return tuple(
        (f"{event.at_utc:%H:%M} UTC, {wording.zone_text(event.zone)}", clock_event_text(event.kind, event.content))
        for event in events
    )


def change_facts(record: VisitRecord) -> Facts:
    """What changed in each zone, with its interval, and what was said of it."""
    said = [
        (_cap(wording.zone_text(outcome.zone)), outcome.told)
        for outcome in record.outcomes
        if difference_then(outcome) is None
    ]
    return (*map(_measured, changes_then(record)), *said)


def changes_then(record: VisitRecord) -> tuple[ZoneDifference, ...]:
    """What the photographs told of each zone that both of them show."""
    kept = [change for outcome in record.outcomes if (change := difference_then(outcome)) is not None]
    named = {change.zone for change in kept}
    return (*kept, *(change for change in _compared(record) if change.zone not in named))


def _measured(change: ZoneDifference) -> tuple[str, str]:
    words = (wording.change_text(change), wording.direction_text(change), wording.lab_difference_text(change))
    return _cap(wording.zone_text(change.zone)), "; ".join(words)


def _cap(words: str) -> str:
    return words[:1].upper() + words[1:]


def difference_then(outcome: OutcomeRecord) -> ZoneDifference | None:
    """The difference that was measured, as it was kept; None for an outcome that holds none."""
    told = outcome.content.get(DIFFERENCE)
    if not isinstance(told, dict):
        return None
    arrays = {name: np.array(told[name]) for name in ("d_lab", "covariance", "d_low", "d_high")}
    return ZoneDifference(outcome.zone, delta_e_2000=told["delta_e_2000"], words=told["words"], **arrays)


def _compared(record: VisitRecord) -> list[ZoneDifference]:
    """For a visit kept without its differences: what the kept readings tell, which is a little less."""
    zones = {zone.name: zone for zone in record.zones}
    read: dict[str, dict[str, ReadingRecord]] = {}
    for reading in record.readings:
        read.setdefault(reading.zone, {})[reading.side] = reading
    return [
        difference(*(reading_then(sides[side], zones[zone]) for side in ("before", "after")))
        for zone, sides in read.items()
        if {"before", "after"} <= set(sides)
    ]
