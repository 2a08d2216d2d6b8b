"""What the commands on results print. Figures go through the words of reports; a stop hides what it is about."""

from pathlib import Path

from estimator.care.cautions import first_aid, standing_order, usual_cautions
from estimator.console import print_care, print_cautions, print_plan, say, table_of
from estimator.feedback.applying import interval_of
from estimator.feedback.first_aid import FirstAid, Withheld
from estimator.feedback.journal import Journal
from estimator.feedback.learning import (
    NOTHING_LEARNED,
    Belief,
    ClassUptake,
    ClientRate,
    ClientUptake,
    ShadeStrength,
    believe,
)
from estimator.feedback.strand_trial import TrialFound
from estimator.feedback_file import Followed
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.reports import wording
from estimator.reports.trial_wording import NEW_BOWL, NO_NEW_BOWL, SURPRISED, found_lines
from estimator.toning.plan import Plan, ZonePlan
from estimator.visit import Lesson, Rescue, TrialPlans, ZoneRescue

FORMULA_STOPS = "No formula is shown while a stop stands. First aid is always shown."

# --- strand trial ---


def print_trial(plans: TrialPlans) -> None:
    """What each strand told, then the plan before, the same bowls after, and whether a new bowl is worth mixing."""
    for found in plans.trial.found:
        _print_strand(found)
    if plans.trial.surprising:
        say(SURPRISED, "bold")
    print_care(plans.before.care)
    if plans.before.plan is None:
        say(FORMULA_STOPS, "bold")
        print_cautions("First aid", first_aid())
        return
    say("Before the trial", "bold")
    print_plan(plans.before)
    if plans.same_bowls is not None:
        say("After the trial, the same bowls", "bold")
        _print_zones(plans.before.plan, plans.same_bowls)
        _print_anew(plans)
    print_cautions(standing_order(), usual_cautions())
    print_cautions("First aid", first_aid())


def _print_strand(found: TrialFound) -> None:
    name = wording.zone_text(found.outcome.zone)
    say(f"Strand of {name}, {_minutes(found.outcome.minutes)}", "bold")
    for line in found_lines(found):
        say(f"  {line}")


def _print_zones(before: Plan, now: Plan) -> None:
    was = {zone.zone: zone for zone in before.zones}
    rows = [_row(was[zone.zone], zone) for zone in now.zones if zone.bowl_number is not None]
    table_of(("zone", "minutes before", "minutes now", "predicted now", "odds"), rows)
    for note in now.notes:
        if "rest on" in note:
            say(f"  {note}")


def _row(was: ZonePlan, now: ZonePlan) -> tuple[str, ...]:
    return (
        wording.zone_text(now.zone),
        wording.minutes_text(was.minutes_low, was.minutes_high),
        wording.minutes_text(now.minutes_low, now.minutes_high),
        f"{wording.level_text(now.predicted_level)}\n{wording.stage_text(now.predicted_warmth)}",
        wording.odds_text(now.odds_inside),
    )


def _print_anew(plans: TrialPlans) -> None:
    if plans.anew is None or not plans.new_bowl_is_worth_mixing:
        say(NO_NEW_BOWL)
        return
    say(NEW_BOWL, "bold")
    print_plan(plans.anew)


# --- rescue ---


def print_rescue(found: Followed, rescue: Rescue) -> None:
    """Zone by zone what happened and what to do; then the second bowl, between care and its cautions."""
    print_care(found.checked.care)
    if not all(zone.reading.verified for zone in found.after.zones):
        say("The photograph after has no card: signs are judged by a wide, unverified reading.", "bold")
    for zone in rescue.zones:
        _print_zone(zone)
    if rescue.second is not None and rescue.missed:
        say("Second bowl, planned from the result", "bold")
        print_plan(rescue.second)
        print_cautions(standing_order(), usual_cautions())
    print_cautions("First aid for the skin and eyes", first_aid())


def _print_zone(zone: ZoneRescue) -> None:
    name = wording.zone_text(zone.zone)
    if zone.miss.reached:
        doubts = "; ".join(wording.sign_text(sign) for sign in zone.miss.signs)
        say(f"{name}: nothing to mend." + (f" In doubt: {doubts}." if doubts else ""), "bold")
        return
    say(f"{name}: {', '.join(wording.sign_text(sign) for sign in zone.miss.signs)}", "bold")
    say(f"  {zone.miss.signs[0].means}")
    for light in zone.light:
        say(f"  {wording.light_text(light)}")
    for cause in zone.causes[:2]:
        say(f"  perhaps {wording.cause_text(cause)}")
    for number, step in enumerate(zone.steps, start=1):
        _print_step(number, step)
    if zone.washing is not None:
        say(f"  {wording.washing_text(zone.washing)}")


def _print_step(number: int, step: FirstAid | Withheld) -> None:
    if isinstance(step, Withheld):
        say(f"  {number}. not today ({step.kind}): {step.why}")
    else:
        say(f"  {number}. {step.text} [{step.source}]")


# --- learning ---


def print_lesson(lesson: Lesson, learned: tuple[str, ...], path: Path) -> None:
    """What was learned from, what was not and why."""
    for refused in lesson.refused:
        say(f"not learned: {refused.why}")
    for zone in lesson.surprising:
        if zone not in learned:
            say(
                f"not learned: {wording.zone_text(zone)} came out far from what its bowl and minutes should give. "
                "Check what was mixed and for how long; if it is right, repeat with --confirmed."
            )
    for zone in learned:
        say(f"learned: {wording.zone_text(zone)}")
    if learned:
        say(f"Journal: {path}. `tressmeter learn --undo` takes this visit back.")


def print_journal(journal: Journal, path: Path) -> None:
    """Every outcome with its key, then what is believed now beside what was believed before any."""
    say(f"Journal: {path}, {wording.count_text(len(journal.outcomes), 'outcome')}", "bold")
    rows = [
        (one.key, wording.date_text(one.day), one.client, wording.zone_text(one.zone), _minutes(one.minutes))
        for one in journal.outcomes
    ]
    if rows:
        table_of(("key", "day", "client", "zone", "on the hair"), rows)
    _print_belief(believe(journal.outcomes))


def _minutes(minutes: float) -> str:
    return wording.minutes_text(minutes, minutes)


def _print_belief(belief: Belief) -> None:
    shades = [unknown for unknown in belief.unknowns if isinstance(unknown, ShadeStrength)]
    clients = [unknown for unknown in belief.unknowns if isinstance(unknown, ClientUptake)]
    classes = [unknown for unknown in belief.unknowns if isinstance(unknown, ClassUptake)]
    rows = [(f"shade {one.name}", *_believed(belief, one)) for one in shades]
    rows += [(f"client {one.client}", *_believed(belief, one)) for one in clients]
    rows += [(f"client {one.client}, porosity {one.porosity}", *_believed(belief, one)) for one in classes]
    table_of(("dye taken or given", "before any result", "now"), rows or [("nothing learned yet", "", "")])
    for one in belief.unknowns:
        if isinstance(one, ClientRate):
            mean, covariance = belief.of((one,))
            half = NINE_IN_TEN * float(covariance[0, 0]) ** 0.5
            shown = wording.interval_text(float(mean[0]), float(mean[0]) - half, float(mean[0]) + half, 2)
            say(f"  client {one.client}: dye goes in as the minutes to the power of {shown}")
    say("  Intervals hold nine times in ten.")


def _believed(belief: Belief, unknown: ShadeStrength | ClientUptake | ClassUptake) -> tuple[str, str]:
    before, now = interval_of(NOTHING_LEARNED, unknown), interval_of(belief, unknown)
    return wording.factor_text(*before), wording.factor_text(*now)
