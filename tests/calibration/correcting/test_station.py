"""A station's profile: surer than a poorly seen card, refused in another light, and kept whole in its file.

Truth is the CIELAB of measured hair and skin under D65 (docs/sources.md, vrhel-1994), photographed through published
camera curves and CIE lamps by the study's own forward model.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calibration.correcting.station_file import StationFileError, kept_station, station_text
from calibration.correcting.station_learning import learn_station
from calibration.correcting.station_profile import StationProfile
from calibration.errors import CorrectionError
from tests.studies.station_profile import POORLY, WELL, errors_of, photo_at, use
from tests.synthetic.card_scene import CardScene, Development, Light

STATION = CardScene(Light("LED-B3"), Development(camera="camera 6", exposure=0.7, contrast=0.6))


@cache
def learned() -> StationProfile:
    rng = np.random.default_rng(1)
    return learn_station(tuple(photo_at(STATION, rng)[0] for _ in range(4)), "chair 2", "2026-11-25")


@pytest.mark.slow
def test_where_the_card_is_seen_poorly_the_station_serves_and_is_nearer_the_truth():
    rng, own_missed, missed, served, stated = np.random.default_rng(2), [], [], 0, []
    for _ in range(8):
        shown, codes = photo_at(STATION, rng, POORLY)
        used, own = use(learned(), shown)
        served += used.findings[0].code == "station_serves"
        own_missed.append(errors_of(own, codes)[0].mean())
        missed.append(errors_of(used.correction, codes)[0].mean())
        stated.append((own.held_out_de2000, used.correction.held_out_de2000))
    assert served >= 5
    assert np.mean(missed) < 0.95 * np.mean(own_missed)
    assert np.mean(stated, axis=0)[1] < np.mean(stated, axis=0)[0]
    # Honest: hair and skin, which are on no card, miss by no more than is stated.
    assert np.mean(missed) < 1.15 * np.mean(stated, axis=0)[1]


@pytest.mark.slow
@pytest.mark.parametrize(
    "scene",
    [replace(STATION, light=Light("A")), replace(STATION, development=replace(STATION.development, contrast=-0.4))],
    ids=["another lamp", "another tone curve"],
)
def test_where_the_card_disagrees_the_photos_own_correction_serves_and_a_sentence_says_so(scene):
    shown, _ = photo_at(scene, np.random.default_rng(3), WELL)
    used, own = use(learned(), shown)
    assert used.findings[0].code == "station_refused"
    assert "does not agree with the station chair 2" in used.findings[0].message
    assert used.correction is own


@pytest.mark.slow
def test_a_photo_that_keeps_its_colours_otherwise_is_no_photo_of_the_station():
    shown, _ = photo_at(STATION, np.random.default_rng(4))
    other = replace(shown, encoding=replace(shown.encoding, name="Display P3"))
    used, own = use(learned(), other)
    assert used.correction is own
    assert "Display P3" in used.findings[0].message


def test_too_few_photos_and_the_same_photo_twice_teach_nothing():
    rng = np.random.default_rng(5)
    three = tuple(photo_at(STATION, rng)[0] for _ in range(3))
    for photos, said in ((three[:2], "3 to 12"), ((*three, three[0]), "twice")):
        with pytest.raises(CorrectionError, match=said):
            learn_station(photos, "chair 2", "2026-11-25")


@pytest.mark.slow
def test_the_file_gives_back_the_profile_and_names_its_photos():
    text = station_text(learned())
    again = kept_station(text)
    assert again.sha256 == learned().sha256
    assert np.array_equal(again.values, learned().values)
    assert all(sha in text for sha in learned().photos_sha256)


BROKEN = {
    "a value changed": (lambda text: text.replace("stated_de2000 = ", "stated_de2000 = 1"), "hash"),
    "another version": (lambda text: text.replace("version = 1", "version = 9"), "version"),
    "an unknown model": (lambda text: text.replace('model = "', 'model = "very '), "model"),
    "no number": (lambda text: text.replace("check_sd = ", "check_sd = nan #"), "check_sd"),
    "no TOML": (lambda text: text + "[", "TOML"),
    "photos left out": (lambda text: text.replace("photos_sha256 = [", "photos = ["), "photos"),
}


@pytest.mark.parametrize("how", list(BROKEN))
def test_a_file_that_was_changed_is_refused_in_a_sentence(how):
    change, said = BROKEN[how]
    with pytest.raises(StationFileError, match=said):
        kept_station(change(station_text(learned())))
