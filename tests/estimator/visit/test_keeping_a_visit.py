"""A visit handed to the records: the photograph that is kept reads as the one that came, with all that was known."""

import hashlib
from pathlib import Path

import numpy as np
import pytest

from estimator.errors import BadInputError
from estimator.files import load_zones
from estimator.keeping import keep_visit_file, record_of_file
from estimator.lifting.clock_events import Kind, new_event
from estimator.lifting.clock_store import instant_now
from estimator.records.consent_scopes import Scope
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.whole_visit import whole_visit
from estimator.reports.composing_kept import difference_then
from estimator.reports.wording import change_text
from estimator.salon_settings import clock_store
from estimator.visit import read_photo
from estimator.visit_file import run_visit

SAMPLES = Path(__file__).parents[3] / "sample_images"


@pytest.fixture(scope="module")
def record():
    outcome = run_visit(SAMPLES / "visit.toml")
    return outcome, record_of_file(SAMPLES / "visit.toml", outcome, ())


@pytest.mark.slow
def test_the_kept_copy_gives_the_same_numbers_as_the_original(record):
    outcome, kept = record
    before = next(photo for photo in kept.photos if photo.side == "before")
    again = read_photo(before.content, load_zones(SAMPLES / "strands_zones.png", ()))
    for zone in outcome.before.zones:
        assert np.array_equal(again.zone(zone.name).reading.lab_d65, zone.reading.lab_d65)
    readings = {reading.zone: reading for reading in kept.readings if reading.side == "before"}
    assert {name: reading.lab_d65 for name, reading in readings.items()} == {
        zone.name: tuple(map(float, zone.reading.lab_d65)) for zone in outcome.before.zones
    }


@pytest.mark.slow
def test_the_hash_of_the_original_and_the_versions_are_kept(record):
    outcome, kept = record
    original = hashlib.sha256((SAMPLES / "strands_before.jpg").read_bytes()).hexdigest()
    assert kept.photos[0].original_sha256 == original
    assert {reading.photos for reading in kept.readings if reading.side == "before"} == {(original,)}
    assert {photo.pipeline_version for photo in kept.photos} == {outcome.before.corrected.pipeline_version}
    assert kept.program_version


@pytest.mark.slow
def test_consents_facts_care_and_plan_go_with_the_visit(record):
    outcome, kept = record
    assert [consent.scope for consent in kept.consents] == [Scope.RECORD, Scope.HEALTH]
    assert kept.facts["age_years"] == 34
    assert kept.care_verdict == outcome.checked.care.verdict.value
    assert [bowl["number"] for bowl in kept.plan.content["bowls"]] == [
        bowl.number for bowl in outcome.checked.plan.bowls
    ]
    assert {zone.name: zone.target.get("tone") for zone in kept.zones}["fringe"] == "beige"
    assert record_of_file(SAMPLES / "visit.toml", outcome, ()).key == kept.key  # so that it is kept once


def test_what_changed_is_kept_as_it_was_measured(record):
    outcome, kept = record
    measured = {change.zone: change for change in outcome.document.differences}
    assert measured
    told = {each.zone: each for each in kept.outcomes}
    assert set(told) == set(measured)
    for zone, change in measured.items():
        again = difference_then(told[zone])
        assert again.words == change.words
        assert np.allclose([again.d_lab, again.d_low, again.d_high], [change.d_lab, change.d_low, change.d_high])
        assert told[zone].told == change_text(change)


@pytest.mark.slow
def test_the_clock_that_a_visit_file_names_is_kept_with_it(record, tmp_path):
    outcome, _ = record
    text = (SAMPLES / "visit.toml").read_text(encoding="utf-8")
    for name in ("strands_before.jpg", "strands_after.jpg", "strands_zones.png"):
        text = text.replace(f'"{name}"', f'"{SAMPLES / name}"')
    visit, place = tmp_path / "visit.toml", SalonPlace(tmp_path / "salon")
    visit.write_text(f'clock = "chair by the window"\n{text}', encoding="utf-8")
    with pytest.raises(BadInputError, match="No clock of the salon was started"):
        keep_visit_file(visit, outcome, (), place)
    assert not place.folder.exists() or not list(place.folder.glob("records*"))
    clock, said = clock_store(place.folder), {"most_minutes": 30, "check_minutes": 5}
    clock.add(new_event(Kind.START, "nape", instant_now(), visit="chair by the window", **said))
    clock.add(new_event(Kind.START, "fringe", instant_now(), **said))
    kept = keep_visit_file(visit, outcome, (), place)
    with open_store(place) as store:
        assert [(event.kind, event.zone) for event in whole_visit(store, kept.id).record.clock] == [("start", "nape")]
