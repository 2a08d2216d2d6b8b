"""What a print looks like: learned from a photograph, read from an instrument's table, kept in a file."""

import numpy as np
import pytest

from calibration.cards.cgats import CgatsTable, cgats_text, parse_cgats
from calibration.cards.measured_card import CardFileError, MeasuredCard, card_text, kept_card, table_spread
from calibration.cards.printed_layout import printed_layout
from calibration.cards.spectro_table import card_from_table, to_lab_d65
from calibration.colourspaces import WHITE_D65_XYZ, xyz_to_lab
from tests.synthetic.printed_scene import print_reflectances
from tests.synthetic.spectra import xyz_d65

LAYOUT = printed_layout()
A6 = LAYOUT.sheet("A6")
LAB = xyz_to_lab(xyz_d65(print_reflectances()))


def measured() -> MeasuredCard:
    spread, shared = table_spread(0.7)
    return MeasuredCard(A6, LAB.copy(), spread, shared, "2026-11-25", 'Demo "inkjet", matt ö', "csv")


def test_a_measured_card_comes_back_from_its_file():
    card = measured()
    again = kept_card(card_text(card))
    assert np.abs(again.lab_d65 - card.lab_d65).max() <= 0.5e-4  # four decimals
    assert again.printer == card.printer
    assert again.sheet is A6
    assert again.sha256 == card.sha256


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('sheet = "A6"', 'sheet = "A3"', "sheet"),
        ("layout_version = 1", "layout_version = 7", "layout"),
        ('name = "paper"', 'name = "peper"', "41 patches"),
        ("sd = [0.7000", "sd = [-1.0", "sd must be"),
        ("lab_d65 = [", "lab_d65 = [1.0, ", "lab_d65 must be"),
        ("shared_covariance = [[0.490000", "shared_covariance = [[-9.0", "covariance"),
        ('day = "2026-11-25"', 'day = "yesterday"', "day"),
        ("sd = [0.7000", "sd = [0.8000", "hash"),
        ("[[patch]]", "[[patch", "TOML"),
    ],
)
def test_a_file_that_was_spoiled_is_refused_in_words(old, new, said):
    text = card_text(measured())
    assert old in text
    with pytest.raises(CardFileError, match=said) as refusal:
        kept_card(text.replace(old, new, 1))
    assert refusal.value.finding.remedy.endswith(".")


# Structure of ANSI CGATS.17, from memory: identifier, keywords, data format, sets.
CGATS = """CGATS.17
ORIGINATOR "a program that measures"
DESCRIPTOR "print 3"   # a comment
CREATED "2026-11-25"
WEIGHTING_FUNCTION "ILLUMINANT, D50"
WEIGHTING_FUNCTION "OBSERVER, 2 degree"

NUMBER_OF_FIELDS 5
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME
LAB_L LAB_A LAB_B
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 "grey 88" 88.1 -0.2 1.5
2 red 46.2 60.1 38.0
END_DATA
"""


def test_a_cgats_table_is_read_by_its_structure():
    table = parse_cgats(CGATS)
    assert table.fields == ("SAMPLE_ID", "SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B")
    assert table.sets[0] == ("1", "grey 88", "88.1", "-0.2", "1.5")
    assert ("DESCRIPTOR", "print 3") in table.keywords


def test_a_cgats_table_that_is_written_reads_back():
    table = parse_cgats(CGATS)
    again = parse_cgats(cgats_text(table))
    assert again.sets == table.sets
    assert again.fields == table.fields
    assert [pair for pair in again.keywords if not pair[0].startswith("NUMBER")] == [
        pair for pair in table.keywords if not pair[0].startswith("NUMBER")
    ]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("CGATS.17", "CGOTS", "does not begin"),
        ("NUMBER_OF_SETS 2", "NUMBER_OF_SETS 3", "NUMBER_OF_SETS says 3"),
        ("2 red 46.2 60.1 38.0", "2 red 46.2 60.1", "has 4 values"),
        ("END_DATA\n", "", "has no END_DATA"),
        ("END_DATA_FORMAT", "", "has no END_DATA_FORMAT"),
        ('"print 3"', '"print 3', "quotation mark"),
    ],
)
def test_a_faulty_cgats_table_is_refused_with_the_line(old, new, said):
    assert old in CGATS
    cut = CGATS.rsplit(old, 1) if old == "END_DATA\n" else CGATS.split(old, 1)
    with pytest.raises(CardFileError, match=said):
        parse_cgats(new.join(cut))


def whole_table(white: str, kind: str) -> str:
    """A table of the whole print under this white, converted by the general colour library."""
    import colour

    xyz = xyz_d65(print_reflectances())
    # D50 2 degrees of ASTM E308, as colour-science has it in its table of tristimulus values.
    target = np.array([0.96422, 1.0, 0.82521]) if white == "D50" else WHITE_D65_XYZ
    moved = xyz @ colour.adaptation.matrix_chromatic_adaptation_VonKries(WHITE_D65_XYZ, target, "Bradford").T
    values = moved * 100 if kind == "XYZ" else colour.XYZ_to_Lab(moved, colour.XYZ_to_xy(target))
    fields = ("XYZ_X", "XYZ_Y", "XYZ_Z") if kind == "XYZ" else ("LAB_L", "LAB_A", "LAB_B")
    sets = tuple(
        (name, *(f"{value:.4f}" for value in row)) for name, row in zip(LAYOUT.patch_names, values, strict=True)
    )
    keywords = (("WEIGHTING_FUNCTION", f"ILLUMINANT, {white}"), ("WEIGHTING_FUNCTION", "OBSERVER, 2 degree"))
    return cgats_text(CgatsTable(keywords, ("SAMPLE_NAME", *fields), sets))


@pytest.mark.parametrize("kind", ["XYZ", "LAB"])
@pytest.mark.parametrize("white", ["D50", "D65"])
def test_an_instruments_table_gives_the_colours_that_the_colour_library_converts(white, kind):
    card = card_from_table(whole_table(white, kind), A6, "2026-11-25", "Demo inkjet")
    # Four decimals of Lab or XYZ, and five digits of the white.
    assert np.abs(card.lab_d65 - LAB).max() < 0.01
    assert card.source == "cgats"


def test_lab_under_d50_of_the_perfect_white_is_white_under_d65():
    assert np.abs(to_lab_d65(np.array([[100.0, 0, 0]]), "lab", "d50") - [100, 0, 0]).max() < 1e-6


def test_a_csv_goes_by_names_or_by_numbers():
    named = "patch,lab_l_d65,lab_a_d65,lab_b_d65\n" + "\n".join(
        f"{name},{lab[0]:.4f},{lab[1]:.4f},{lab[2]:.4f}" for name, lab in zip(LAYOUT.patch_names, LAB, strict=True)
    )
    numbered = "\n".join(
        line if place == 0 else f"{place},{line.split(',', 1)[1]}" for place, line in enumerate(named.splitlines())
    )
    one, other = (card_from_table(text, A6, "2026-11-25", "Demo") for text in (named, numbered))
    assert one.sha256 == other.sha256
    assert np.abs(one.lab_d65 - LAB).max() < 1e-4


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda text: text.replace("ILLUMINANT, D50", "ILLUMINANT, A"), "D50 or D65"),
        (lambda text: text.replace("2 degree", "10 degree"), "10 degree"),
        (lambda text: text.replace("grey\\ 88", "x").replace('"grey 88"', "x"), "lacks 1 of the 41"),
        (lambda text: text.replace("LAB_L", "RGB_R"), "holds neither"),
        (lambda text: text.replace("SAMPLE_NAME", "PATCH"), "no SAMPLE_NAME"),
        (lambda text: text.replace("paper\t", "paper\tx"), "is no number"),
        (lambda text: text.replace("paper\t", "red\t"), "stands in the table twice"),
        (lambda text: "a,b\n1,2\n", "column patch"),
        (lambda text: "", "column patch"),
    ],
)
def test_an_instruments_table_that_can_not_serve_is_refused_in_words(spoil, said):
    with pytest.raises(CardFileError, match=said) as refusal:
        card_from_table(spoil(whole_table("D50", "LAB")), A6, "2026-11-25", "Demo inkjet")
    assert refusal.value.finding.remedy.endswith(".")
