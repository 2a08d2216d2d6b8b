"""Pictures of a kept visit: what was outlined that day is shown, all else hidden, and only while the consent stands."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.corrected import CorrectedPhoto
from calibration.pipeline import correct_bytes
from estimator.errors import BadInputError
from estimator.keeping import record_of_file
from estimator.records.clients import give_consent
from estimator.records.consent_scopes import Scope
from estimator.records.errors import ConsentMissingError
from estimator.records.place import SalonPlace
from estimator.records.store import open_store
from estimator.records.visit_record import ConsentRecord
from estimator.records.visits import keep_visit
from estimator.records.whole_visit import kept_photos
from estimator.records.withdrawing import withdraw
from estimator.reports.portfolio import Hiding
from estimator.visit.kept_pictures import hair_then, kept_portfolio
from estimator.visit.reading import read_zones
from estimator.visit_file import run_visit

SAMPLES = Path(__file__).parents[3] / "sample_images"


@pytest.fixture(scope="module")
def told():
    outcome = run_visit(SAMPLES / "visit.toml")
    return outcome, replace(record_of_file(SAMPLES / "visit.toml", outcome, ()), demo=False)


@pytest.fixture
def store(tmp_path):
    with open_store(SalonPlace(tmp_path / "salon")) as opened:
        yield opened


def mask(zone, corrected: CorrectedPhoto) -> np.ndarray:
    whole = np.zeros((corrected.photo.height_px, corrected.photo.width_px), bool)
    whole[zone.box.slices] = zone.mask
    return whole


@pytest.mark.slow
def test_kept_photographs_and_outlines_read_as_they_did_that_day(told, store):
    outcome, record = told
    made = keep_visit(store, record)
    photos = {photo.side: photo for photo in kept_photos(store, made.id, Scope.RECORD).photos}
    for side, then in (("before", outcome.before), ("after", outcome.after)):
        again = hair_then(photos[side])
        now = {zone.name: zone for zone in again.outlined}
        assert set(now) == {zone.name for zone in then.outlined}
        for zone in then.outlined:
            # Small holes of a painted outline are closed.
            was, is_now = mask(zone, then.corrected), mask(now[zone.name], again.corrected)
            assert np.count_nonzero(was & is_now) >= 0.99 * np.count_nonzero(was | is_now), (side, zone.name)
        read = read_zones(again.corrected, tuple(replace(now[zone.name], setting=zone.setting,
                          strand_pattern=zone.strand_pattern) for zone in then.outlined))  # fmt: skip
        for zone in then.zones:
            assert np.abs(read.zone(zone.name).reading.lab_d65 - zone.reading.lab_d65).max() < 0.5, (side, zone.name)


def test_the_picture_waits_for_the_consent_and_goes_with_it(told, store):
    _, record = told
    made = keep_visit(store, record)
    with pytest.raises(ConsentMissingError, match="nothing was made"):
        kept_portfolio(store, made.id, Hiding.BLUR)
    give_consent(store, record.client_code, ConsentRecord(Scope.PORTFOLIO, record.day, "signed"))
    picture = cv2.imdecode(np.frombuffer(kept_portfolio(store, made.id, Hiding.CUT), np.uint8), cv2.IMREAD_COLOR)
    assert (picture == 119).all(axis=2).mean() > 0.2  # the plain grey of all that is no hair
    assert (picture != 119).any(axis=2).mean() > 0.2
    withdraw(store, record.client_code, Scope.PORTFOLIO, record.day, "spoken")
    with pytest.raises(ConsentMissingError):
        kept_portfolio(store, made.id, Hiding.BLUR)


@pytest.mark.slow
def test_a_visit_without_outlines_and_a_photograph_without_a_copy_are_told(told, store):
    _, record = told
    bare = replace(record, demo=True, client_code="N. O.", photos=tuple(replace(p, outlines={}) for p in record.photos))
    made = keep_visit(store, bare)
    with pytest.raises(BadInputError, match="without outlines"):
        kept_portfolio(store, made.id, Hiding.BLUR)
    with pytest.raises(BadInputError, match="No copy"):
        hair_then(replace(record.photos[0], content=b""))


@pytest.mark.slow
def test_a_photograph_that_leaned_on_more_than_its_card_is_refused(told):
    _, record = told
    held_out = correct_bytes(record.photos[0].content).correction.held_out_de2000
    assert hair_then(replace(record.photos[0], held_out_de2000=held_out)).outlined
    with pytest.raises(BadInputError, match="more than its card"):
        hair_then(replace(record.photos[0], held_out_de2000=held_out + 0.4))
