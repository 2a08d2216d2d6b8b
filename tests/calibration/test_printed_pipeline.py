"""Photographs corrected by a measured print: hair comes out within what is stated, and the print's own error counts."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from calibration.cards.measured_card import CardFileError, MeasuredCard, card_text, kept_card, table_spread
from calibration.cards.printed_layout import printed_layout
from calibration.colourspaces import delta_e_2000, xyz_to_lab
from calibration.correcting.grey_card import GreyCardPoint
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.findings import Verdict
from calibration.measuring_print import measure_print
from calibration.opening import open_photo
from calibration.photo import Box
from calibration.pipeline import correct_photo
from calibration.references import References
from tests.synthetic.card_scene import CardScene, Development, Layout, Light, photograph
from tests.synthetic.printed_scene import PrintedPlace, PrintedScene, photograph_print, print_reflectances
from tests.synthetic.spectra import table, xyz_d65

# Measured reflectance of hair (docs/sources.md, vrhel-1994-hair).
HAIR = np.array(list(table("hair_reflectance").values()))
HAIR_LAB = xyz_to_lab(xyz_d65(HAIR))
PRINT_LAB = xyz_to_lab(xyz_d65(print_reflectances()))
NINE_IN_TEN = 1.6449
BESIDE = PrintedScene(
    layout=Layout(width_px=900, height_px=825, centre=(0.5, 0.80), card_width=0.5),
    place=PrintedPlace(centre=(0.5, 0.36), width=0.55),
    development=Development(camera="camera 1"),
    classic=True,
)
WITH_HAIR = PrintedScene(
    layout=Layout(width_px=700, height_px=640), place=PrintedPlace(centre=(0.5, 0.6), width=0.6), swatches=HAIR
)


@cache
def learned() -> MeasuredCard:
    return measure_print(photograph_print(BESIDE).png(), "2026-11-25", "Demo inkjet, matt")


def by_instrument(sheet: str = "A6", sd: float = 0.5) -> MeasuredCard:
    spread, shared = table_spread(sd)
    return MeasuredCard(printed_layout().sheet(sheet), PRINT_LAB.copy(), spread, shared, "2026-11-25", "Demo", "csv")


def swatches_lab(corrected, boxes) -> np.ndarray:
    means = [
        corrected.xyz_d65(Box(top, left, bottom, right)).reshape(-1, 3).mean(axis=0)
        for left, top, right, bottom in boxes
    ]
    return xyz_to_lab(np.array(means, dtype=np.float64))


@pytest.mark.slow
def test_a_print_is_learned_from_one_photo_within_its_stated_spread():
    card = learned()
    apart = card.lab_d65 - PRINT_LAB
    near = list(printed_layout().near_hair)
    # Correlated over the patches, so not nine in ten of 41 independent ones: their share is loose.
    assert (np.abs(apart[near]) <= NINE_IN_TEN * card.lab_sd[near]).mean() > 0.75
    assert delta_e_2000(card.lab_d65, PRINT_LAB)[near].mean() < 2.0
    assert kept_card(card_text(card)).sha256 == card.sha256


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lamp", "camera"),
    [("D65", "camera 6"), pytest.param("A", "camera 2", marks=pytest.mark.slow)],
    ids=lambda name: name,
)
def test_hair_beside_a_learned_print_comes_out_within_the_stated_error(lamp, camera):
    scene = replace(WITH_HAIR, light=Light(lamp=lamp, gradient=1.2), development=Development(camera=camera))
    made = photograph_print(scene)
    corrected = correct_photo(open_photo(made.png()), References(prints=(learned(),)))
    assert corrected.verified
    assert corrected.verdict.verdict is Verdict.USABLE
    read = swatches_lab(corrected, made.swatch_boxes)
    assert delta_e_2000(read, HAIR_LAB).mean() < 1.25 * corrected.correction.held_out_de2000
    spread = np.sqrt(np.diag(corrected.correction.lab_covariance()))
    assert (np.abs(read - HAIR_LAB) <= NINE_IN_TEN * spread).mean() >= 0.75
    # The same photograph without a card is several times worse: the print does the work.
    bare = correct_photo(open_photo(made.png()))
    assert (
        delta_e_2000(swatches_lab(bare, made.swatch_boxes), HAIR_LAB).mean() > 1.3 * delta_e_2000(read, HAIR_LAB).mean()
    )


@pytest.mark.slow
def test_a_less_sure_print_makes_a_larger_stated_error():
    photo = open_photo(photograph_print(WITH_HAIR).png())
    sure, unsure = (correct_photo(photo, References(prints=(by_instrument(sd=sd),))).correction for sd in (0.2, 3.0))
    assert unsure.held_out_de2000 > sure.held_out_de2000 + 1
    grown = np.diag(unsure.lab_covariance()) - np.diag(sure.lab_covariance())
    assert grown == pytest.approx(3.0**2 - 0.2**2, rel=1e-6)


@pytest.mark.slow
def test_a_print_that_was_not_measured_is_never_used():
    photo = open_photo(photograph_print(WITH_HAIR).png())
    for cards, said in (((), "no measured values"), ((by_instrument("A5"),), "A5")):
        corrected = correct_photo(photo, References(prints=cards))
        assert not corrected.verified
        assert corrected.verdict.verdict is Verdict.RETAKE
        assert any(said in finding.message for finding in corrected.verdict.findings)


@pytest.mark.slow
def test_other_values_than_the_prints_own_are_noticed():
    wrong = by_instrument()
    shuffled = MeasuredCard(wrong.sheet, np.roll(PRINT_LAB, 5, axis=0), wrong.lab_sd.copy(),
                            wrong.shared_covariance.copy(), wrong.day, wrong.printer, wrong.source)  # fmt: skip
    corrected = correct_photo(open_photo(photograph_print(WITH_HAIR).png()), References(prints=(shuffled,)))
    assert corrected.verdict.verdict is Verdict.RETAKE
    assert "poor_match" in corrected.verdict.codes


@pytest.mark.slow
def test_covered_discs_are_named_and_left_out():
    scene = replace(WITH_HAIR, place=replace(WITH_HAIR.place, cover_mm=(84, 48, 112, 66)))
    corrected = correct_photo(open_photo(photograph_print(scene).png()), References(prints=(by_instrument(),)))
    (finding,) = [one for one in corrected.verdict.findings if one.code == "card_covered"]
    assert "brown 38" in finding.message
    assert corrected.patches is not None
    assert not corrected.patches.usable[printed_layout().patch_names.index("brown 38")]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("scene", "said"),
    [
        (replace(WITH_HAIR, swatches=HAIR[:1]), "24-patch card"),
        (replace(BESIDE, place=replace(BESIDE.place, markers_hidden=(0, 1))), "corner markers"),
        (replace(BESIDE, place=replace(BESIDE.place, cover_mm=(84, 48, 112, 66))), "Not every patch|covered"),
    ],
    ids=["no reference card", "markers hidden", "something on the print"],
)
def test_a_print_is_not_learned_from_a_photo_that_does_not_show_both_cards_whole(scene, said):
    with pytest.raises(CardFileError, match=said):
        measure_print(photograph_print(scene).png(), "2026-11-25", "Demo inkjet")


@pytest.mark.slow
def test_a_grey_card_of_known_reflectance_ties_brightness_where_a_neutral_thing_does_not():
    grey = np.full(HAIR.shape[1], 0.18)
    scene = CardScene(
        layout=Layout(width_px=900, height_px=700, card_width=0.01, centre=(0.02, 0.97)),
        development=Development(exposure=0.5, contrast=0.0, balance=(1.25, 0.8)),
        swatches=np.vstack([grey, HAIR]),
    )
    made = photograph(scene)
    left, top, right, bottom = made.swatch_boxes[0]
    point = NeutralPoint((left + right) / 2, (top + bottom) / 2, 12)
    photo = open_photo(made.png())
    corrected = correct_photo(photo, References(grey_card=GreyCardPoint(point)))
    assert corrected.verdict.verdict is not Verdict.USABLE
    assert not corrected.verified
    read = swatches_lab(corrected, made.swatch_boxes)
    # CIE 15: Y = 0.18 is L* 49.5.
    assert read[0] == pytest.approx([49.5, 0, 0], abs=0.6)
    weak = swatches_lab(correct_photo(photo, References(neutral=point)), made.swatch_boxes)
    missed, missed_weakly = (np.abs(lab[1:, 0] - HAIR_LAB[:, 0]).mean() for lab in (read, weak))
    assert missed < 3
    assert missed_weakly > 2 * missed


def test_a_grey_card_needs_a_reflectance_that_grey_cards_have():
    with pytest.raises(ValueError, match="18"):
        GreyCardPoint(NeutralPoint(10, 10, 5), 18.0)
