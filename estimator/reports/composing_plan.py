"""The plan of a report: bowls to the gram, what each zone becomes, how likely, and what is out of reach."""

from calibration.photo import FloatArray
from estimator.reports import wording
from estimator.reports.drawings import Patch, shown_text, swatches
from estimator.reports.sheet import BowlWords, PlanWords, Remark, Weighing, ZoneAim
from estimator.toning.plan import Bowl, Plan, ZonePlan


def plan_words(plan: Plan) -> PlanWords:
    """The whole plan in words and drawings."""
    return PlanWords(tuple(map(bowl_words, plan.bowls)), tuple(map(_aim, plan.zones)), plan_notes(plan))


def plan_notes(plan: Plan) -> tuple[str, ...]:
    """What holds for the whole plan, why each bowl, and the second best."""
    why = [f"Why bowl {bowl.number}: {' '.join(bowl.why)}" for bowl in plan.bowls if bowl.why]
    second = wording.second_best_text(plan)
    return (*mixing_notes(plan), *why, *((second,) if second else ()))


def mixing_notes(plan: Plan) -> tuple[str, ...]:
    """What holds for the whole plan and is needed with gloves on."""
    notes = list(plan.notes)
    if plan.bowls:
        notes.append("The eye decides when to rinse; the minutes are the outer limit.")
    if plan.shelf_demo:
        shelf = plan.shelf_name or "demo shelf"
        notes.append(f"Shelf: {shelf}. Its shades are invented: nothing here can be mixed as it stands.")
    return tuple(notes)


def bowl_words(bowl: Bowl) -> BowlWords:
    """One bowl to the gram, each figure in words."""
    parts = dict(bowl.parts)
    lines = [
        Weighing(name, wording.count_text(parts.get(name, 0), "part"), wording.grams_text(grams))
        for name, grams in bowl.shade_grams
    ]
    if bowl.developer_grams > 0:
        lines.append(Weighing(wording.developer_text(bowl.developer), "", wording.grams_text(bowl.developer_grams)))
    return BowlWords(
        number=bowl.number,
        zones=wording.list_text([wording.zone_text(zone) for zone in bowl.zones]),
        kind=str(bowl.kind.value),
        lines=tuple(lines),
        total=wording.grams_text(bowl.total_grams),
        ratio=bowl.ratio_text,
        on_head=wording.strength_text(bowl.on_head) if bowl.on_head.volume > 0 else "no oxidant",
    )


def _aim(zone: ZonePlan) -> ZoneAim:
    target = wording.target_text(zone.target)
    predicted = f"level {wording.level_text(zone.predicted_level)}; {wording.warmth_text(zone.predicted_warmth)}"
    facts = [("Target", target), ("Predicted", predicted)]
    odds = f"{wording.odds_text(zone.odds_inside)} inside the target"
    facts.append(("Odds", f"{odds}; {wording.delta_e_text(zone.expected_delta_e_2000)} off on average"))
    if zone.bowl_number is None:
        facts.insert(0, ("Bowl", "none: left as it is"))
    else:
        facts.insert(0, ("Bowl", f"{zone.bowl_number}, {wording.grams_text(zone.grams)} on this zone"))
        minutes = wording.minutes_text(zone.minutes_low, zone.minutes_high)
        facts.append(("Time", f"{minutes}; {wording.checks_text(zone.first_check_minutes, zone.check_every_minutes)}"))
        facts.append(("If left longer", zone.if_left_longer))
    if zone.nearest_text:
        facts.append(("Nearest within reach", zone.nearest_text))
    reasons = tuple(Remark("Out of reach", reason.message, reason.remedy) for reason in zone.out_of_reach)
    notes = (*zone.notes, *_screen_notes(zone))
    return ZoneAim(wording.zone_text(zone.zone), _swatches(zone), tuple(facts), reasons, notes)


def _swatches(zone: ZonePlan) -> str:
    predicted = f"level {wording.number_text(zone.predicted_level.level, 1)}"
    target = f"level {wording.number_text(zone.target.level, 1)}"
    return swatches(
        [
            Patch(_triple(zone.now_lab_d65), ("now",)),
            Patch(_triple(zone.predicted_lab_d65), ("predicted", predicted)),
            Patch(_triple(zone.target_lab_d65), ("target", target)),
        ]
    )


def _triple(lab_d65: FloatArray) -> tuple[float, float, float]:
    lightness, red_green, yellow_blue = (float(number) for number in lab_d65)
    return lightness, red_green, yellow_blue


def _screen_notes(zone: ZonePlan) -> tuple[str, ...]:
    named = (("predicted", zone.predicted_lab_d65), ("target", zone.target_lab_d65))
    return tuple(f"The {word} colour is {shown_text(lab_d65)}." for word, lab_d65 in named if shown_text(lab_d65))
