"""A visit handed to the records: the photograph that is kept reads as the one that came, with all that was known."""

import hashlib
from pathlib import Path

import numpy as np
import pytest

from estimator.files import load_zones
from estimator.keeping import record_of_file
from estimator.records.consent_scopes import Scope
from estimator.visit import read_photo
from estimator.visit_file import run_visit

SAMPLES = Path(__file__).parents[3] / "sample_images"


@pytest.fixture(scope="module")
def record():
    outcome = run_visit(SAMPLES / "visit.toml")
    return outcome, record_of_file(SAMPLES / "visit.toml", outcome, ())


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


def test_the_hash_of_the_original_and_the_versions_are_kept(record):
    outcome, kept = record
    original = hashlib.sha256((SAMPLES / "strands_before.jpg").read_bytes()).hexdigest()
    assert kept.photos[0].original_sha256 == original
    assert {reading.photos for reading in kept.readings if reading.side == "before"} == {(original,)}
    assert {photo.pipeline_version for photo in kept.photos} == {outcome.before.corrected.pipeline_version}
    assert kept.program_version


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
