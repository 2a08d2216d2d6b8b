"""Zones as people hand them over: both forms mean the same, and what can't be gets one sentence."""

import io
import json

import numpy as np
import pytest
from PIL import Image

from estimator.errors import BadInputError
from estimator.zones.inputs import load_zone_spec, zone_spec_from_json, zone_spec_from_label_picture, zones_of
from estimator.zones.names import zone_names
from estimator.zones.outline import Setting, StrandPattern
from tests.synthetic.hair_patch import corrected_photo

SQUARE = [[10, 20], [49, 20], [49, 59], [10, 59]]
PHOTO = corrected_photo(np.full((100, 120, 3), 0.2))


def description(**changes) -> str:
    return json.dumps({"setting": "board", "zones": {"crown": SQUARE}} | changes)


def label_png(labels: np.ndarray, mode: str | None = None) -> bytes:
    out = io.BytesIO()
    Image.fromarray(labels).convert(mode or "L").save(out, "PNG")
    return out.getvalue()


def painted(number: int = 3) -> np.ndarray:
    labels = np.zeros((100, 120), np.uint8)
    labels[20:60, 10:50] = number
    return labels


def test_label_picture_and_polygon_give_the_same_mask():
    (drawn,) = zones_of(zone_spec_from_json(description()), PHOTO)
    (labelled,) = zones_of(zone_spec_from_label_picture(description(zones={"crown": 3}), label_png(painted())), PHOTO)
    assert drawn.box == labelled.box
    assert np.array_equal(drawn.mask, labelled.mask)
    assert drawn.pixels == 40 * 40


def test_what_is_said_of_a_zone_reaches_it():
    spec = zone_spec_from_json(
        description(
            zones={"crown": SQUARE, "swatch": SQUARE},
            strands={"crown": "coily"},
            known={"swatch": [60, 5, 20]},
            roots={"crown": [30, 59]},
            neutral=[5, 5, 3],
            after=["b.jpg"],
            something_else=1,
        )
    )
    crown, swatch = zones_of(spec, PHOTO)
    assert crown.strand_pattern is StrandPattern.COILY
    assert crown.setting is Setting.BOARD
    assert crown.root_px == (30, 59)
    assert swatch.strand_pattern is None
    assert swatch.known_lab_d65 == (60, 5, 20)
    assert spec.neutral == (5, 5, 3)
    assert spec.after == ("b.jpg",)


def test_a_zone_in_two_pieces_is_one_zone():
    pieces = [[[0, 0], [9, 0], [9, 9], [0, 9]], [[20, 0], [29, 0], [29, 9], [20, 9]]]
    (zone,) = zones_of(zone_spec_from_json(description(zones={"sides": pieces})), PHOTO)
    assert zone.pixels == 200


def test_a_palette_picture_means_its_indices():
    labels = Image.fromarray(painted(1), mode="P")
    labels.putpalette([200, 10, 10, 10, 200, 10] + [0] * 762)
    out = io.BytesIO()
    labels.save(out, "PNG")
    (zone,) = zones_of(zone_spec_from_label_picture(description(zones={"crown": 1}), out.getvalue()), PHOTO)
    assert zone.pixels == 1600


@pytest.mark.parametrize(
    ("document", "word"),
    [
        ('{"setting": "board", "zones": {"crown": [[1,1],[9,1],[9,9]], "crown": [[1,1],[9,1],[9,9]]}}', "stands twice"),
        (description(zones={"Crown": SQUARE, " crown": SQUARE}), "same name"),
        (description(zones={}), "names no zones"),
        (description(zones={"": SQUARE}), "no usable name"),
        (description(zones={"crown": SQUARE[:2]}), "2 points"),
        (description(zones={"crown": [[1, 1], [9, "x"], [9, 9]]}), "2 numbers"),
        (description().replace("10,", "NaN,"), "NaN"),
        (description(zones={"crown": [[1, 1], [1e9, 1], [9, 9]]}), "out of range"),
        (description(setting="wall"), '"board"'),
        (description(strands={"crown": "frizzy"}), "straight, wavy, curly, coily"),
        (description(strands={"nape": "wavy"}), "not among the zones"),
        (description(known={"crown": [160, 0, 0]}), "CIELAB"),
        (description(neutral=[1, 1, 0]), "at least 2 pixels"),
        (description(zones={"crown": 1}), "label picture"),
        ("[1, 2]", "JSON object"),
        ("{", "not valid JSON"),
        (b"\xff\xfe\x00crown", "not text"),
        ("[" * 100_000, "JSON"),
    ],
)
def test_a_description_that_can_not_be_gets_one_sentence(document, word):
    with pytest.raises(BadInputError, match=word.replace("[", r"\[")):
        zone_spec_from_json(document)


def test_an_outline_outside_the_photo_is_told_with_the_photo_s_size():
    spec = zone_spec_from_json(description(zones={"crown": [[10, 10], [500, 10], [10, 90]]}))
    with pytest.raises(BadInputError, match=r"crown leaves the photo \(120 x 100 pixels\) at 500, 10"):
        zones_of(spec, PHOTO)


def test_a_label_picture_of_another_size_is_told_with_both_sizes():
    spec = zone_spec_from_label_picture(description(zones={"crown": 3}), label_png(painted()[:50]))
    with pytest.raises(BadInputError, match="120 x 50 pixels, the photo 120 x 100"):
        zones_of(spec, PHOTO)


@pytest.mark.parametrize(
    ("picture", "word"),
    [
        (label_png(painted(), "RGB"), "in colour"),
        (label_png(painted())[:60], "not a whole PNG"),
        (b"zone,level\ncrown,7\n", "not a whole PNG"),
        # A header that promises 400 megapixels: its size must be refused before any pixel is decoded.
        (label_png(painted())[:16] + (20000).to_bytes(4, "big") * 2 + label_png(painted())[24:], "PNG|megapixels"),
    ],
)
def test_a_label_picture_that_can_not_be_gets_one_sentence(picture, word):
    with pytest.raises(BadInputError, match=word):
        zone_spec_from_label_picture(description(zones={"crown": 3}), picture)


def test_two_zones_may_not_share_a_number():
    with pytest.raises(BadInputError, match="number 3"):
        zone_spec_from_label_picture(description(zones={"crown": 3, "nape": 3}), label_png(painted()))


def test_either_file_of_a_pair_may_be_named(tmp_path):
    (tmp_path / "head.json").write_text(description(zones={"crown": 3}))
    (tmp_path / "head.png").write_bytes(label_png(painted()))
    by_picture, by_text = (zones_of(load_zone_spec(tmp_path / name), PHOTO) for name in ("head.png", "head.json"))
    assert np.array_equal(by_picture[0].mask, by_text[0].mask)
    with pytest.raises(BadInputError, match=r"other\.json can't be read"):
        load_zone_spec(tmp_path / "other.png")


def test_the_trade_s_zones_all_have_borders_and_a_source():
    names = [zone.name for zone in zone_names()]
    assert {"fringe", "crown", "side left", "side right", "back", "nape"} <= set(names)  # common practice
    assert len(names) == len(set(names))
