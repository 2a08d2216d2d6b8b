"""A known fault in a photograph made from spectra gets its code, its weight and a sentence with what to do."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.findings import Verdict
from calibration.opening import open_photo
from calibration.pipeline import correct_bytes, correct_photo
from tests.synthetic.card_scene import CardScene, Development, Layout, Light, photograph

pytestmark = pytest.mark.slow

SHUFFLED = tuple(int(patch) for patch in np.random.default_rng(0).permutation(24))
AWAY = Layout(centre=(2.0, 2.0))

RETAKES = {
    "three stops too bright": (CardScene(development=Development(exposure=6.0)), "overexposed"),
    "two stops too bright": (CardScene(development=Development(exposure=3.0)), "overexposed"),
    "four stops too dark": (CardScene(development=Development(exposure=0.06)), "underexposed"),
    "shaken": (CardScene(development=Development(motion_px=20)), "motion_blur"),
    "hand over half the card": (CardScene(layout=Layout(cover=0.5)), "card_covered"),
    "hand over a third of the card": (CardScene(layout=Layout(cover=0.35)), "card_covered"),
    "card cut off by the frame": (CardScene(layout=Layout(centre=(0.86, 0.6))), "card_covered"),
    "card too small": (CardScene(layout=Layout(card_width=0.1)), "too_small"),
    "no card": (CardScene(layout=AWAY), "no_card"),
    "another maker's card": (CardScene(layout=Layout(order=SHUFFLED)), "other_card"),
    "black photo": (CardScene(layout=AWAY, development=Development(exposure=0.01)), "underexposed"),
    "white photo": (CardScene(layout=AWAY, development=Development(exposure=8.0)), "overexposed"),
}

CARES = {
    "mirror image": (CardScene(layout=Layout(mirrored=True)), "mirrored"),
    "lamp mirrored in the card": (CardScene(light=Light(glare_at=(0.5, 0.66))), "glare"),
    "light from one side": (CardScene(light=Light(gradient=3.0), development=Development(exposure=0.4)), "gradient"),
    "lamp on one side, window on the other": (
        CardScene(light=Light("D65", second_lamp="A", second_share=1.0)),
        "mixed_light",
    ),
}


@pytest.mark.parametrize(("scene", "code"), RETAKES.values(), ids=RETAKES.keys())
def test_a_faulty_photo_must_be_taken_again_for_its_own_reason(scene, code):
    corrected = correct_bytes(photograph(scene).jpeg())
    assert corrected.verdict.verdict is Verdict.RETAKE
    assert code in corrected.verdict.codes
    finding = next(finding for finding in corrected.verdict.findings if finding.code == code)
    assert finding.message.endswith(".")
    assert finding.remedy.endswith(".")


@pytest.mark.parametrize(("scene", "code"), CARES.values(), ids=CARES.keys())
def test_a_doubtful_photo_is_read_with_care_and_says_why(scene, code):
    corrected = correct_bytes(photograph(scene).jpeg())
    assert corrected.verdict.verdict is Verdict.CARE
    assert code in corrected.verdict.codes
    assert corrected.verified


def test_a_good_photo_is_usable_and_nothing_is_found_but_the_missing_profile():
    corrected = correct_bytes(photograph(CardScene()).jpeg())
    assert corrected.verdict.verdict is Verdict.USABLE
    assert corrected.verdict.codes == ("no_profile",)
    assert corrected.patches.usable.all()


def test_two_cards_are_told_and_the_photo_stays_usable():
    corrected = correct_bytes(photograph(CardScene(layout=Layout(cards=2))).jpeg())
    assert corrected.verdict.verdict is Verdict.USABLE
    assert "two_cards" in corrected.verdict.codes


def test_patches_under_glare_are_left_out_by_name_and_the_rest_still_serve():
    corrected = correct_bytes(photograph(CardScene(light=Light(glare_at=(0.5, 0.66)))).jpeg())
    shining = {place + 1 for place, why in enumerate(corrected.patches.why_not) if why}
    assert {9, 10, 15, 16} <= shining
    assert corrected.patches.usable.sum() >= 16


def test_a_card_too_bright_to_correct_by_leaves_the_photo_unverified():
    corrected = correct_bytes(photograph(CardScene(development=Development(exposure=6.0))).jpeg())
    assert not corrected.verified


def test_the_same_scene_in_more_light_is_judged_alike():
    scene = CardScene()
    for exposure in (0.5, 0.9):
        brighter = replace(scene, development=replace(scene.development, exposure=exposure))
        assert correct_photo(open_photo(photograph(brighter).png())).verdict.verdict is Verdict.USABLE
