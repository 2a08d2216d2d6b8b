"""Lines of demarcation in profiles of known make, and millimetres from a card."""

import numpy as np
import pytest

from calibration.cards.sighting import CardSighting
from estimator.errors import BadInputError
from estimator.lifting.card_size import PhotoScale, scale_of_card, scale_of_measured_card
from estimator.lifting.demarcation import HairPast, figures_with_lines, find_lines, growth_mm
from estimator.reading.zone_reading import ProfilePoint
from estimator.zones.outline import Setting

STRIPS = 10  # as a reading has them
NATURAL, LIGHT, ORANGE = (28.0, 6.0, 10.0), (50.0, 9.0, 24.0), (38.0, 15.0, 24.0)
SCALE = PhotoScale(2.0, 1.9, 2.1, "measured")


def profile(colour_at, seed: int = 0, noise: float = 0.6) -> tuple[ProfilePoint, ...]:
    rng = np.random.default_rng(seed)
    shares = [(strip + 0.5) / STRIPS for strip in range(STRIPS)]
    labs = [np.array(colour_at(share)) + noise * rng.normal(size=3) for share in shares]
    return tuple(
        ProfilePoint(s, (float(c[0]), float(c[1]), float(c[2])), 0.6) for s, c in zip(shares, labs, strict=True)
    )


HEADS = {
    "even": (lambda share: LIGHT, ()),
    "sun-worn": (lambda share: (40 + 10 * share, 8, 18 + 6 * share), ()),
    "regrowth": (lambda share: NATURAL if share < 0.2 else LIGHT, ("regrowth",)),
    "overlap": (lambda share: (53, 6, 26) if 0.3 < share < 0.5 else (42, 9, 22), ("overlap band",)),
    "old band": (lambda share: ORANGE if 0.3 < share < 0.6 else (55, 6, 24), ("old colour band",)),
    "three bands": (
        lambda share: (48, 7, 22) if share < 0.2 else ORANGE if share < 0.6 else NATURAL,
        ("regrowth", "line"),
    ),
}


@pytest.mark.parametrize("name", HEADS)
def test_lines_are_found_where_they_were_made_and_nowhere_else(name):
    colour_at, kinds = HEADS[name]
    found = [tuple(line.kind for line in find_lines(profile(colour_at, seed))) for seed in range(20)]
    assert sum(one == kinds for one in found) >= 19


def test_a_line_lies_between_the_strips_that_differ():
    (line,) = find_lines(profile(HEADS["regrowth"][0]))
    low, middle, high = line.place.share
    assert low <= 0.2 <= high
    assert high - low <= 1 / STRIPS + 1e-9
    assert line.step_levels == pytest.approx(3.7, abs=0.4)  # L* 28 to 50 on the default scale
    assert middle == pytest.approx(0.2, abs=0.06)


def test_a_band_has_two_borders():
    (line,) = find_lines(profile(HEADS["overlap"][0]))
    assert line.place.share[1] == pytest.approx(0.3, abs=0.06)
    assert line.until is not None
    assert line.until.share[1] == pytest.approx(0.5, abs=0.06)


def test_growth_agrees_with_the_published_range():
    # 8 to 13 mm a month, 11 in the middle: 2,100 people, 21 countries (Loussouarn et al. 2005, in a handbook).
    assert growth_mm(30.44 / 7) == pytest.approx((8, 11, 13))


def test_millimetres_tell_regrowth_from_another_line():
    step_at_20_mm = profile(HEADS["regrowth"][0])
    args = {"length_px": 200.0, "photo_scale": SCALE}  # 100 mm of hair: the step lies at 20 mm
    grown = find_lines(step_at_20_mm, HairPast(coloured_weeks_ago=8), **args)
    too_young = find_lines(step_at_20_mm, HairPast(coloured_weeks_ago=1), **args)
    assert (grown[0].kind, too_young[0].kind) == ("regrowth", "line")
    low, middle, high = grown[0].place.mm
    assert low < 20 < high
    assert middle == pytest.approx(20, abs=5)


def test_a_relaxed_boundary_is_expected_from_its_age_where_no_colour_shows_it():
    (line,) = find_lines(profile(HEADS["even"][0]), HairPast(relaxed_weeks_ago=20), 400.0, SCALE)
    assert (line.kind, line.seen) == ("relaxed boundary", False)
    assert line.place.mm == pytest.approx(growth_mm(20))


def test_lines_enter_the_facts_and_only_make_them_stricter():
    lines = find_lines(profile(HEADS["regrowth"][0]))
    assert figures_with_lines(lines, 0.0, 0.1) == {}  # inside the regrowth: nothing is said
    assert figures_with_lines(lines, 0.0, 0.5) == {"touches_lightened_hair": True}
    overlap = find_lines(profile(HEADS["overlap"][0]))
    assert figures_with_lines(overlap, 0.0, 1.0) == {"touches_lightened_hair": True}
    relaxed = find_lines(profile(HEADS["even"][0]), HairPast(relaxed_weeks_ago=20), 400.0, SCALE)
    assert figures_with_lines(relaxed, 0.0, 1.0) == {"touches_relaxed_hair": True}
    assert figures_with_lines((), 0.0, 1.0) == {}


def test_a_step_too_small_to_see_is_a_melt_and_no_line():
    assert find_lines(profile(lambda share: (40, 8, 20) if share < 0.5 else (45.6, 12, 25), noise=0.05)) == ()
    assert find_lines(profile(lambda share: (40, 8, 20) if share < 0.5 else (46.4, 8, 20), noise=0.05)) != ()


def test_on_a_head_only_a_larger_step_is_a_line_since_hair_shades_itself_there():
    shaded = profile(lambda share: (40, 8, 20) if share < 0.5 else (50, 9, 22))
    assert find_lines(shaded) != ()
    assert find_lines(shaded, setting=Setting.HEAD) == ()
    grown = profile(HEADS["regrowth"][0])  # three levels and more
    assert [line.kind for line in find_lines(grown, setting=Setting.HEAD)] == ["regrowth"]


def test_short_or_empty_profiles_have_no_lines():
    assert find_lines(()) == ()
    assert find_lines(profile(HEADS["regrowth"][0])[:4]) == ()


def sighting(pitch_px: float, squeeze: float = 1.0) -> CardSighting:
    rows, columns = np.mgrid[0:4, 0:6]
    centres = np.stack([columns.ravel() * pitch_px, rows.ravel() * pitch_px * squeeze], axis=1)
    quads = centres[:, None, :] + 0.3 * pitch_px * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return CardSighting("classic24", quads[[0, 5, 23, 18], 0], quads, False, 0.0, np.zeros(24, bool))


def test_a_card_gives_millimetres_and_says_what_it_does_not_know():
    measured = scale_of_measured_card(sighting(88.0), 44.0)
    assert measured.px_per_mm == pytest.approx(2.0)
    assumed = scale_of_card(sighting(88.0))
    assert assumed.px_per_mm_low < 2.0 < assumed.px_per_mm_high
    assert assumed.px_per_mm_high - assumed.px_per_mm_low > measured.px_per_mm_high - measured.px_per_mm_low


def test_a_tilted_card_is_measured_along_its_longer_pitch():
    assert scale_of_measured_card(sighting(88.0, squeeze=0.8), 44.0).px_per_mm == pytest.approx(2.0)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: scale_of_card(sighting(88.0), "enormous"),
        lambda: scale_of_measured_card(sighting(88.0), 0.0),
        lambda: PhotoScale(0.0, 0.0, 0.0, ""),
        lambda: figures_with_lines((), 0.5, 0.2),
    ],
)
def test_what_cannot_be_measured_is_refused_with_a_sentence(wrong):
    with pytest.raises(BadInputError, match=r"\.$"):
        wrong()
