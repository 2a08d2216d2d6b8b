"""Every reading says what it rests on, and its advice is worth what it promises: each is checked by following it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibration.pipeline import correct_bytes
from estimator import visit
from estimator.reading.explaining import Help, explain
from estimator.reading.zone_colour import read_zones
from estimator.reading.zone_reading import NINE_IN_TEN
from estimator.reports.explaining_words import explanation_lines
from estimator.zones.inputs import load_zone_spec, zones_of
from tests.estimator.reading.test_messenger_copies import _copied

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images"


@pytest.fixture(scope="module")
def board():
    corrected = correct_bytes((SAMPLES / "strands_before.jpg").read_bytes())
    return corrected, zones_of(load_zone_spec(SAMPLES / "strands_zones.png"), corrected)


def _half(reading):
    return NINE_IN_TEN * reading.lab_sd[0]


@pytest.mark.slow
def test_a_reading_says_in_three_sentences_what_it_rests_on_and_what_would_make_it_tighter(board):
    for told in explain(*board):
        lines = explanation_lines(told)
        assert len(lines) == 3
        assert "card" in lines[0]
        assert f"{told.pixels:,}" in lines[1]
        assert all(line.endswith(".") for line in lines)


@pytest.mark.slow
def test_stating_the_pattern_makes_the_interval_as_narrow_as_was_promised(board):
    corrected, zones = board
    silent = tuple(replace(zone, strand_pattern=None) for zone in zones)
    promised = {told.zone: told for told in explain(corrected, silent)}
    followed = {reading.zone: reading for reading in read_zones(corrected, zones).readings}
    helps = {zone: {each.help: each.half_then for each in told.tighter} for zone, told in promised.items()}
    named = [zone for zone, each in helps.items() if Help.STATE_PATTERN in each]
    assert named
    # The promise is the mean over the patterns that it may be, and all other zones stay unstated in it.
    kept = np.mean([_half(followed[zone]) / helps[zone][Help.STATE_PATTERN] for zone in named])
    assert 0.6 < kept < 1.15


@pytest.mark.slow
def test_nothing_is_advised_that_was_done(board):
    for told in explain(*board):
        assert Help.STATE_PATTERN not in {each.help for each in told.tighter}


def test_what_is_advised_first_helps_most_and_more_than_nothing(board):
    for told in explain(*board):
        halves = [each.half_then for each in told.tighter]
        assert halves == sorted(halves)
        assert all(half < told.half_now for half in halves)


@pytest.mark.slow
def test_a_messenger_copy_is_told_to_be_sent_as_a_file():
    copy = correct_bytes(_copied((SAMPLES / "head.jpg").read_bytes(), quality=40))
    told = explain(copy, zones_of(load_zone_spec(SAMPLES / "head_zones.png"), copy))
    assert Help.BETTER_CARD not in {each.help for one in told for each in one.tighter}


def test_a_refused_photo_explains_nothing():
    read = visit.read_photo((SAMPLES / "strands_blurred.jpg").read_bytes())
    assert read.refused
    assert visit.explain(read) == ()
