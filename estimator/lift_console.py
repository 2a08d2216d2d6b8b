"""What the commands on the lift print. Figures go through the words of reports; a stop hides what it is about."""

from collections.abc import Sequence
from pathlib import Path

from estimator.care.cautions import first_aid, standing_order, usual_cautions
from estimator.console import print_care, print_cautions, say, table_of
from estimator.files import write_text
from estimator.lift_file import LiftOutcome
from estimator.lifting.clock import LiftClock
from estimator.lifting.clock_curve import curve_on_clock
from estimator.lifting.clock_now import ZoneClock
from estimator.lifting.lift_plan import LiftPlan, ZoneLift
from estimator.lifting.lightener_bowl import LightenerBowl
from estimator.lifting.strand_test import StrandTest
from estimator.reports import lift_wording, wording
from estimator.reports.lift_drawings import Marked, lift_curve
from estimator.reports.lift_sheet import NO_MIX, strand_facts
from estimator.reports.writing import safe_stem

CURVE_MINUTES = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0)


def print_lift(name: str, outcome: LiftOutcome) -> None:
    """Care first, then bowls and zones; strand tests, dates, cautions, first aid."""
    document = outcome.document
    if document.heading.demo:
        say("DEMO DATA: the salon, the client and the hair are invented.", "bold reverse")
    say(f"{document.heading.salon}, {document.heading.client_code}, {wording.date_text(document.heading.day)}: {name}")
    if outcome.plan is None:
        for finding in outcome.reading.corrected.verdict.findings:
            say(f"  {finding.message} {finding.remedy}")
        say("The photograph has to be taken again; nothing was planned from it.", "bold")
        return
    print_care(outcome.plan.care)
    _print_plan(outcome.plan)
    for tested in outcome.tests:
        say(f"Strand test, {wording.zone_text(tested.zone)}", "bold")
        print_strand(tested.test)
    for reminder in document.reminders:
        say(f"{lift_wording.reminder_when(reminder)}: {reminder.title}")
    if outcome.plan.bowls:
        print_cautions(standing_order(), usual_cautions())
    print_cautions("First aid", first_aid())


def _print_plan(plan: LiftPlan) -> None:
    if plan.hidden:
        say(NO_MIX, "bold")
    for bowl in plan.bowls:
        _print_bowl(bowl)
    table_of(("", "zone", "today", "weigh", "looks"), [_cells(lift) for lift in plan.zones])
    for lift in plan.zones:
        for line in lift.lines:
            say(f"  {wording.zone_text(lift.zone)}: {lift_wording.line_text(line)}. {line.handling}")
        for reason in lift.reasons:
            say(f"  {wording.zone_text(lift.zone)}: {reason.message} {reason.remedy}")
    for note in plan.notes:
        say(f"  {note}")


def _print_bowl(bowl: LightenerBowl) -> None:
    whole = bowl.whole
    weighed = ", ".join(f"{what} {grams}" for what, grams in lift_wording.mix_lines(whole))
    zones = wording.list_text([wording.zone_text(zone) for zone in bowl.zones])
    say(f"Bowl {bowl.number}, for {zones}: {wording.grams_text(whole.total_grams)} in all", "bold")
    say(f"  weigh {weighed} ({whole.ratio_text}); on the head {wording.strength_text(whole.on_head)}")


def _cells(lift: ZoneLift) -> tuple[str, ...]:
    zone, reach = wording.zone_text(lift.zone), lift_wording.reachable_text(lift)
    if lift.mix is None or lift.most_minutes is None:
        return "", zone, reach, "stopped: not shown" if lift.care.is_stop else "", ""
    every = lift.check_every_minutes or 0.0
    weighed = "\n".join(f"{what} {grams}" for what, grams in lift_wording.mix_lines(lift.mix))
    checks = wording.checks_text(lift.first_check_minutes or every, every)
    looks = f"{checks}\n{lift_wording.most_minutes_text(lift.most_minutes)}\n{lift_wording.laid_text(lift.laid)}"
    return str(lift.order), zone, reach, weighed, looks


def print_strand(test: StrandTest) -> None:
    """The curve of a strand as a table, and what follows from it; a sign of harm first."""
    for call in test.stops:
        say(f"STOP [{call.code}] {call.message} {call.remedy}", "bold")
    rows = [(wording.plain_text(at), wording.level_text(test.curve.level_at(at))) for at in CURVE_MINUTES]
    table_of(("minutes", "level"), rows)
    say(test.can, "bold")
    for label, words in strand_facts(test):
        say(f"  {label}: {words}")
    say(f"  {standing_order()}")


def print_clock(zones: Sequence[ZoneClock]) -> None:
    """Every zone of the clock: calls to rinse first."""
    if not zones:
        say("No clock runs. Start one: tressmeter lift clock start ZONE --most 35")
        return
    for zone in zones:
        _print_zone(zone)
    if any(zone.calls for zone in zones):
        print_cautions("First aid", first_aid())


def _print_zone(zone: ZoneClock) -> None:
    name, minutes = wording.zone_text(zone.zone), lift_wording.clock_text(zone.minutes)
    if not zone.running:
        over = f"; {lift_wording.left_text(zone)}" if zone.over_minutes > 0 else ""
        say(f"{name}: rinsed at {minutes}{over}")
        return
    say(f"{name}: {minutes}; {lift_wording.next_look_text(zone)}; {lift_wording.left_text(zone)}", "bold")
    for call in zone.calls:
        say(f"  RINSE [{call.code}] {call.message} {call.remedy}", "bold")
    if zone.alarm:
        say(f"  ALARM: nobody has heard it. tressmeter lift clock heard {zone.zone} --who NAME", "bold reverse")
    if zone.clocks_disagree:
        say("  The machine's two clocks disagree. Count by a watch, then: tressmeter lift clock settle")


def write_curves(folder: Path, clock: LiftClock, zones: Sequence[ZoneClock]) -> None:
    """Each zone's curve as a drawing, with where its clock stands."""
    for zone in zones:
        now = zone.minutes if zone.running else None
        drawn = lift_curve(curve_on_clock(clock, zone.zone), Marked(zone.target_level, zone.most_minutes, None, now))
        path = folder / f"lift-{safe_stem(zone.zone)}.svg"
        write_text(path, drawn + "\n")
        say(f"Curve: {path}")
