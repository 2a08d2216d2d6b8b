"""Corrected pictures: the right colours for a screen, no private tag, numbers that hide no hair."""

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from calibration.photo import Box
from estimator.reports import pictures
from estimator.zones.outline import Setting, Zone
from tests.estimator.report_samples import COLOURS, corrected_of, painted, photo_of, side, zone_of


def opened(picture):
    return Image.open(io.BytesIO(picture.jpeg))


def test_a_flat_patch_keeps_its_colour_through_shrinking_correction_and_jpeg():
    srgb = np.kron(painted(COLOURS["before"]), np.ones((9, 9, 1), dtype=np.uint8))
    picture = pictures.corrected_picture(corrected_of(photo_of(srgb)))
    shown = np.asarray(opened(picture))
    middle = shown[round(80 * 9 * picture.scale), round(40 * 9 * picture.scale)].astype(int)
    assert np.abs(middle - srgb[80 * 9, 40 * 9].astype(int)).max() <= 2  # JPEG at this quality moves a flat patch by 1


def test_a_picture_is_at_most_1280_px_long_and_small_photos_are_not_enlarged():
    large = corrected_of(photo_of(np.full((2500, 1700, 3), 90, dtype=np.uint8)))
    assert opened(pictures.corrected_picture(large)).size == (870, 1280)
    small = pictures.corrected_picture(side("before").corrected)
    assert (small.width_px, small.height_px, small.scale) == (240, 200, 1.0)


def test_a_sixteen_bit_photo_gives_the_same_picture():
    eight = photo_of(painted(COLOURS["before"]))
    tables = np.repeat(eight.encoding.tables, 257, axis=1)[:, :65536]
    sixteen = replace(
        eight, encoded_rgb=eight.encoded_rgb.astype(np.uint16) * 257, encoding=replace(eight.encoding, tables=tables)
    )
    first, second = (opened(pictures.corrected_picture(corrected_of(photo))) for photo in (eight, sixteen))
    assert np.abs(np.asarray(first).astype(int) - np.asarray(second).astype(int)).max() <= 2


def test_a_picture_says_that_it_is_srgb_and_says_nothing_else():
    image = opened(pictures.corrected_picture(side("before").corrected))
    # ICC.1:2022, 7.2.8: when the profile was made, six numbers of two bytes; a fixed day gives nothing away.
    assert np.frombuffer(image.info["icc_profile"][24:36], ">u2").tolist() == [2000, 1, 1, 0, 0, 0]
    profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert "sRGB" in ImageCms.getProfileDescription(profile)
    assert not image.getexif()
    assert {name for name in image.info if not name.startswith(("jfif", "adobe"))} == {"icc_profile"}


def test_the_same_photo_gives_the_same_bytes():
    first, second = (pictures.corrected_picture(side("before").corrected).jpeg for _ in range(2))
    assert first == second


def test_colours_past_the_screen_are_counted():
    vivid = np.zeros((40, 40, 3), dtype=np.float32)
    vivid[..., 1] = 0.7  # a green that no screen of the sRGB kind can show
    srgb, beyond = pictures.screen_pixels(vivid)
    assert beyond == 1.0
    glaring = np.broadcast_to(np.float32([1.05, 1.1, 1.2]), (40, 40, 3))  # brighter than the paper of the card
    assert pictures.screen_pixels(glaring)[1] == 1.0
    assert srgb.shape == (40, 40, 3)


def test_the_card_is_shown_beside_and_is_absent_where_none_was_found():
    card = pictures.card_picture(side("before").corrected)
    assert np.abs(np.asarray(opened(card))[card.height_px // 2, card.width_px // 2].astype(int) - 200).max() <= 2
    assert pictures.card_picture(side("before", verified=False).corrected) is None


@pytest.mark.parametrize("count", [1, 2])
def test_numbers_stand_off_the_hair_off_the_card_and_inside_the_picture(count):
    read = side("before")
    zones = read.outlined[:count]
    for tag in pictures.place_tags(zones, read.corrected):
        x, y = tag.x * 240, tag.y * 200
        room = pictures.TAG_ROOM * 240 * 0.8  # places are looked for on a smaller copy
        for zone in zones:
            across = zone.box.left - room < x < zone.box.right + room
            down = zone.box.top - room < y < zone.box.bottom + room
            assert not (across and down)
        assert not (140 < x < 220 and 140 < y < 190)
        assert room < x < 240 - room
        assert room < y < 200 - room


def test_a_number_points_at_its_own_zone():
    read = side("before")
    for zone, tag in zip(read.outlined, pictures.place_tags(read.outlined, read.corrected), strict=True):
        assert zone.box.left - 2 <= tag.anchor_x * 240 <= zone.box.right + 2
        assert zone.box.top - 2 <= tag.anchor_y * 200 <= zone.box.bottom + 2


def test_a_photo_full_of_hair_still_gets_its_number():
    corrected = corrected_of(photo_of(painted(COLOURS["before"])), verified=False)
    hair = Zone("hair", Box(0, 0, 200, 240), np.ones((200, 240), dtype=bool), Setting.HEAD)
    (tag,) = pictures.place_tags((hair,), corrected)
    assert 0 <= tag.x <= 1
    assert 0 <= tag.y <= 1


def test_a_number_stands_on_no_card_even_where_only_the_card_is_free():
    corrected = corrected_of(photo_of(painted(COLOURS["before"])))
    mask = np.ones((200, 240), dtype=bool)
    mask[140:190, 140:220] = False
    (tag,) = pictures.place_tags((Zone("hair", Box(0, 0, 200, 240), mask, Setting.HEAD),), corrected)
    assert not (140 < tag.x * 240 < 220 and 140 < tag.y * 200 < 190)


def test_the_outline_runs_along_the_edge_of_the_zone():
    zone = zone_of(0, "crown")
    svg = pictures.outlines_svg((zone,), side("before").corrected, ())
    path = svg.split(' d="M')[1].split("Z")[0]
    corners = np.array([[float(number) for number in pair.split()] for pair in path.split("L")], dtype=np.float32)
    # As areas: the polygon drawn and the box of the zone cover the same ground, up to rounded corners.
    assert cv2.contourArea(corners) == pytest.approx(zone.box.width_px * zone.box.height_px, rel=0.08)
    assert corners.min(axis=0) == pytest.approx([zone.box.left, zone.box.top], abs=2)
