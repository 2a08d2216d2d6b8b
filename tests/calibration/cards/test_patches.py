"""What a patch sends back, and what is told of one on which something lies."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.cards.finding import find_cards
from calibration.cards.patches import measure_patches
from calibration.cards.sighting import CardSighting
from calibration.opening import open_photo
from calibration.photo import EncodedRgb, Photo
from tests.synthetic.card_scene import CardScene, Development, photograph


def photo_and_card(scene: CardScene) -> tuple[Photo, CardSighting]:
    photo = open_photo(photograph(scene).png())
    (card,) = find_cards(photo)
    return photo, card


def painted(photo: Photo, left_px: int, top_px: int, size_px: tuple[int, int], code: int) -> Photo:
    codes = np.array(photo.encoded_rgb)
    codes[top_px : top_px + size_px[1], left_px : left_px + size_px[0]] = code
    return replace(photo, encoded_rgb=EncodedRgb(codes))


@pytest.mark.slow
def test_something_over_a_third_of_a_patch_makes_it_uneven_and_leaves_it_out():
    photo, card = photo_and_card(CardScene())
    left, top = (int(value) for value in card.patch_quads_px[8].min(axis=0))
    width, height = (int(value) for value in np.ptp(card.patch_quads_px[8], axis=0))
    patches = measure_patches(painted(photo, left, top, (width // 3, height), 12), card)
    assert patches.why_not[8] == "uneven"
    assert [place for place, why in enumerate(patches.why_not) if why] == [8]


@pytest.mark.slow
@pytest.mark.parametrize("noise_sd", [0.003, 0.03])
def test_noise_alone_makes_no_patch_uneven(noise_sd):
    photo, card = photo_and_card(CardScene(development=Development(noise_sd=noise_sd)))
    assert measure_patches(photo, card).usable.all()


@pytest.mark.slow
def test_a_channel_at_its_top_clips_the_patch_and_no_other():
    photo, card = photo_and_card(CardScene())
    left, top = (int(value) for value in card.patch_quads_px[3].min(axis=0))
    patches = measure_patches(painted(photo, left - 3, top - 3, (40, 40), 255), card)
    assert patches.why_not[3] == "clipped"
    assert patches.usable.sum() == 23


def test_light_is_averaged_as_light_not_as_stored_values():
    photo, card = photo_and_card(CardScene())
    codes = np.array(photo.encoded_rgb)
    codes[::2], codes[1::2] = 100, 140
    patches = measure_patches(replace(photo, encoded_rgb=EncodedRgb(codes)), card)
    # IEC 61966-2-1: codes 100 and 140 are 0.1274 and 0.2623 of white; as light they average to 0.1949, and the
    # average code 120 would be 0.1878.
    assert np.abs(patches.linear_rgb - 0.1949).max() < 0.004
