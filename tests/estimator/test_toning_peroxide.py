"""Peroxide strength: the definition of a volume, the trade's nominal figures, and numbers that must not be mistaken."""

import pytest

from estimator.toning.peroxide import NO_OXIDANT, PeroxideStrength

# Per cent w/v by the definition of a volume (litres of oxygen of a litre, 22.414 L/mol at 0 degrees C and 1 atm);
# 30 volume = 9.11 % is the worked example read at chemistrytip.blogspot.com, the others follow from it.
BY_DEFINITION = (
    (3, 0.91),
    (5, 1.52),
    (6, 1.82),
    (7, 2.12),
    (9, 2.73),
    (10, 3.04),
    (13, 3.95),
    (20, 6.07),
    (30, 9.11),
    (40, 12.14),
)
# What bottles print: common practice.
BY_TRADE = ((3, 0.9), (5, 1.5), (6, 1.8), (7, 2.1), (9, 2.7), (10, 3), (13, 3.9), (20, 6), (30, 9), (40, 12))
HALF_LAST_DIGIT = 0.0051


@pytest.mark.parametrize(("volume", "percent"), BY_DEFINITION)
def test_grams_per_litre_follow_the_definition_of_a_volume(volume, percent):
    assert PeroxideStrength.from_volume(volume).grams_per_litre / 10 == pytest.approx(percent, abs=HALF_LAST_DIGIT)


@pytest.mark.parametrize(("volume", "percent"), BY_TRADE)
def test_volume_and_percent_convert_as_bottles_print_them(volume, percent):
    assert PeroxideStrength.from_volume(volume).percent == pytest.approx(percent, abs=1e-9)
    assert PeroxideStrength.from_percent(percent) == PeroxideStrength.from_volume(volume)


def test_the_regulation_and_the_definition_agree_on_forty_volumes_within_two_per_cent():
    # Regulation (EC) 1223/2009 Annex III entry 12 as amended by (EU) 2019/831: 12 % (40 vol).
    strongest = PeroxideStrength.from_percent(12)
    assert strongest.volume == 40
    assert strongest.grams_per_litre / 10 == pytest.approx(12, rel=0.02)


@pytest.mark.parametrize(
    ("percent", "developer_parts", "on_head"), [(6, 1, 3.0), (6, 1.5, 3.6), (6, 2, 4.0), (2, 2, 1.33)]
)
def test_colour_dilutes_the_developer(percent, developer_parts, on_head):
    # Weights, density ignored: developer x d / (c + d). Common practice.
    assert PeroxideStrength.from_percent(percent).mixed(1, developer_parts).percent == pytest.approx(on_head, abs=0.005)


def test_a_strength_is_never_a_bare_number():
    with pytest.raises(TypeError, match=r"\.volume or \.percent"):
        float(PeroxideStrength.from_volume(10))
    with pytest.raises(TypeError):
        PeroxideStrength.from_volume(10) * 2


def test_deposit_only_is_below_ten_volume():
    # Common practice.
    assert PeroxideStrength.from_volume(9).deposit_only
    assert not PeroxideStrength.from_volume(10).deposit_only
    assert NO_OXIDANT.deposit_only


@pytest.mark.parametrize("volume", [-1, 41, float("nan"), float("inf")])
def test_an_impossible_strength_is_refused_with_what_is_allowed(volume):
    with pytest.raises(ValueError, match="0 to 40 volume"):
        PeroxideStrength.from_volume(volume)
