"""Grams and minutes against the trade's own tables; every line of them is common practice, without a publication."""

import pytest

from estimator.toning.grams import (
    bowl_grams,
    colour_and_developer_grams,
    mixing_rules,
    shade_grams,
    toning_table,
    zone_grams,
)
from estimator.toning.plan import HairFacts, Porosity
from estimator.toning.shades import ShadeKind
from estimator.toning.timing import minutes_for, strength_after, strength_steps, timing_of

ZONES = ("crown", "left side", "right side", "back", "nape")
# Grams of mix: zone by zone and head, as the trade's table prints them, medium strands and density.
PRINTED = (
    (15, (13, 10, 10, 13, 5), 50),
    (30, (19, 15, 15, 19, 8), 75),
    (50, (30, 24, 24, 30, 12), 120),
    (80, (50, 40, 40, 50, 20), 200),
)


@pytest.mark.parametrize(("length_cm", "by_zone", "head"), PRINTED)
def test_grams_are_those_of_the_trade_table(length_cm, by_zone, head):
    grams = [zone_grams(zone, HairFacts(length_cm)) for zone in ZONES]
    assert grams == pytest.approx(by_zone, abs=0.51)  # the table prints whole grams
    assert sum(grams) == pytest.approx(head)
    assert zone_grams("hair", HairFacts(length_cm)) == pytest.approx(head)


@pytest.mark.parametrize(
    ("diameter", "density", "times"),
    [("fine", "medium", 0.8), ("coarse", "medium", 1.2), ("medium", "low", 0.8), ("medium", "high", 1.3)],
)
def test_strands_and_density_change_the_grams(diameter, density, times):
    assert zone_grams("back", HairFacts(30, diameter, density)) == pytest.approx(
        times * zone_grams("back", HairFacts(30))
    )


def test_a_fringe_of_its_own_comes_out_of_the_crown():
    hair = HairFacts(30)
    both = zone_grams("crown", hair, fringe_apart=True) + zone_grams("fringe", hair, fringe_apart=True)
    assert both == pytest.approx(zone_grams("crown", hair))


def test_roots_alone_take_thirty_to_fifty_grams_a_head():
    assert 30 <= zone_grams("roots", HairFacts(60)) <= 50


def test_a_bowl_has_a_tenth_to_spare_and_is_rounded_up_to_five():
    assert bowl_grams([75]) == 85
    assert bowl_grams([50 / 1.1]) == 50
    assert bowl_grams([0.5]) == 5


@pytest.mark.parametrize(
    ("total", "parts", "colour", "developer"), [(50, 1.5, 20, 30), (60, 2, 20, 40), (40, 1, 20, 20)]
)
def test_colour_and_developer_share_a_bowl_as_in_the_worked_shares(total, parts, colour, developer):
    assert colour_and_developer_grams(total, parts) == (colour, developer)


def test_shades_share_the_colour_to_half_a_gram():
    weighed = shade_grams((("a", 3), ("b", 2), ("c", 1)), 8.5)
    assert sum(grams for _, grams in weighed) == 8.5
    for (_, grams), exact in zip(weighed, (4.25, 2.83, 1.42), strict=True):
        assert grams == pytest.approx(exact, abs=0.5)
        assert grams % 0.5 == 0


def test_developers_stay_within_what_is_usual_for_a_toner():
    rules = mixing_rules()
    assert ShadeKind.PERMANENT not in rules
    for rule in rules.values():
        assert rule.weakest <= rule.developer <= rule.strongest
        assert rule.developer.deposit_only
    assert rules[ShadeKind.DEMI_ACIDIC].ratio_text == "1:2"
    assert rules[ShadeKind.SEMI_PERMANENT].ratio_text == "no developer"


def test_toners_take_five_to_twenty_minutes_on_normal_hair():
    planned = [minutes_for(strength, 20, Porosity.NORMAL) for strength in strength_steps()]
    assert min(planned) == pytest.approx(5)
    assert max(planned) == pytest.approx(20)


@pytest.mark.parametrize("porosity", list(Porosity))
def test_minutes_and_share_are_each_others_reverse(porosity):
    assert strength_after(minutes_for(0.7, 20, porosity), 20, porosity) == pytest.approx(0.7)


def test_the_first_look_is_at_two_minutes_or_one_on_pale_or_porous_hair():
    assert timing_of(0.7, 20, Porosity.NORMAL, 7).first_check_minutes == 2
    assert timing_of(0.7, 20, Porosity.NORMAL, 9.5).first_check_minutes == 1
    assert timing_of(0.7, 20, Porosity.HIGH, 7).first_check_minutes == 1
    assert timing_of(1.0, 20, Porosity.LOW, 7).minutes_high <= 20


@pytest.mark.parametrize("name", ["zone_shares", "head_grams", "kinds", "timing"])
def test_every_row_of_a_table_has_a_source(name):
    rows = [
        row
        for table in toning_table(name).values()
        if isinstance(table, list)
        for row in table
        if isinstance(row, dict)
    ]
    assert rows
    assert all(row["source"] for row in rows)
