"""An instrument's file: CGATS.17 text and CxF3, out and in, against colour-science and published samples."""

import subprocess
import sys
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.cards.measured_card import kept_card
from calibration.cards.printed_layout import printed_layout
from estimator.errors import BadInputError
from estimator.exchange.cgats_colours import cgats_of, colours_of_cgats
from estimator.exchange.colour_sources import Given, colours_of, measured_by_instrument
from estimator.exchange.colour_uses import card_of_colours, ring_of_colours, shelf_of_colours
from estimator.exchange.conditions import conditions_told
from estimator.exchange.cxf import NAMESPACE, colours_of_cxf, cxf_of
from estimator.exchange.measured import Conditions, Illuminant, MeasuredColour, MeasuredTable
from estimator.exchange.scale_table import cgats_of_scale, scale_of_cgats, scale_toml
from estimator.scale.level import default_scale
from estimator.scale.scale_file import kept_scale
from estimator.toning.shades import KnownBy, demo_shelf
from estimator.toning.shelf_file import load_shelf, shelf_text

UNSAID = Conditions()
# Two objects of the published sample `sample.cxf` of colour-cxf (key colour-cxf-sample in docs/sources.md): Lab for D50
# and 2 degrees, and the same patch's reflectance from 380 nm in steps of 10 nm.
GREY_LAB_D50 = (61.05326, -2.514915, 1.61321)
GREY_SPECTRUM = (
    "0.1837827 0.1944948 0.2009235 0.2065198 0.2124807 0.2260362 0.2460918 0.2727012 0.2995073 0.3192942 0.329667 "
    "0.3327025 0.3303454 0.3208593 0.3068115 0.2987445 0.2974564 0.2898345 0.2762612 0.274731 0.2822749 0.2862227 "
    "0.2836448 0.2811003 0.2819313 0.2870229 0.2981349 0.3150566 0.3376575 0.3649395 0.4003294"
)
YELLOW_LAB_D50 = (84.73233, 7.452961, 87.97715)
YELLOW_SPECTRUM = (
    "0.0605026 0.0640291 0.0661455 0.0679878 0.0524093 0.0359736 0.035457 0.0417389 0.0533082 0.073329 0.1070478 "
    "0.1586168 0.2310738 0.3250051 0.4342795 0.5427903 0.6371487 0.7056844 0.7457175 0.7729036 0.7897722 0.8035986 "
    "0.8118215 0.8185136 0.8266505 0.836614 0.8503525 0.8625064 0.8704931 0.8694585 0.8667"
)
SPECIFICATION = (
    "<cc:ColorSpecificationCollection><cc:ColorSpecification Id='CS1'><cc:TristimulusSpec><cc:Illuminant>D50"
    "</cc:Illuminant><cc:Observer>2_Degree</cc:Observer><cc:Method>E308_Table5</cc:Method></cc:TristimulusSpec>"
    "<cc:MeasurementSpec><cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>"
    "<cc:WavelengthRange StartWL='380' Increment='10'/></cc:MeasurementSpec></cc:ColorSpecification>"
    "</cc:ColorSpecificationCollection>"
)


def cxf_text(values: str, name: str = "1", specification: str = SPECIFICATION) -> bytes:
    return (
        f"<?xml version='1.0' encoding='UTF-8'?><cc:CxF xmlns:cc='{NAMESPACE}'><cc:Resources><cc:ObjectCollection>"
        f"<cc:Object ObjectType='Target' Name='{name}' Id='1'><cc:ColorValues>{values}</cc:ColorValues></cc:Object>"
        f"</cc:ObjectCollection>{specification}</cc:Resources></cc:CxF>"
    ).encode()


def lab_element(lab: tuple[float, float, float]) -> str:
    axes = "".join(f"<cc:{axis}>{value}</cc:{axis}>" for axis, value in zip("LAB", lab, strict=True))
    return f"<cc:ColorCIELab ColorSpecification='CS1'>{axes}</cc:ColorCIELab>"


def spectrum_element(values: str, more: str = "") -> str:
    return f"<cc:ReflectanceSpectrum StartWL='380' ColorSpecification='CS1' {more}>{values}</cc:ReflectanceSpectrum>"


def cgats(fields: str, *rows: str, head: str = 'WEIGHTING_FUNCTION "ILLUMINANT,D50"\nOBSERVER "2 degree"') -> str:
    body = "\n".join(rows)
    return (
        f"CGATS.17\n{head}\nNUMBER_OF_FIELDS {len(fields.split())}\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(rows)}\nBEGIN_DATA\n{body}\nEND_DATA\n"
    )


# --- against the general colour library


@pytest.fixture(scope="module")
def colour():
    import colour

    return colour


def lab_d65_by_library(colour, lab_d50):
    white = colour.TVS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    d65 = colour.xy_to_XYZ((0.3127, 0.3290))
    d50 = np.array([0.96422, 1.0, 0.82521])  # ASTM E308, 2 degrees
    assert np.allclose(white["D50"] / 100, d50, atol=2e-4)  # the library prints four digits
    xyz = colour.Lab_to_XYZ(lab_d50, colour.XYZ_to_xy(d50))
    adapted = colour.chromatic_adaptation(xyz, d50, d65, method="Von Kries", transform="Bradford")
    return colour.XYZ_to_Lab(adapted, (0.3127, 0.3290))


@pytest.mark.slow
def test_lab_for_d50_is_adapted_as_the_colour_library_adapts_it(colour):
    rows = [f"{number} {' '.join(map(str, lab))}" for number, lab in enumerate((GREY_LAB_D50, YELLOW_LAB_D50), 1)]
    read = colours_of_cgats(cgats("SAMPLE_ID LAB_L LAB_A LAB_B", *rows), UNSAID)
    for held, lab in zip(read.colours, (GREY_LAB_D50, YELLOW_LAB_D50), strict=True):
        # The library goes through chromaticities of four or five digits: that leaves a hundredth.
        assert held.lab_d65 == pytest.approx(lab_d65_by_library(colour, lab), abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("spectrum", [GREY_SPECTRUM, YELLOW_SPECTRUM], ids=["grey", "yellow"])
def test_a_spectrum_becomes_the_colour_that_the_colour_library_makes_of_it(colour, spectrum):
    values = [float(value) for value in spectrum.split()]
    sd = colour.SpectralDistribution(dict(zip(range(380, 681, 10), values, strict=True)))
    # 680 nm is where the sample ends; beyond it the last value goes on, as ASTM E308 has it.
    padded = sd.copy().align(colour.SpectralShape(380, 780, 10))
    xyz = colour.sd_to_XYZ(padded, illuminant=colour.SDS_ILLUMINANTS["D65"], method="ASTM E308") / 100
    expected = colour.XYZ_to_Lab(xyz, (0.3127, 0.3290))
    bands = range(380, 781, 10)
    fields = " ".join(["SAMPLE_ID", *(f"SPECTRAL_NM{band}" for band in bands)])
    whole = " ".join(["1", *map(repr, padded.values.tolist())])
    read = colours_of_cgats(cgats(fields, whole, head=""), UNSAID)
    # Weights from 5 nm tables against the library's 1 nm: below a tenth of what an instrument repeats to.
    assert read.colours[0].lab_d65 == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(("spectrum", "lab_d50"), [(GREY_SPECTRUM, GREY_LAB_D50), (YELLOW_SPECTRUM, YELLOW_LAB_D50)])
def test_spectrum_and_lab_of_one_published_patch_agree(spectrum, lab_d50):
    more = " ".join([*spectrum.split(), *[spectrum.split()[-1]] * 3])  # to 710 nm, the last value goes on
    by_spectrum = colours_of_cxf(cxf_text(spectrum_element(more)), UNSAID).colours[0].lab_d65
    by_lab = colours_of_cxf(cxf_text(lab_element(lab_d50)), UNSAID).colours[0].lab_d65
    # Adaptation stands for the true colour under the other light: 1.5 is what Bradford is off by on strong yellows.
    assert np.linalg.norm(np.subtract(by_spectrum, by_lab)) < 1.5


@pytest.mark.slow
def test_xyz_run_to_100_in_both_formats(colour):
    xyz = colour.Lab_to_XYZ(GREY_LAB_D50, colour.XYZ_to_xy([0.96422, 1.0, 0.82521])) * 100
    by_text = colours_of_cgats(cgats("SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", "1 " + " ".join(map(repr, xyz.tolist()))), UNSAID)
    axes = "".join(f"<cc:{axis}>{value!r}</cc:{axis}>" for axis, value in zip("XYZ", xyz.tolist(), strict=True))
    by_xml = colours_of_cxf(cxf_text(f"<cc:ColorCIEXYZ ColorSpecification='CS1'>{axes}</cc:ColorCIEXYZ>"), UNSAID)
    expected = lab_d65_by_library(colour, GREY_LAB_D50)
    assert by_text.colours[0].lab_d65 == pytest.approx(expected, abs=0.02)
    assert by_xml.colours[0].lab_d65 == pytest.approx(expected, abs=0.02)


# --- what a file says of light and observer


@pytest.mark.parametrize(
    ("keywords", "expected"),
    [
        ([("WEIGHTING_FUNCTION", "ILLUMINANT,D50"), ("WEIGHTING_FUNCTION", "OBSERVER,2 degree")], (Illuminant.D50, 2)),
        ([("MEASUREMENT_SOURCE", "Illumination=D65 ObserverAngle=10degree WhiteBase=Abs")], (Illuminant.D65, 10)),
        ([("MEASUREMENT_CONDITION", "M1")], (Illuminant.D50, 2)),
        ([("MEASUREMENT_SOURCE", "MeasurementCondition=M0 Filter=no")], (Illuminant.D50, 2)),
        ([("ILLUMINANT", "D65")], (Illuminant.D65, None)),
        ([("OBSERVER", "10")], (None, 10)),
        ([("DESCRIPTOR", "D50 and 10 degrees, told by nobody who counts")], (None, None)),
    ],
)
def test_light_and_observer_are_read_from_the_lines_that_tell_them(keywords, expected):
    told = conditions_told(keywords)
    assert (told.illuminant, told.observer_deg) == expected


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0", head=""), "--illuminant"),
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0", head='ILLUMINANT "D65"'), "--observer 2"),
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0", head='MEASUREMENT_SOURCE "D65 10 degree"'), "10 degree"),
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0", head='ILLUMINANT "A"'), "D50 or D65"),
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50,2 0 0"), "with a point"),
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 5000 0 0"), "which nothing"),
        (cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0", "1 51 0 0"), "differ"),
        (cgats("SAMPLE_ID RGB_R RGB_G RGB_B", "1 50 0 0"), "neither"),
        (cgats("SAMPLE_ID SPECTRAL_NM400 SPECTRAL_NM410 SPECTRAL_NM420 SPECTRAL_NM430", "1 .1 .1 .1 .1"), "400 to 700"),
    ],
)
def test_a_table_that_leaves_something_open_is_refused_in_a_sentence(text, said):
    with pytest.raises(BadInputError, match=said):
        colours_of_cgats(text, UNSAID)


def test_an_option_answers_what_the_file_leaves_open_and_never_contradicts_it():
    silent = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 1 2", head="")
    said = colours_of_cgats(silent, Conditions(Illuminant.D65, 2))
    assert said.colours[0].lab_d65 == (50.0, 1.0, 2.0)
    with pytest.raises(BadInputError, match="The file says D50"):
        colours_of_cgats(cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 1 2"), Conditions(Illuminant.D65, 2))


@pytest.mark.parametrize("column", ["SPECTRAL_NM{}", "SPECTRAL_NM_{}", "SPECTRAL_{}", "SPEC_{}", "nm{}", "R_{}"])
@pytest.mark.parametrize("scale", [1, 100], ids=["share", "percent"])
def test_bands_go_by_every_usual_name_and_scale(column, scale):
    bands = range(380, 731, 10)
    fields = " ".join(["SAMPLE_ID", *(column.format(band) for band in bands)])
    read = colours_of_cgats(cgats(fields, " ".join(["1", *(repr(0.5 * scale) for _ in bands)]), head=""), UNSAID)
    # Half of all light at every wavelength: Y = 0.5, so L* = 116 * cbrt(0.5) - 16 (CIE 15:2018, 8.2.1), and no hue.
    expected = (116 * 0.5 ** (1 / 3) - 16, 0, 0)
    assert read.colours[0].lab_d65 == pytest.approx(expected, abs=1e-6)


def test_a_table_under_another_identifier_of_the_form_is_read():
    text = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 1 2").replace("CGATS.17", "ISO28178", 1)
    assert len(colours_of_cgats(text, UNSAID).colours) == 1


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_the_encodings_of_instruments_programs_are_read(encoding):
    text = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 1 2", head='ILLUMINANT "D65"\nOBSERVER "2°"')
    read = measured_by_instrument(Given("a.txt", text.encode(encoding)), UNSAID)
    assert read.colours[0].lab_d65 == (50.0, 1.0, 2.0)


# --- round trips

numbers = st.floats(-120, 120, allow_nan=False)
triples = st.tuples(st.floats(0, 100), numbers, numbers)
words = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Cn", "Co")), min_size=1, max_size=20)
plain_names = words.map(lambda text: " ".join(text.replace('"', "'").split())).filter(bool)


@st.composite
def tables(draw):
    names = draw(st.lists(plain_names, min_size=1, max_size=4, unique=True))
    maybe = st.none() | triples
    colours = [
        MeasuredColour(name, draw(triples), draw(maybe), draw(maybe), draw(maybe), draw(maybe)) for name in names
    ]
    return MeasuredTable(draw(plain_names), tuple(colours))


@settings(deadline=None, max_examples=25)
@given(tables())
def test_colours_come_back_from_cgats_digit_for_digit(table):
    assert colours_of_cgats(cgats_of(table), UNSAID) == table


@settings(deadline=None, max_examples=25)
@given(tables())
def test_colours_come_back_from_cxf_digit_for_digit(table):
    assert colours_of_cxf(cxf_of(table, datetime(2026, 10, 5, tzinfo=UTC)), UNSAID) == table


def test_keywords_of_our_own_are_declared_and_standard_ones_are_not():
    table = MeasuredTable("zones", (MeasuredColour("crown", (50.0, 1.0, 2.0), (1.0, 1.0, 1.0), None, None, (7, 6, 8)),))
    text = cgats_of(table)
    declared = {line.split('"')[1] for line in text.splitlines() if line.startswith("KEYWORD")}
    fields = text.split("BEGIN_DATA_FORMAT\n")[1].split("\n")[0].split()
    assert (
        declared == {name for name in fields if name.startswith("TM_")} == {"TM_LEVEL", "TM_LEVEL_LOW", "TM_LEVEL_HIGH"}
    )


def test_a_level_scale_comes_back_from_cgats_and_serves():
    scale = default_scale()
    again = scale_of_cgats(cgats_of_scale(scale))
    assert (again.levels, again.lightness, again.lightness_sd) == (scale.levels, scale.lightness, scale.lightness_sd)
    assert kept_scale(scale_toml(again)).scale == again


# --- XML of strangers

LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9))
    + f']><cc:CxF xmlns:cc="{NAMESPACE}">&j;</cc:CxF>'
)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (LAUGHS.encode(), "entities|no whole XML"),
        (f'<!DOCTYPE x SYSTEM "file:///etc/passwd"><cc:CxF xmlns:cc="{NAMESPACE}"/>'.encode(), "document type"),
        (b"<a>" * 100_000 + b"</a>" * 100_000, "no whole XML|deeply"),
        (f"<cc:CxF xmlns:cc='{NAMESPACE}'>{'<a>' * 80}{'</a>' * 80}</cc:CxF>".encode(), "deeply"),
        (b"<svg/>", "root is not CxF"),
        (b"<cc:CxF", "no whole XML"),
        (f"<cc:CxF xmlns:cc='{NAMESPACE}'/>".encode(), "no colour"),
        (cxf_text(lab_element((50, 0, 0)), specification=""), "--illuminant"),
        (cxf_text(lab_element((50, 0, "x"))), "no number"),
        (cxf_text("<cc:ColorSRGB/>"), "neither"),
        (cxf_text(spectrum_element("0.1 0.2"), specification=""), "how wide"),
    ],
)
def test_xml_that_can_not_serve_is_refused_in_a_sentence_and_at_once(content, said):
    with pytest.raises(BadInputError, match=said):
        colours_of_cxf(content, UNSAID)


# --- as input where the program takes colours


def test_a_measured_print_serves_as_the_card_from_either_format():
    names = printed_layout().patch_names
    table = MeasuredTable("print", tuple(MeasuredColour(name, (50.0 + n, 1.0, 2.0)) for n, name in enumerate(names)))
    for name, content in (("a.txt", cgats_of(table).encode()), ("a.cxf", cxf_of(table, datetime.now(UTC)))):
        read = measured_by_instrument(Given(name, content), UNSAID)
        card = card_of_colours(read, printed_layout().sheet("A6"), "2026-10-05", "Demo inkjet", "cgats")
        assert np.allclose(card.lab_d65, [colour.lab_d65 for colour in table.colours])


def test_a_measured_ring_fits_a_scale_that_passes_through_its_swatches():
    table = MeasuredTable("ring", tuple(MeasuredColour(f"lock {n}", (14.0 + 6 * n, 3.0, 12.0)) for n in range(2, 11)))
    ring = ring_of_colours(table, {f"lock_{n}": float(n) for n in range(2, 11)}, "demo ring", "2026-10-05")
    held = dict(zip(ring.scale.levels, ring.scale.lightness, strict=True))
    # Lightness rises by 6 from level to level, so nothing has to give way and each row is its swatch.
    assert all(held[float(n)] == pytest.approx(14 + 6 * n, abs=0.01) for n in range(2, 11))
    with pytest.raises(BadInputError, match="no swatch"):
        ring_of_colours(table, {"lock 99": 5.0}, "demo ring", "2026-10-05")


def test_measured_shades_replace_what_the_shelf_held_and_strangers_are_refused():
    shelf = demo_shelf()
    first = shelf.shades[0]
    table = MeasuredTable("shades", (MeasuredColour(first.name.upper(), (40.0, 9.0, -8.0), (0.1, 0.1, 0.9)),))
    taken = shelf_of_colours(shelf, table).shades[0]
    assert taken.lab_d65_on_white == (40.0, 9.0, -8.0)
    assert taken.known_by is KnownBy.INSTRUMENT
    # Never surer than the instrument and its placing (half a unit), and as unsure as the file says where that is more.
    assert [taken.lab_covariance[n][n] for n in range(3)] == pytest.approx([0.25, 0.25, 0.81])
    with pytest.raises(BadInputError, match="No shade"):
        shelf_of_colours(shelf, MeasuredTable("x", (MeasuredColour("nobody", (40.0, 0.0, 0.0)),)))


def test_readings_and_a_shelf_are_sources_of_colours():
    readings = b"zone,lab_l,lab_a,lab_b\ncrown,50.5,6.0,21.25\n"
    assert colours_of(Given("r.csv", readings), UNSAID).colours[0].lab_d65 == (50.5, 6.0, 21.25)
    with pytest.raises(BadInputError, match="no table of colours"):
        colours_of(Given("r.doc", b"nothing"), UNSAID)


@pytest.mark.slow
def test_commands_take_and_write_an_instruments_file(tmp_path):
    def run(*words):
        return subprocess.run(
            [sys.executable, "-m", "estimator", *map(str, words)], capture_output=True, text=True, check=False
        )

    ring = MeasuredTable("ring", tuple(MeasuredColour(f"lock{n}", (14.0 + 6 * n, 3.0, 12.0)) for n in range(2, 11)))
    (tmp_path / "ring.txt").write_text(cgats_of(ring))
    levels = ",".join(f"lock{n}={n}" for n in range(2, 11))
    done = run("scale", "fit", "--table", tmp_path / "ring.txt", "--levels", levels, "--out", tmp_path / "own.toml")
    assert done.returncode == 0, done.stderr
    for words in (("own.toml", "own.txt"), ("own.txt", "again.toml"), ("ring.txt", "ring.cxf")):
        done = run("exchange", "colours", *(tmp_path / word for word in words))
        assert done.returncode == 0, done.stderr
    assert kept_scale((tmp_path / "again.toml").read_text()).scale.levels == tuple(map(float, range(1, 11)))
    assert measured_by_instrument(Given("ring.cxf", (tmp_path / "ring.cxf").read_bytes()), UNSAID) == ring
    names = printed_layout().patch_names
    print_ = MeasuredTable("print", tuple(MeasuredColour(name, (50.0 + n, 1.0, 2.0)) for n, name in enumerate(names)))
    (tmp_path / "print.cxf").write_bytes(cxf_of(print_, datetime.now(UTC)))
    out = tmp_path / "card.toml"
    done = run("card", "measure", "--table", tmp_path / "print.cxf", "--printer", "Demo", "--size", "A6", "--out", out)
    assert done.returncode == 0, done.stderr
    card = kept_card(out.read_text())
    assert card.source == "cxf"
    assert np.allclose(card.lab_d65, [colour.lab_d65 for colour in print_.colours])
    shelf = tmp_path / "shelf.csv"
    shelf.write_text(shelf_text(demo_shelf()))
    shade = demo_shelf().shades[0].name
    (tmp_path / "shade.txt").write_text(cgats_of(MeasuredTable("s", (MeasuredColour(shade, (40.0, 9.0, -8.0)),))))
    done = run("shelf", "measure", "--table", tmp_path / "shade.txt", "--shelf", shelf, "--out", tmp_path / "new.csv")
    assert done.returncode == 0, done.stderr
    assert load_shelf((tmp_path / "new.csv").read_text()).shade(shade).lab_d65_on_white == (40.0, 9.0, -8.0)
    silent = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0", head="")
    (tmp_path / "silent.txt").write_text(silent)
    refused = run("exchange", "colours", tmp_path / "silent.txt", tmp_path / "x.cxf")
    assert refused.returncode == 1
    assert "--illuminant" in refused.stderr
    assert not (tmp_path / "x.cxf").exists()
