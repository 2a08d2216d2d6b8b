"""Both forms of the report: whole, self-contained, honest about stops and doubts, and deaf to hostile text."""

import base64
import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from PIL import Image

from calibration.opening import open_photo
from estimator.care.cautions import first_aid, standing_order, usual_cautions
from estimator.errors import OutputError
from estimator.reports import before_after, typesetting, wording
from estimator.reports.before_after import render_html, render_pdf
from estimator.reports.lettering import MISSING, legible, printable, shipped_letters
from tests.estimator.report_samples import (
    CAUTION,
    COLOURS,
    GLARE,
    SCALE,
    STOP,
    care_of,
    corrected_of,
    painted,
    plan_for,
    renamed,
    side,
    visit,
)

pypdf = pytest.importorskip("pypdf", reason="pypdf reads the printed form; it is one of the tools for contributors")

# Text that would do something if any form took it for more than text.
HOSTILE = (
    "<script>alert(1)</script> <img src=x onerror=y> #evil *b* _i_ $x$ @a {{7*7}} {% raw %} `c` [l](http://h) \\ <!--"
)


class Page(HTMLParser):
    """What a browser would see: elements, their attributes, and the words outside style."""

    def __init__(self, html):
        super().__init__()
        self.elements, self.words, self.ids, self._style = [], [], [], False
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        self._style = tag == "style"

    def handle_endtag(self, tag):
        self._style = False

    def handle_data(self, data):
        if not self._style:
            self.words.append(data)

    @property
    def text(self):
        return squeezed(" ".join(self.words))


def squeezed(text):
    return re.sub(r"\s+", " ", text)


def pdf_of(document):
    return pypdf.PdfReader(io.BytesIO(render_pdf(document)))


def pdf_text(reader):
    return squeezed(" ".join(page.extract_text() for page in reader.pages))


@pytest.fixture(scope="module")
def document():
    return visit()


@pytest.fixture(scope="module")
def page(document):
    return Page(render_html(document))


@pytest.fixture(scope="module")
def printed(document):
    return pdf_of(document)


# --- both forms -------------------------------------------------------------------------------------------------


def both_texts(document):
    return Page(render_html(document)).text, pdf_text(pdf_of(document))


@pytest.mark.slow
def test_every_zone_stands_with_its_level_and_interval_in_both_forms(document, page, printed):
    for read in (*document.before.zones, *document.after.zones):
        for text in (page.text, pdf_text(printed)):
            assert wording.level_text(read.level) in text
            assert read.zone.name in text


@pytest.mark.slow
def test_the_grams_the_developer_and_the_cautions_stand_together(page, printed):
    for text in (page.text, pdf_text(printed)):
        assert {"23.5 g", "11.8 g", "70.5 g", "110 g"} <= set(re.findall(r"[\d.]+ g", text))
        assert "6 volume (1.8 %)" in text
        assert text.index(standing_order()) < text.index("23.5 g")
        assert all(text.index(caution.title) < text.index("First aid") for caution in usual_cautions())
    (bowl_sheet,) = (squeezed(page.extract_text()) for page in printed.pages if "23.5 g" in page.extract_text())
    assert all(caution.title in bowl_sheet for caution in usual_cautions())


@pytest.mark.slow
def test_all_cautions_and_first_aid_stand_in_every_report():
    for text in both_texts(visit(after=False)):
        for caution in (*usual_cautions(), *first_aid()):
            assert squeezed(caution.title) in text
            assert squeezed(caution.text) in text


@pytest.mark.slow
def test_a_stop_hides_the_formula_says_why_and_leaves_first_aid():
    stopped = visit(care=care_of(STOP, CAUTION))
    assert stopped.plan is not None
    for text in both_texts(stopped):
        assert "evening violet" not in text
        assert not re.search(r"\d g\b", text)
        assert text.index(STOP.message) < text.index("Photographs")
        assert STOP.remedy in text
        assert squeezed(first_aid()[0].text) in text
        assert standing_order() in text


@pytest.mark.slow
def test_a_plan_sheet_has_no_after_and_promises_no_change():
    for text in both_texts(visit(after=False)):
        assert "Plan sheet" in text
        assert "After:" not in text
        assert "no change shown" not in text


@pytest.mark.slow
def test_a_change_inside_its_own_interval_is_not_called_one(document, page, printed):
    for text in (page.text, pdf_text(printed)):
        crown, nape = (squeezed(wording.change_text(change)) for change in document.differences)
        assert crown in text
        assert nape.startswith("no change shown, ΔE")
        assert nape in text


@pytest.mark.slow
def test_demo_data_is_marked_on_every_page_and_real_data_is_not():
    reader = pdf_of(visit())
    assert all("DEMO" in page.extract_text() for page in reader.pages)
    for text in both_texts(visit(demo=False)):
        assert "DEMO" not in text


@pytest.mark.slow
def test_an_unverified_reading_is_called_so_in_both_forms(document):
    doubtful = replace(document, before=side("before", verified=False))
    for text in both_texts(doubtful):
        assert text.count("unverified") + text.count("Unverified") >= 7
    for panel in before_after.compose(doubtful).zones:
        assert all("unverified</text>" in drawing for drawing in (panel.swatches, panel.strip, panel.plane))
        assert "unverified, no card stands behind this reading" in " ".join(panel.notes)


@pytest.mark.slow
def test_findings_stand_with_their_remedies(page, printed):
    for text in (page.text, pdf_text(printed)):
        assert GLARE.message in text
        assert GLARE.remedy in text
        assert CAUTION.remedy in text


@pytest.mark.slow
def test_how_we_know_names_photo_card_error_pipeline_and_scale(page, printed):
    for text in (page.text, pdf_text(printed)):
        for words in ("0123 4567 89ab", "ΔE 2.4 on patches", "pipeline version", "default scale (an assumption)"):
            assert words in text
        assert "0123456789abcdef" not in text


def test_both_errors_of_the_colours_stand_beside_the_pictures(page):
    assert page.text.count("Error of the colours: ΔE 2.4") == 2


def test_a_photo_without_any_zone_read_still_makes_a_report(document):
    empty = replace(document.before, zones=(), outlined=())
    for text in both_texts(replace(document, before=empty, plan=None, after=None, differences=())):
        assert "No zone could be read" in text
        assert "Nothing was planned" in text


def test_a_report_with_a_change_but_no_after_photo_is_refused(document):
    with pytest.raises(ValueError, match="after photo"):
        replace(document, after=None)


# --- page form --------------------------------------------------------------------------------------------------


def test_the_page_needs_nothing_outside_itself(document, page):
    html = render_html(document)
    named = [pair for _, names in page.elements for pair in names.items()]
    addresses = [value for name, value in named if name in ("src", "href", "data")]
    assert addresses
    assert all(address.startswith("data:") for address in addresses)
    assert not {"script", "link", "iframe", "object", "form", "base"} & {tag for tag, _ in page.elements}
    assert not any(name.startswith("on") for _, names in page.elements for name in names)
    assert set(re.findall(r"https?://[^\s\"'<]+", html)) == {"http://www.w3.org/2000/svg"}
    assert all(found.startswith("data:") or found.startswith("#") for found in re.findall(r"url\(([^)]*)\)", html))
    (policy,) = (names["content"] for _, names in page.elements if names.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'")


def test_every_picture_has_words_and_every_name_stands_once(page):
    assert all(names.get("alt") for tag, names in page.elements if tag == "img")
    ids = [names["id"] for _, names in page.elements if "id" in names]
    assert len(ids) == len(set(ids))


def test_the_page_is_the_same_twice(document):
    assert render_html(document) == render_html(visit())


# --- printed form -----------------------------------------------------------------------------------------------


def test_the_printed_form_says_that_it_is_archival_tagged_and_accessible(printed):
    root = printed.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/StructTreeRoot"]["/K"]
    assert str(root["/Lang"]).lower() == "en-gb"
    assert root["/OutputIntents"][0].get_object()["/S"] == "/GTS_PDFA1"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    described = root["/Metadata"].get_object().get_data().decode()
    # ISO 19005-2: part 2, conformance A; ISO 14289-1: part 1.
    for mark in ("<pdfaid:part>2<", "<pdfaid:conformance>A<", "<pdfuaid:part>1<"):
        assert mark in described


def test_the_printed_form_has_a_title_and_an_outline(printed):
    assert printed.metadata.title == "Before and after: Marigold, 25 November 2026"

    def titles(entries):
        return [title for entry in entries for title in (titles(entry) if isinstance(entry, list) else [entry.title])]

    assert {"Plan", "Zones", "First aid", "How do you know?"} <= set(titles(printed.outline))


def test_every_letter_of_the_printed_form_is_embedded(printed):
    fonts = [font.get_object() for page in printed.pages for font in page["/Resources"].get("/Font", {}).values()]
    assert fonts
    for font in fonts:
        described = font["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3"} & set(described)
        assert "SourceSansPro" in described["/FontName"]


def test_the_printed_form_is_the_same_twice(document, printed):
    assert printed.metadata.creation_date.date() == document.heading.day
    assert render_pdf(document) == render_pdf(visit())


def test_an_unknown_font_is_a_fault_and_never_a_quiet_substitute(document, tmp_path, monkeypatch):
    source = (typesetting.TEMPLATES / "before_after.typ").read_text(encoding="utf-8")
    (tmp_path / "before_after.typ").write_text(source.replace('"Source Sans Pro"', '"Nowhere Sans"'), encoding="utf-8")
    monkeypatch.setattr(typesetting, "TEMPLATES", tmp_path)
    with pytest.raises(Exception, match=r"(?i)nowhere sans|could not be displayed"):
        render_pdf(document)


def test_no_room_for_typesetting_is_told_in_a_sentence(document, monkeypatch):
    def no_room(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(typesetting.tempfile, "TemporaryDirectory", no_room)
    with pytest.raises(OutputError, match="Free some space"):
        render_pdf(document)


# --- private things ---------------------------------------------------------------------------------------------

SEEDS = (b"SERIAL-48151623", b"MAKER-NOTE-SEED", b"OWNER-SEED", b"XMP-SEED", b"IMG_SEED_0042")


def photo_with_private_tags():
    """A JPEG that carries a position, a serial number, a maker's note, an owner and XMP, as phones write them."""
    image = Image.fromarray(painted(COLOURS["before"]))
    tags = Image.Exif()
    tags[0x013B], tags[0x010E] = "OWNER-SEED", "IMG_SEED_0042"
    tags.get_ifd(0x8769).update({0xA431: "SERIAL-48151623", 0x927C: b"MAKER-NOTE-SEED"})
    tags.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.3456), 3: "E", 4: (13.0, 24.0, 18.7654)})
    stream = io.BytesIO()
    image.save(stream, "JPEG", quality=95, exif=tags, xmp=b"<x:xmpmeta>XMP-SEED</x:xmpmeta>", comment=b"OWNER-SEED")
    return stream.getvalue()


def test_no_position_serial_number_or_file_name_leaves_with_a_report(document):
    photo_bytes = photo_with_private_tags()
    assert all(seed in photo_bytes for seed in SEEDS)
    corrected = corrected_of(open_photo(photo_bytes))
    told = replace(document, before=replace(document.before, corrected=corrected), after=None, differences=())
    html, pdf = render_html(told), render_pdf(told)
    jpegs = [base64.b64decode(found) for found in re.findall(r"data:image/jpeg;base64,([^\"]+)", html)]
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    streams = [thing.get_object() for thing in map(reader.get_object, range(1, len(reader.xref[0]) + 1))]
    inside = [stream.get_data() for stream in streams if isinstance(stream, pypdf.generic.StreamObject)]
    assert len(jpegs) == 2
    assert inside
    for content in (html.encode(), pdf, *jpegs, *inside):
        assert not any(seed in content for seed in SEEDS)
        assert b"Exif\x00" not in content
        assert b"xmpmeta>XMP" not in content


# --- hostile text -----------------------------------------------------------------------------------------------


def test_hostile_names_stay_text_in_the_page(document):
    plain, hostile = Page(render_html(renamed(document, "Marigold"))), Page(render_html(renamed(document, HOSTILE)))
    assert [tag for tag, _ in hostile.elements] == [tag for tag, _ in plain.elements]
    assert hostile.text.count(squeezed(HOSTILE)) >= 4  # title, client, salon, shade
    assert hostile.text.count(squeezed(wording.zone_text(HOSTILE))) >= 4  # table, bowl, aim, panel
    assert "49" not in hostile.text.split("Photographs")[0]


@pytest.mark.slow
def test_hostile_names_stay_text_in_print(document):
    reader = pdf_of(renamed(document, HOSTILE))
    assert HOSTILE in reader.metadata.title
    assert "#evil *b* _i_ $x$ @a {{7*7}}" in pdf_text(reader)


@pytest.mark.slow
def test_findings_and_plan_notes_may_hold_hostile_text_too(document):
    care = care_of(replace(CAUTION, message=HOSTILE, remedy=HOSTILE, source=HOSTILE))
    plan = replace(plan_for(document.before), notes=(HOSTILE,))
    tainted = replace(document, care=care, plan=plan)
    page = Page(render_html(tainted))
    assert not {"script"} & {tag for tag, _ in page.elements}
    assert page.text.count(squeezed(HOSTILE)) == 4
    assert "#evil *b*" in pdf_text(pdf_of(tainted))


@pytest.mark.slow
def test_marks_that_turn_the_reading_direction_are_left_out_and_their_letters_kept(document):
    turned = renamed(document, "abc\u202edef\u2067ghi")
    html = render_html(turned)
    assert not set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069") & set(html)
    assert "abcdefghi" in html
    assert "abcdefghi" in pdf_text(pdf_of(turned))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["雪", "عبير", "🦄", "a\x00b\x07", "\ufeff\u200b", "\ud800", "\ue000", "x" * 300])
def test_a_name_that_the_letters_do_not_hold_prints_as_squares_and_says_so(document, name):
    text = pdf_text(pdf_of(renamed(document, name)))
    needs_squares = MISSING in printable(name)
    assert ("black square" in text) == needs_squares
    assert legible(name).replace("\n", " ") in render_html(renamed(document, name))


def test_the_letters_counted_as_shipped_are_those_in_the_font():
    from PIL import ImageFont  # outside: FreeType, by way of Pillow

    font = ImageFont.truetype(str(typesetting.FONT_FOLDER / "SourceSansPro-Regular.ttf"), 40)
    absent = font.getmask("\ufffe")
    for letter in "Aéßłğ€Δ→−≥½":
        assert ord(letter) in shipped_letters()
        assert bytes(font.getmask(letter)) != bytes(absent)
    for letter in "雪ع🦄":
        assert ord(letter) not in shipped_letters()


def test_the_scale_must_have_ten_levels(document):
    with pytest.raises(ValueError, match="ten levels"):
        replace(document, scale_lightness=SCALE[:9])
