"""Readings, plans and outcomes as CSV and JSON: exact both ways, and every real output within its published schema."""

import json
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import visit
from estimator.care.facts import facts_from_answers
from estimator.errors import BadInputError
from estimator.exchange import plan_lines
from estimator.exchange.outcome_lines import outcomes_of_csv, outcomes_to_csv
from estimator.exchange.reading_lines import ReadingLine, SecondColour, lines_from, lines_to_csv, lines_to_json
from estimator.exchange.schemas import DIALECT, schemas
from estimator.feedback.journal import Journal, journal_from_text, journal_text
from estimator.feedback.outcome import Outcome, ShadeUsed
from estimator.plan_file import PlanTables, requests_from_tables
from estimator.records.clients import give_consent
from estimator.records.consent_scopes import Scope
from estimator.records.exporting import client_rows, client_tables
from estimator.records.visit_record import ConsentRecord
from estimator.records.visits import keep_visit
from estimator.toning.plan import PlanSettings
from estimator.toning.shades import demo_shelf
from estimator.visit.keeping import as_json
from tests.estimator.records.invented import visit as invented_visit

ROOT = Path(__file__).resolve().parents[3]
PUBLISHED = ROOT / "docs" / "schemas"

figures = st.floats(allow_nan=False, allow_infinity=False)
three = st.tuples(figures, figures, figures)
texts = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=15)
codes = st.text("abcdefghijklmnopqrstuvwxyz_", min_size=1, max_size=8)
lines = st.builds(
    ReadingLine,
    *(texts, texts, texts, texts, st.lists(codes, max_size=3).map(tuple)),
    *(st.none() | three, st.none() | three, st.none() | three, st.none() | three),
    *(texts, texts, st.none() | three, st.none() | st.builds(SecondColour, texts, three, st.none() | figures, texts)),
)


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(st.lists(lines, min_size=1, max_size=3).map(tuple))
def test_readings_come_back_from_csv_and_json_digit_for_digit(some):
    assert lines_from(lines_to_json(some)) == some
    shown = tuple(line for line in some if line != ReadingLine(*[""] * 4, (), *[None] * 4, ""))
    assert lines_from(lines_to_csv(shown)) == shown  # a row of nothing but empty cells is no row of a table


def test_units_stand_in_the_header_and_danger_stays_text():
    line = ReadingLine("", "=1+1", "@crown", "usable", (), (50.0, -6.0, 21.3), None, None, (7.2, 6.8, 7.6), "gold")
    text = lines_to_csv((line,))
    head, row = text.splitlines()
    assert "lab_l [CIELAB D65 2 deg]" in head
    assert "level_low [1-10]" in head
    assert "'=1+1,'@crown" in row
    assert ",-6.0," in row  # a negative number stays a number


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("zone,lab_l,lab_a\ncrown,1,2\n", "lacks the column lab_b"),
        ("zone,lab_l,lab_a,lab_b\ncrown,1,x,2\n", "Row 1: lab_a is 'x'"),
        ("zone,lab_l,lab_a,lab_b\ncrown,1,,2\n", "given together"),
        ("zone,lab_l,lab_a,lab_b\ncrown,1,nan,2\n", "lab_a is 'nan'"),
        ("zone,lab_l,lab_a,lab_b\ncrown,1,2,3,4\n", "has 5 cells"),
        ("zone,zone,lab_l,lab_a,lab_b\n", "twice"),
        ('zone,lab_l,lab_a,lab_b\n"crown', "no whole CSV"),
        ("{", "no JSON"),
        ("[" * 100_000, "no JSON"),
        ('{"zones": 3}', "no list of zones"),
    ],
)
def test_readings_that_can_not_serve_are_refused_in_a_sentence(text, said):
    with pytest.raises(BadInputError, match=said):
        lines_from(text)


# --- plans


@pytest.fixture(scope="module")
def plan():
    """A plan for two zones on the demo shelf."""
    readings = "zone,lab_l,lab_a,lab_b\ncrown,72,4,30\nnape,58,9,31\n"
    targets = "zone,level,tone\ncrown,9,beige\nnape,7,neutral\n"
    settings_ = PlanSettings(max_bowls=2)
    shelf = replace(demo_shelf(), shades=demo_shelf().shades[:6])
    requests = requests_from_tables(PlanTables(readings, targets, shelf), settings_)
    consultation = visit.Consultation(facts_from_answers({}), date(2026, 10, 5))
    checked = visit.plan_requests(requests, consultation, visit.Wishes((), {}, shelf, settings_))
    assert checked.plan is not None
    return checked.plan


def written(value) -> str:
    return json.dumps(as_json(value))


@pytest.mark.slow
def test_a_whole_plan_comes_back_from_json_digit_for_digit(plan):
    again = plan_lines.plan_of_json(written(plan))
    assert written(again) == written(plan)
    assert again.bowls == plan.bowls
    assert again.zones[0].rests_on is plan.zones[0].rests_on


def test_a_plan_by_zones_comes_back_from_csv_and_json_digit_for_digit(plan):
    lines = plan_lines.lines_of_plan(plan)
    assert {line.zone for line in lines} == {"crown", "nape"}
    assert plan_lines.plan_lines_of_csv(plan_lines.plan_lines_to_csv(lines)) == lines
    assert plan_lines.plan_lines_of_json(plan_lines.plan_lines_to_json(lines)) == lines
    assert plan_lines.plan_lines_of_json(written(plan)) == lines


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda told: told.pop("notes"), "'notes' is missing"),
        (lambda told: told.update(more=1), "'more' is unknown"),
        (lambda told: told["bowls"][0].update(kind="paint"), "it is one of"),
        (lambda told: told["bowls"][0]["developer"].update(volume=90), "not possible here"),
        (lambda told: told["zones"][0].update(grams="ten"), "zones\\[0\\].grams"),
        (lambda told: told["zones"][0].update(now_lab_d65=[1, None, 2]), "holds no numbers"),
        (lambda told: told.update(zones=3), "no list"),
    ],
)
def test_a_plan_that_was_changed_by_hand_is_refused_with_its_place(plan, change, said):
    told = json.loads(written(plan))
    change(told)
    with pytest.raises(BadInputError, match=said):
        plan_lines.plan_of_json(json.dumps(told))


# --- outcomes

channels = st.floats(-100, 100)
labs = st.tuples(channels, channels, channels)
covariances = st.tuples(labs, labs, labs)
words = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12)
shade = st.builds(ShadeUsed, words, labs, st.floats(0.01, 900), st.just(False))
outcomes = st.builds(
    Outcome,
    *(words, words, st.dates(), words, st.sampled_from(["low", "normal", "high", "uneven"])),
    *(st.floats(0.1, 60), st.floats(1, 60), labs, st.lists(shade, min_size=1, max_size=3).map(tuple)),
    *(labs, covariances, labs, covariances, covariances, st.booleans()),
)


@pytest.mark.slow
@settings(deadline=None, max_examples=25)
@given(st.lists(outcomes, min_size=1, max_size=3, unique_by=lambda outcome: outcome.key))
def test_outcomes_come_back_from_csv_digit_for_digit(some):
    journal = Journal(tuple(some))
    assert outcomes_of_csv(outcomes_to_csv(journal)) == journal


def test_an_outcome_that_can_not_be_is_refused_with_row_and_column():
    lab, spread = (50.0, 1.0, 2.0), ((1.0, 0.0, 0.0),) * 3
    one = Outcome("k", "c", date(2026, 1, 1), "z", "low", 5.0, 20.0, lab,
                  (ShadeUsed("demo violet", lab, 1.0, False),), lab, spread, lab, spread, spread)  # fmt: skip
    text = outcomes_to_csv(Journal((one,)))
    with pytest.raises(BadInputError, match="Row 2 of the outcomes: minutes"):
        outcomes_of_csv(text.replace(",5.0,20.0,", ",500.0,20.0,"))
    with pytest.raises(BadInputError, match="Row 2 of the outcomes: trial"):
        outcomes_of_csv(text.replace(",no\n", ",perhaps\n"))


# --- schemas


def valid(name: str, document) -> None:
    schema = json.loads((PUBLISHED / name).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker()).validate(document)


@pytest.mark.parametrize("name", sorted(schemas()))
def test_published_schemas_are_those_of_the_code_and_sound(name):
    told = json.loads((PUBLISHED / name).read_text(encoding="utf-8"))
    assert told == json.loads(json.dumps(schemas()[name])), "run: tressmeter exchange schemas docs/schemas"
    assert told["$schema"] == DIALECT
    jsonschema.Draft202012Validator.check_schema(told)


def test_nothing_else_is_published():
    assert {path.name for path in PUBLISHED.glob("*.json")} == set(schemas())


def test_a_field_that_drifts_breaks_the_schema(plan):
    told = json.loads(written(plan))
    valid("plan.schema.json", told)
    for drifted in (told | {"more": 1}, {name: value for name, value in told.items() if name != "notes"}):
        with pytest.raises(jsonschema.ValidationError):
            valid("plan.schema.json", drifted)
    told["zones"][0]["more"] = 1
    with pytest.raises(jsonschema.ValidationError):
        valid("plan.schema.json", told)


def test_rows_of_readings_and_plans_lie_within_their_schemas(plan):
    line = ReadingLine("", "", "crown", "usable", ("glare",), (50.0, 6.0, 21.3), None, None, None, "gold")
    valid("readings.schema.json", json.loads(lines_to_json((line,))))
    rows = plan_lines.plan_lines_to_json(plan_lines.lines_of_plan(plan))
    valid("plan_rows.schema.json", json.loads(rows))


def test_a_clients_rows_lie_within_their_schema(store):
    keep_visit(store, invented_visit())
    give_consent(store, "M. D.", ConsentRecord(Scope.PORTFOLIO, date(2026, 10, 6), "signed"))
    with store.looking() as session:
        from estimator.records.clients import client_row

        rows = client_rows(session.connection(), client_row(session, "M. D.").id)
    assert all(rows[table.name] for table in client_tables())  # something in every table, or the check is idle
    valid("client.schema.json", rows)
    rows["client"][0]["more"] = 1
    with pytest.raises(jsonschema.ValidationError):
        valid("client.schema.json", rows)


def test_a_journals_lines_lie_within_their_schema():
    lab, spread = (50.0, 1.0, 2.0), ((1.0, 0.0, 0.0),) * 3
    one = Outcome("k", "c", date(2026, 1, 1), "z", "low", 5.0, 20.0, lab,
                  (ShadeUsed("demo violet", lab, 1.0, False),), lab, spread, lab, spread, spread)  # fmt: skip
    valid("outcome.schema.json", json.loads(journal_text(Journal((one,))).splitlines()[1]))


def run(*words):
    return subprocess.run(
        [sys.executable, "-m", "estimator", *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False
    )


@pytest.mark.slow
def test_every_sample_photograph_prints_json_within_the_schema_and_comes_back(tmp_path):
    samples = ROOT / "sample_images"
    shots = [
        ("strands_before", "strands_zones.png"),
        ("strands_after", "strands_zones.png"),
        ("head", "head_zones.png"),
    ]
    for stem, zones in (*shots, ("strands_blurred", "strands_zones.png")):
        done = run("read", samples / f"{stem}.jpg", "--zones", samples / zones, "--json")
        document = json.loads(done.stdout)
        valid("reading.schema.json", document)
        (tmp_path / f"{stem}.json").write_text(done.stdout)
        taken = run("exchange", "readings", tmp_path / f"{stem}.json", tmp_path / f"{stem}.csv")
        assert taken.returncode == 0, taken.stderr
        lines = lines_from((tmp_path / f"{stem}.csv").read_text())
        assert lines == lines_from(done.stdout)
        assert [line.level[0] for line in lines] == [float(row["level"]) for row in document["zones"]]


@pytest.mark.slow
def test_the_demo_visits_plan_lies_within_the_schema_and_comes_back(tmp_path):
    done = run("plan", ROOT / "sample_images" / "visit.toml", "--out", tmp_path / "plan.json")
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "plan.json").read_text()
    valid("plan.schema.json", json.loads(text))
    assert json.loads(written(plan_lines.plan_of_json(text))) == json.loads(text)
    for source, made in (("plan.json", "plan.csv"), ("plan.csv", "rows.json")):
        done = run("exchange", "plan", tmp_path / source, tmp_path / made)
        assert done.returncode == 0, done.stderr
    assert plan_lines.plan_lines_of_json((tmp_path / "rows.json").read_text()) == plan_lines.plan_lines_of_json(text)


def test_a_journal_passes_through_csv_and_back(tmp_path):
    lab, spread = (50.0, 1.0, 2.0), ((1.0, 0.0, 0.0),) * 3
    one = Outcome("k", "c", date(2026, 1, 1), "=z", "low", 5.0, 20.0, lab,
                  (ShadeUsed("demo violet", lab, 1.0, False),), lab, spread, lab, spread, spread)  # fmt: skip
    journal = Journal((one,))
    assert journal_from_text(journal_text(outcomes_of_csv(outcomes_to_csv(journal)))) == journal
