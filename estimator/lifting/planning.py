"""The plan of a lift: for each zone how far today, with what, how long, in which order; judged by care before it shows.

A stop hides the mix, the strength and the minutes of the zone that it is about; one of the person hides all of them.
"""

from collections.abc import Mapping
from dataclasses import replace

from estimator.care.facts import Facts
from estimator.care.judging_zones import ZonedVerdict, judge_zones
from estimator.care.verdicts import CareVerdict, CareWord, verdict_from
from estimator.errors import BadInputError
from estimator.lifting.drafting import LiftDraft, draft_lift
from estimator.lifting.figures import figure
from estimator.lifting.lift_care import crosses_a_line
from estimator.lifting.lift_plan import Client, LiftPlan, LiftRequest, LiftSettings, ZoneLift
from estimator.lifting.lift_rules import lift_rule, place_of
from estimator.lifting.lightener_bowl import bowls_of, lightener_grams, mix_of
from estimator.toning.plan import MOST_ZONES, Density, HairFacts, Reason, StrandDiameter


def plan_lift(requests: tuple[LiftRequest, ...], client: Client, settings: LiftSettings | None = None) -> LiftPlan:
    """The lift of each zone, judged by care with its own figures. Raises BadInputError for no zones or twins."""
    settings = settings or LiftSettings()
    names = [request.zone for request in requests]
    if not 1 <= len(names) <= MOST_ZONES or len(set(names)) < len(names):
        raise BadInputError(f"{len(names)} zones to lift were given; name 1 to {MOST_ZONES}, each once.")
    fringe_apart = any("fringe" in name.casefold() for name in names)
    drafts = [
        replace(draft_lift(request, client, settings), grams=lightener_grams(request.zone, request.hair, fringe_apart))
        for request in requests
    ]
    drafts.sort(key=_order_key)
    verdict = _judged(drafts, client)
    zones = _numbered(tuple(_zone_lift(draft, _care_of(draft, verdict), settings) for draft in drafts))
    mixes = {lift.zone: lift.mix for lift in zones if lift.mix is not None}
    grams = {draft.request.zone: draft.grams for draft in drafts}
    hair = {request.zone: request.hair for request in requests}
    bowls = bowls_of(grams, mixes, hair, settings.additive_percent)
    again = any(lift.visits is not None and lift.visits.most > 1 for lift in zones)
    weeks = lift_rule("weeks_between_visits") if again else None
    return LiftPlan(zones, bowls, verdict.whole, _notes(zones, hair, weeks), weeks)


# --- care


def _judged(drafts: list[LiftDraft], client: Client) -> ZonedVerdict:
    planned = {draft.request.zone: _with_figures(draft) for draft in drafts if _is_work(draft)}
    if not planned:
        return ZonedVerdict(_stops_alone(drafts, client), {})
    return judge_zones(client.zoned, planned, client.answers, client.day)


def _stops_alone(drafts: list[LiftDraft], client: Client) -> CareVerdict:
    """Where nothing is lifted no lift is judged; but "clear" is never said to somebody whom a stop is about."""
    unlifted = {
        draft.request.zone: draft.facts.with_plan_figures(
            wants_lightener=False, wants_toner=True, wants_oxidative_dye=True
        )
        for draft in drafts
    }
    found = judge_zones(client.zoned, unlifted, client.answers, client.day).whole.findings
    return verdict_from([finding for finding in found if finding.verdict is CareWord.STOP])


def _care_of(draft: LiftDraft, verdict: ZonedVerdict) -> CareVerdict:
    return verdict.of(draft.request.zone) if _is_work(draft) else verdict_from([])


def _is_work(draft: LiftDraft) -> bool:
    """Whether anything is put on the zone, or would have to be."""
    return draft.levels > 0 or bool(draft.reasons)


def _with_figures(draft: LiftDraft) -> Facts:
    return draft.facts.with_plan_figures(
        wants_lightener=True,
        lightener_volume=draft.curve.strand.developer.volume if draft.curve is not None else 0.0,
        levels_to_lift=min(draft.levels, 10.0),
        lightening_passes_today=1,
        minutes_planned=draft.rule.most_minutes if draft.rule is not None else 0.0,
        visits_needed=draft.visits.most if draft.visits is not None else 1,
    )


# --- put together


def _order_key(draft: LiftDraft) -> tuple[bool, float]:
    """Slow zones first, roots last: the scalp warms them."""
    place = place_of(draft.request.zone)
    pace = draft.curve.strand.pace_times * draft.levels if draft.curve is not None else 0.0
    return place.last, -pace


def _zone_lift(draft: LiftDraft, care: CareVerdict, settings: LiftSettings) -> ZoneLift:
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
        reasons=(*draft.reasons, *_line_reasons(draft)),
        basis=curve.basis if mix is not None and curve is not None else "",
        lines=request.lines,
        laid=request.laid,
        curve=curve if mix is not None else None,
    )


def _line_reasons(draft: LiftDraft) -> tuple[Reason, ...]:
    if not (_is_work(draft) and crosses_a_line(draft.request)):
        return ()
    said = "The mix as it is laid crosses a line: beyond it the hair is lightened or relaxed."
    return (Reason("line-crossed", said, "Lay it up to the line, with a barrier beyond, or plan both sides alone."),)


def _check_minutes(draft: LiftDraft) -> float:
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
    if stopped and len(stopped) < len(zones):
        notes.append(
            f"Keep every mix off {', '.join(stopped)}: a barrier on it, and rinse the other zones away from it."
        )
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
