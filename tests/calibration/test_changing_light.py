"""Light that changes over the frame: a white sheet, a second reference, and what is said without either.

Truth is the CIELAB of measured hair and skin under D65 (docs/sources.md, vrhel-1994), under CIE lamps.
"""

from dataclasses import replace

import numpy as np
import pytest

from calibration.correcting.grey_card import GreyCardPoint
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.correcting.white_sheet import open_white_sheet
from calibration.errors import CorrectionError
from calibration.pipeline import correct_bytes
from calibration.references import References
from tests.studies.white_sheet import SURFACES, de2000, misses
from tests.synthetic.card_scene import Development
from tests.synthetic.lit_scene import LitScene, photograph_lit, photograph_sheet

pytestmark = pytest.mark.slow

EVEN = LitScene(swatches=SURFACES, development=Development(camera="camera 2", exposure=0.8))
FALLING = replace(EVEN, slope=(0.5, -0.3), development=replace(EVEN.development, vignette=0.2))
TWO_LAMPS = replace(EVEN, lamp="D65", second_lamp="A", shares=(0.9, 0.1))
GREY_AT = (0.2, 0.72)


def error_of(scene: LitScene, references: References) -> tuple[float, float, object]:
    """True error, share inside the interval, and the corrected photo."""
    made = photograph_lit(scene)
    corrected = correct_bytes(made.png(), references)
    away, inside = misses(made, corrected, scene.swatches)
    return de2000(away, scene.swatches), float(inside.mean()), corrected


def with_sheet(scene: LitScene) -> References:
    return References(white_sheet=open_white_sheet(photograph_sheet(scene).png()))


def test_a_white_sheet_takes_the_fall_of_light_out_of_every_place_in_the_frame():
    alone, _, _ = error_of(FALLING, References())
    evened, inside, corrected = error_of(FALLING, with_sheet(FALLING))
    even, _, _ = error_of(EVEN, References())
    assert alone > 1.6 * evened
    # What is left is what the correction leaves in even light, where it is near 1.
    assert evened < even + 0.35
    assert inside > 0.85
    assert "light_evened" in corrected.verdict.codes
    assert "gradient" not in corrected.verdict.codes


def test_a_sheet_in_even_light_changes_nothing():
    without, _, _ = error_of(EVEN, References())
    evened, _, corrected = error_of(EVEN, with_sheet(EVEN))
    assert evened == pytest.approx(without, abs=0.1)
    assert corrected.verified


TOO_BRIGHT = replace(EVEN, development=replace(EVEN.development, exposure=2.5))
SHEETS = {
    "out of range": (lambda: photograph_sheet(TOO_BRIGHT), "out of range"),
    "patterned": (lambda: photograph_sheet(EVEN, pattern=0.3), "no plain white sheet"),
    "the scene itself": (lambda: photograph_lit(EVEN), "no plain white sheet"),
    "dark": (lambda: photograph_sheet(EVEN, exposure=0.03), "too dark"),
}


@pytest.mark.parametrize("what", list(SHEETS))
def test_what_is_no_plain_sheet_is_refused_in_words(what):
    make, said = SHEETS[what]
    with pytest.raises(CorrectionError, match=said):
        open_white_sheet(make().png())


def test_a_sheet_of_another_size_or_turned_is_not_used_and_a_sentence_says_so():
    turned = replace(FALLING, size_px=(640, 960))
    missed, _, corrected = error_of(FALLING, with_sheet(turned))
    (finding,) = [one for one in corrected.verdict.findings if one.code == "white_sheet_refused"]
    assert "640 x 960" in finding.message
    assert missed == pytest.approx(error_of(FALLING, References())[0], abs=1e-6)


def second_references() -> dict[str, tuple[LitScene, References]]:
    width, height = TWO_LAMPS.size_px
    point = NeutralPoint(GREY_AT[0] * width, GREY_AT[1] * height, 40)
    return {
        "a grey card": (replace(TWO_LAMPS, grey_at=GREY_AT), References(grey_card=GreyCardPoint(point))),
        "a neutral thing": (replace(TWO_LAMPS, grey_at=GREY_AT), References(neutral=point)),
        "a second card": (replace(TWO_LAMPS, cards=((0.78, 0.72), (0.22, 0.72))), References()),
    }


@pytest.mark.parametrize("second", ["a grey card", "a neutral thing", "a second card"])
def test_between_two_references_the_colours_of_two_lamps_are_followed(second):
    alone, _, _ = error_of(TWO_LAMPS, References())
    followed, inside, corrected = error_of(*second_references()[second])
    assert followed < 0.6 * alone
    assert inside > 0.8
    assert "mixed_light" in corrected.verdict.codes


def test_without_a_second_reference_two_lamps_are_told_and_the_intervals_are_wider():
    _, _, one_lamp = error_of(EVEN, References())
    _, _, two_lamps = error_of(TWO_LAMPS, References())
    assert "mixed_light" not in one_lamp.verdict.codes
    assert "mixed_light" in two_lamps.verdict.codes
    sd = [np.sqrt(np.diag(photo.correction.lab_covariance()))[1:] for photo in (one_lamp, two_lamps)]
    assert sd[1][1] > 1.5 * sd[0][1]


def test_under_one_lamp_a_second_card_changes_nothing():
    scene = replace(EVEN, cards=((0.78, 0.72), (0.22, 0.72)))
    _, _, corrected = error_of(scene, References())
    assert "mixed_light" not in corrected.verdict.codes
    assert "followed" not in corrected.correction.method
