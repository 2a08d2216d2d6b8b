"""A visit that lifts, from its file and by the commands: zones that differ, dates, the clock, what is refused."""

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from estimator.care.facts import baseline_facts
from estimator.cli import app
from estimator.errors import BadInputError
from estimator.files import load_photo, load_zones
from estimator.lift_file import run_lift
from estimator.reading.zone_reading import ProfilePoint
from estimator.reports.before_after import render_html
from estimator.salon_settings import keep_patch_valid_days, load_settings
from estimator.visit import LiftWishes, read_photo
from estimator.visit.lifting import lines_of
from estimator.visit_file import consultation_of, load_visit_file, reminders_of, run_visit

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"
TEXT = f'''
demo = true
client = "M-7"
date = 2026-10-05
before = "{SAMPLES / "head.jpg"}"
zones = "{SAMPLES / "head_zones.json"}"
'''
CALM = """
[facts]
age_years = 34
face_rash = false
scalp_state = "sound"
dye_reaction_before = "none"
lightener_reaction_before = "none"
black_henna_tattoo = "never"
cross_allergy = false
asthma = false
patch_test = "clear"
patch_same_product = true
hair_loss = "none"
cancer_treatment = "none"
relaxer_kind = "none"
perm_weeks_ago = 999
smoothing_kind = "none"
earlier_colour = ["none"]
metal_test = "not_needed"
dark_dye_layers = 0
copper_exposure = false
lightened_weeks_ago = 999
lightened_times_12_months = 0
iron_days_per_week = 1
iron_celsius = 160
elasticity = "good"
breakage = "none"
wig_friction = "none"
porosity = "normal"
curl_pattern = "wavy"
strand_diameter = "medium"
density = "medium"
strand_test = "passed"
curl_elongation_percent = 0
visits_budget = 3
skin_condition = "none"
medicine_affects_skin = false
scalp_medicine = false
pregnant_or_nursing = false
hours_since_wash_or_scratch = 48
tension_style_off_hours = 9999
"""
DATES = """
[dates]
visit_at = 2026-10-05T10:00:00+02:00
patch_tested_at = 2026-10-02T09:00:00+02:00
strand_tested_at = 2026-09-20T12:00:00+02:00
"""
TARGETS = """
[targets.crown_regrowth]
level = 8
tone = "beige"

[targets.fringe]
level = 10
tone = "pearl"
"""
BROKEN_FRINGE = """
[zone.fringe.facts]
breakage = "widespread"
"""


@pytest.fixture(autouse=True)
def _own_salon(tmp_path, monkeypatch):
    monkeypatch.setenv("TRESSMETER_SALON", str(tmp_path / "salon"))
    monkeypatch.setenv("COLUMNS", "200")


@pytest.fixture
def visit_file(tmp_path):
    def written(*parts: str) -> Path:
        path = tmp_path / "visit.toml"
        path.write_text(TEXT + "".join(parts), encoding="utf-8")
        return path

    return written


def run(*words: str) -> Result:
    return CliRunner().invoke(app, list(words))


# --- zones that differ


@pytest.mark.slow
def test_a_broken_fringe_is_withheld_from_the_lift_and_the_regrowth_goes_on(visit_file):
    outcome = run_lift(visit_file(CALM, DATES, TARGETS, BROKEN_FRINGE, "[lift]\n"))
    assert outcome.plan.hidden == ("fringe",)
    assert outcome.plan.zone("crown_regrowth").mix is not None
    assert outcome.plan.care.stopped_zones == ("fringe",)


@pytest.mark.slow
def test_a_toner_skips_the_zone_that_its_own_stop_withholds(visit_file):
    gummy = '[zone.fringe.facts]\nelasticity = "gummy"\n'
    targets = '[targets.nape]\nlevel = 8\ntone = "neutral"\n[targets.fringe]\nlevel = 8\ntone = "neutral"\n'
    outcome = run_visit(visit_file(CALM, DATES, targets, gummy))
    assert outcome.checked.withheld == ("fringe",)
    assert [zone.zone for zone in outcome.checked.plan.zones] == ["nape"]
    assert outcome.document.formula is outcome.checked.plan
    page = render_html(outcome.document)
    assert "No formula is shown for fringe" in page
    assert "<strong>Bowl 1</strong> for <bdi>nape</bdi>" in page


@pytest.mark.slow
def test_a_formula_that_holds_a_stopped_zone_is_never_shown(visit_file):
    targets = '[targets.nape]\nlevel = 8\ntone = "neutral"\n[targets.fringe]\nlevel = 8\ntone = "neutral"\n'
    shown = run_visit(visit_file(CALM, DATES, targets)).document
    stopped = run_visit(visit_file(CALM, DATES, targets, '[zone.fringe.facts]\nelasticity = "gummy"\n')).document
    assert replace(shown, care=stopped.care).formula is None  # whoever hands a plan over


@pytest.mark.slow
def test_a_stop_of_the_person_withholds_every_zone_of_lift_and_toner(visit_file):
    path = visit_file(CALM.replace("age_years = 34", "age_years = 15"), DATES, TARGETS, "[lift]\n")
    assert run_lift(path).plan.bowls == ()
    outcome = run_visit(path)
    assert (outcome.checked.plan, outcome.document.formula) == (None, None)


@pytest.mark.slow
def test_a_fault_in_the_facts_of_a_zone_names_zone_and_fact(visit_file):
    ran = run("lift", "plan", str(visit_file(CALM, TARGETS, '[zone.fringe.facts]\nelasticity = "rubbery"\n')))
    assert isinstance(ran.exception, BadInputError)
    assert "fringe" in str(ran.exception)
    assert "rubbery" in str(ran.exception)


@pytest.mark.slow
def test_a_gummy_test_strand_stops_its_zone_whatever_the_consultation_says(visit_file):
    strand = '[lift]\n[[lift.strand]]\nzone = "crown_regrowth"\ndeveloper_volume = 20\nstretch = "gummy"\n'
    plan = run_lift(visit_file(CALM, DATES, TARGETS, strand)).plan
    assert "strand-damaged" in plan.zone("crown_regrowth").care.codes
    assert plan.zone("crown_regrowth").mix is None


@pytest.mark.slow
def test_a_zone_of_a_head_that_is_wider_than_long_has_no_lines_since_its_profile_runs_across_the_hair():
    reading = read_photo(load_photo(SAMPLES / "head.jpg"), load_zones(SAMPLES / "head_zones.json", ()))
    step = tuple(ProfilePoint((n + 0.5) / 10, (25.0 if n < 3 else 60.0, 8.0, 22.0), 0.4) for n in range(10))
    found = {}
    for zone in reading.zones:
        lined = replace(zone, reading=replace(zone.reading, profile=step))
        found[zone.name] = bool(lines_of(lined, reading, baseline_facts(), LiftWishes(())))
    assert found["nape"]  # a long strip that hangs down
    assert not found["crown"]  # seen from behind it is wider than long


# --- commands on the lift


@pytest.mark.slow
def test_the_command_prints_grams_cautions_and_order_and_writes_the_sheet(visit_file, tmp_path):
    ran = run("lift", "plan", str(visit_file(CALM, DATES, TARGETS, BROKEN_FRINGE, "[lift]\nadditive_percent = 5\n")),
              "--out", str(tmp_path / "out"))  # fmt: skip
    assert ran.exit_code == 0, ran.output
    told = " ".join(ran.output.split())
    for words in ("STOP", "fringe", "Lightener powder", "additive, weighed in", "licensed practice", "First aid"):
        assert words in told
    assert {path.suffix for path in (tmp_path / "out").iterdir()} == {".html", ".pdf"}


@pytest.mark.slow
def test_behind_a_stop_the_command_tells_no_gram_and_no_volume_but_first_aid(visit_file):
    facts = CALM.replace('scalp_state = "sound"', 'scalp_state = "broken"')
    ran = run("lift", "plan", str(visit_file(facts, DATES, TARGETS, "[lift]\n")))
    assert "First aid" in ran.output
    plan = ran.output.split("First aid")[0]
    assert "Lightener powder" not in plan
    assert "minutes at most" not in plan
    assert "volume" not in plan.replace("10 volume at most", "")


def test_a_strand_by_eye_draws_a_curve_and_says_what_it_rests_on(tmp_path):
    ran = run(
        "lift", "strand", "--seen", "0=4", "--seen", "5=4.5", "--seen", "10=5", "--curve", str(tmp_path / "c.svg")
    )
    assert ran.exit_code == 0, ran.output
    assert "3 by eye" in ran.output
    assert (tmp_path / "c.svg").read_text(encoding="utf-8").startswith("<svg")


@pytest.mark.slow
def test_photos_of_a_strand_are_read_with_their_minutes(tmp_path):
    zones = str(SAMPLES / "strands_zones.png")
    shots = [f"{SAMPLES / 'strands_after.jpg'}@0", f"{SAMPLES / 'strands_before.jpg'}@20"]  # the darker one came first
    ran = run("lift", "strand", *shots, "--zones", zones, "--zone", "back", "--target", "9")
    assert ran.exit_code == 0, ran.output
    assert "2 photos, up to minute 20" in " ".join(ran.output.split())


@pytest.mark.parametrize(
    ("words", "match"),
    [
        (["strand.jpg"], "has no minute"),
        (["strand.jpg@soon"], "no number"),
        (["--seen", "ten"], "is no look"),
        (["nowhere.jpg@5"], "no photograph"),
        (["--seen", "5=5", "--volume", "60"], "volume"),
    ],
)
def test_a_strand_that_cannot_be_is_refused_in_a_sentence(words, match):
    ran = run("lift", "strand", *words)
    assert isinstance(ran.exception, BadInputError)
    assert match in str(ran.exception)
    assert str(ran.exception).rstrip().endswith(".")


@pytest.mark.slow
def test_the_clock_keeps_its_state_in_the_salon_and_an_alarm_ends_in_an_exit_code(tmp_path):
    assert run("lift", "clock", "start", "nape", "--most", "30", "--target", "8", "--start", "4").exit_code == 0
    assert run("lift", "clock", "check", "nape", "--level", "5").exit_code == 0
    record = tmp_path / "salon" / "clock.json"
    kept = json.loads(record.read_text(encoding="utf-8"))
    assert [event["kind"] for event in kept["events"]] == ["start", "check"]
    for event in kept["events"]:  # as if it had begun 40 minutes ago
        event["at"]["uptime_seconds"] -= 40 * 60
    record.write_text(json.dumps(kept), encoding="utf-8")
    shown = run("lift", "clock", "show")
    assert shown.exit_code == 1
    assert "ALARM" in shown.output
    assert "RINSE [maximum-passed]" in shown.output
    assert "First aid" in shown.output
    run("lift", "clock", "heard", "nape", "--who", "A")
    heard = run("lift", "clock", "show")
    assert (heard.exit_code, "ALARM" in heard.output, "RINSE" in heard.output) == (0, False, True)
    assert "rinsed at 40:" in run("lift", "clock", "rinse", "nape").output
    assert "Put away" in run("lift", "clock", "put-away").output


@pytest.mark.slow
def test_a_photo_at_a_check_stays_in_the_clock_and_moves_the_curve(tmp_path):
    run("lift", "clock", "start", "back", "--most", "40", "--start", "5")
    zones = str(SAMPLES / "strands_zones.png")
    ran = run(
        "lift", "clock", "photo", "back", str(SAMPLES / "strands_after.jpg"), "--zones", zones, "--outline", "back"
    )
    assert ran.exit_code == 0, ran.output
    (_, check) = json.loads((tmp_path / "salon" / "clock.json").read_text(encoding="utf-8"))["events"]
    assert check["seen"]["lightness"] == pytest.approx(50, abs=6)  # the strand reads about L* 50 in its photograph
    assert len(check["photo_sha256"]) == 64


def test_burning_at_a_check_calls_the_rinse_at_once():
    run("lift", "clock", "start", "nape", "--most", "30")
    told = run("lift", "clock", "check", "nape", "--skin", "burns").output
    assert "RINSE [skin-burns]" in told
    assert "First aid" in told


# --- dates, form, limits, setting


def test_dated_tests_are_as_old_as_their_dates_say_and_run_out(visit_file):
    written = load_visit_file(visit_file(CALM, DATES))
    facts = consultation_of(written).facts
    assert facts.patch_test_age_hours == pytest.approx(73)
    assert facts.strand_test_days_ago == pytest.approx(14.9, abs=0.05)
    late = load_visit_file(visit_file(CALM, DATES.replace("2026-10-02T09", "2026-09-20T09")))
    assert "patch-expired" in run_check(late)
    due = {reminder.code: reminder.due.date() for reminder in reminders_of(written)}
    assert due["message-after"] == date(2026, 10, 7)
    assert due["patch-test-expires"] == date(2026, 10, 9)


def run_check(written) -> tuple[str, ...]:
    from estimator import visit

    return visit.check(consultation_of(written)).codes


def test_an_age_and_a_date_of_one_test_are_refused(visit_file):
    written = load_visit_file(visit_file(CALM + "patch_test_age_hours = 60\n", DATES))
    with pytest.raises(BadInputError, match="a date and an age"):
        consultation_of(written)


def test_the_salon_s_days_for_a_patch_test_are_kept_and_count(visit_file, tmp_path):
    salon = tmp_path / "salon"
    assert run("care", "patch-days", "3").exit_code == 0
    assert load_settings(salon).patch_valid_days == 3
    path = visit_file(CALM, DATES.replace("2026-10-02T09", "2026-10-01T09"))  # four days before
    assert "patch-expired" in run_check(load_visit_file(path))
    run("care", "patch-days", "14")
    assert "patch-expired" not in run_check(load_visit_file(path))


def test_setting_the_days_leaves_the_rest_of_the_settings_alone(tmp_path):
    (tmp_path / "salon.toml").write_text('# ours\ndatabase = ""\n[later]\nx = 1\n', encoding="utf-8")
    keep_patch_valid_days(tmp_path, 5)
    keep_patch_valid_days(tmp_path, 6)
    text = (tmp_path / "salon.toml").read_text(encoding="utf-8")
    assert text.count("patch_valid_days") == 1
    assert "# ours" in text
    assert load_settings(tmp_path).patch_valid_days == 6
    with pytest.raises(BadInputError, match="2 to 183"):
        keep_patch_valid_days(tmp_path, 400)
    assert load_settings(tmp_path).patch_valid_days == 6


def test_a_damaged_settings_file_is_named_and_left_alone(tmp_path):
    (tmp_path / "salon.toml").write_text("patch_valid_days = = 3", encoding="utf-8")
    with pytest.raises(BadInputError, match="Mend it"):
        load_settings(tmp_path)


@pytest.mark.slow
def test_calendar_form_and_limits_come_by_command(visit_file, tmp_path):
    path = str(visit_file(CALM, DATES, BROKEN_FRINGE))
    calendar, form = tmp_path / "r.ics", tmp_path / "form.html"
    assert run("care", "calendar", path, "--out", str(calendar), "--label", "visit 7").exit_code == 0
    assert calendar.read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")  # RFC 5545: lines end in CRLF
    assert "M-7" not in calendar.read_text(encoding="utf-8")
    assert run("care", "form", path, "--out", str(form)).exit_code == 0
    assert "Zone: <bdi>fringe</bdi>" in form.read_text(encoding="utf-8")
    assert run("care", "form", "--out", str(tmp_path / "form.pdf")).exit_code == 0
    assert (tmp_path / "form.pdf").read_bytes().startswith(b"%PDF")
    assert isinstance(run("care", "form", "--out", str(tmp_path / "form.doc")).exception, BadInputError)
    european = " ".join(run("care", "limits", "--place", "EU").output.split())
    assert "12 percent" in european  # Regulation (EC) 1223/2009, Annex III, entry 12
    assert "25 November 2026" in european
    assert "Ask your authority" in run("care", "limits", "--place", "nowhere").output


@pytest.mark.slow
def test_care_by_command_ends_in_an_exit_code_where_a_stop_stands(visit_file):
    assert run("care", "check", str(visit_file(CALM, DATES))).exit_code == 0
    stopped = run("care", "check", str(visit_file(CALM.replace('"sound"', '"broken"'), DATES)))
    assert (stopped.exit_code, "First aid" in stopped.output) == (1, True)
    lifted = run("care", "check", str(visit_file(CALM, DATES, BROKEN_FRINGE, "[lift]\n")))
    assert lifted.exit_code == 1
    assert "fringe: Hair is broken" in " ".join(lifted.output.split())
