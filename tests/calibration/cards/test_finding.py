"""Cards of known place in photographs made from spectra: found there, in order, or not called found."""

from dataclasses import replace

import numpy as np
import pytest

from calibration.cards.finding import find_cards, search_cards
from calibration.opening import open_photo
from tests.synthetic.card_scene import CardScene, Development, Layout, Light, Photographed, photograph

# Patches fill 0.88 of the pitch and are sampled over half of it: a tenth of a pitch off still samples the patch alone.
PLACE_TOLERANCE_PITCHES = 0.1

WHOLE_CARDS = {
    "plain": CardScene(),
    "upside down": CardScene(layout=Layout(turn_deg=183)),
    "turned by a quarter": CardScene(layout=Layout(turn_deg=92, card_width=0.3)),
    "turned by 35 degrees": CardScene(layout=Layout(turn_deg=35, card_width=0.3)),
    "slanted": CardScene(layout=Layout(tilt=0.25)),
    "under lamp light, not balanced": CardScene(
        light=Light("A"), development=Development(balance=(1.45, 0.55), exposure=0.6)
    ),
    "under a narrow-band tube": CardScene(light=Light("FL11"), development=Development(balance=(0.85, 1.2))),
    "dark": CardScene(development=Development(exposure=0.16)),
    "noisy": CardScene(development=Development(noise_sd=0.03)),
    "soft": CardScene(development=Development(blur_px=4.0)),
}


def mean_miss_pitches(photographed: Photographed, centres_px: np.ndarray) -> float:
    """Mean distance between found and true centres, in pitches."""
    pitch = np.linalg.norm(photographed.centres_px[1] - photographed.centres_px[0])
    return float(np.linalg.norm(centres_px - photographed.centres_px, axis=1).mean() / pitch)


@pytest.mark.slow
@pytest.mark.parametrize("scene", WHOLE_CARDS.values(), ids=WHOLE_CARDS.keys())
def test_a_whole_card_is_found_in_its_place_and_order(scene):
    photographed = photograph(scene)
    (card,) = find_cards(open_photo(photographed.png()))
    assert mean_miss_pitches(photographed, card.patch_centres_px) < PLACE_TOLERANCE_PITCHES
    assert not card.hidden.any()
    assert not card.mirrored


@pytest.mark.slow
@pytest.mark.parametrize("card_px", [160, 100, 70])
def test_a_card_of_a_few_hundredths_of_a_large_frame_is_found(card_px):
    # 160 px are 4 % of a 12-megapixel photo's width.
    near = photograph(CardScene(layout=Layout(width_px=2 * card_px, height_px=2 * card_px, card_width=0.5)))
    frame = np.full((2250, 3000, 3), 118, dtype=np.uint8)
    frame[1400 : 1400 + 2 * card_px, 700 : 700 + 2 * card_px] = near.encoded_rgb
    (card,) = find_cards(open_photo(Photographed(frame, near.centres_px, near.swatch_boxes).png()))
    assert mean_miss_pitches(near, card.patch_centres_px - [700, 1400]) < PLACE_TOLERANCE_PITCHES


@pytest.mark.slow
def test_a_mirrored_photo_is_read_in_order_and_known_as_mirrored():
    photographed = photograph(CardScene(layout=Layout(mirrored=True)))
    (card,) = find_cards(open_photo(photographed.png()))
    assert card.mirrored
    assert mean_miss_pitches(photographed, card.patch_centres_px) < PLACE_TOLERANCE_PITCHES


@pytest.mark.slow
def test_two_cards_are_both_seen_and_the_larger_comes_first():
    photographed = photograph(CardScene(layout=Layout(cards=2)))
    first, second = find_cards(open_photo(photographed.png()))
    assert first.width_px > second.width_px
    assert mean_miss_pitches(photographed, first.patch_centres_px) < PLACE_TOLERANCE_PITCHES


@pytest.mark.slow
@pytest.mark.parametrize("cover", [0.35, 0.5, 0.7])
def test_patches_under_a_hand_are_hidden_or_the_card_is_only_a_part(cover):
    photographed = photograph(CardScene(layout=Layout(cover=cover)))
    search = search_cards(open_photo(photographed.png()))
    columns_covered = int(6.4 * cover - 0.7)
    under_hand = [row * 6 + column for row in range(4) for column in range(6 - columns_covered, 6)]
    card = search.sightings[0] if search.sightings else search.part
    assert card is not None
    assert card.hidden[under_hand].mean() > 0.7


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_the_same_patches_in_another_order_are_another_card(seed):
    order = tuple(int(patch) for patch in np.random.default_rng(seed).permutation(24))
    search = search_cards(open_photo(photograph(CardScene(layout=Layout(order=order))).png()))
    assert not search.sightings
    assert search.other is not None


@pytest.mark.slow
def test_rows_read_backwards_are_another_card_although_half_the_patches_are_in_place():
    # The order of a real card by another maker: two of four rows run the other way (published 8-bit values).
    order = (5, 4, 3, 2, 1, 0, *range(6, 12), 17, 16, 15, 14, 13, 12, *range(18, 24))
    search = search_cards(open_photo(photograph(CardScene(layout=Layout(order=order))).png()))
    assert not search.sightings
    assert search.other is not None


@pytest.mark.slow
def test_a_picture_without_a_card_has_none():
    scene = CardScene(layout=Layout(centre=(2.0, 2.0)), swatches=np.linspace(0.1, 0.8, 61)[None].repeat(5, axis=0))
    search = search_cards(open_photo(photograph(scene).png()))
    assert not search.sightings
    assert search.other is None


def test_the_search_leaves_the_photograph_as_it_was():
    photo = open_photo(photograph(replace(CardScene(), seed=3)).png())
    before = photo.encoded_rgb.copy()
    find_cards(photo)
    assert np.array_equal(photo.encoded_rgb, before)
