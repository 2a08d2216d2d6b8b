"""Every kind of printed paper is tagged, archival and whole in itself; every page passes axe in both themes."""

import io
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from estimator.reports.card_sheet import card_pdf
from tests.app.browser import CHROMIUM
from tests.privacy import papers

pytestmark = pytest.mark.slow

NAMES = ("M-7", "crown", "nape", "Saltmarsh Lane")
PRINTED = {**papers.PDFS, "printed card A5": lambda _: card_pdf("A5"), "printed card A6": lambda _: card_pdf("A6")}
PDFA = "{http://www.aiim.org/pdfa/ns/id/}"  # ISO 19005-2, 6.6.4: part and conformance stand in XMP under this name
PDFUA = "{http://www.aiim.org/pdfua/ns/id/}"  # ISO 14289-1, 5
DESCRIPTION = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}Description"


@pytest.fixture(scope="module")
def printed():
    return {name: make(NAMES) for name, make in PRINTED.items()}


def _told_in_xmp(reader: PdfReader) -> dict[str, str]:
    """What the metadata declares, as attributes or as elements."""
    tree = ElementTree.fromstring(reader.trailer["/Root"]["/Metadata"].get_data())
    told: dict[str, str] = {}
    for part in tree.iter(DESCRIPTION):
        told |= part.attrib
        told |= {child.tag: (child.text or "").strip() for child in part}
    return told


@pytest.mark.parametrize("name", PRINTED)
def test_a_paper_is_tagged_named_and_speaks_a_language(name, printed):
    root = PdfReader(io.BytesIO(printed[name])).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"] == True  # noqa: E712 - pypdf's own kind
    assert root["/StructTreeRoot"]["/K"]
    assert str(root["/Lang"]).lower().startswith("en")
    reader = PdfReader(io.BytesIO(printed[name]))
    assert reader.metadata.title
    # ISO 14289-1, 7.1: a reader shows the title, not the file's name.
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]


@pytest.mark.parametrize("name", PRINTED)
def test_a_paper_declares_the_archival_form(name, printed):
    told = _told_in_xmp(PdfReader(io.BytesIO(printed[name])))
    assert told[f"{PDFA}part"] == "2"
    assert told[f"{PDFA}conformance"].upper() == "A"


@pytest.mark.parametrize("name", PRINTED)
def test_every_font_of_a_paper_is_inside_it_and_can_be_read_out(name, printed):
    reader = PdfReader(io.BytesIO(printed[name]))
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"].get("/Font", {}).values()]
    assert fonts
    for font in fonts:
        inner = [each.get_object() for each in font.get("/DescendantFonts", [font])]
        assert all(each["/FontDescriptor"].keys() & {"/FontFile", "/FontFile2", "/FontFile3"} for each in inner)
        assert "/ToUnicode" in font


@pytest.mark.parametrize("name", PRINTED)
def test_every_picture_of_a_paper_has_words_or_is_marked_as_ornament(name, printed):
    reader = PdfReader(io.BytesIO(printed[name]))
    figures = [part for part in _parts(reader.trailer["/Root"]["/StructTreeRoot"]) if part.get("/S") == "/Figure"]
    assert [part for part in figures if not str(part.get("/Alt", "")).strip()] == []


def _parts(part):
    """Every element of the tree of tags."""
    part = part.get_object()
    if not hasattr(part, "get"):
        return
    yield part
    children = part.get("/K", [])
    for child in children if isinstance(children, list) else [children]:
        if hasattr(child.get_object(), "get"):
            yield from _parts(child)


@pytest.mark.page
@pytest.mark.skipif(CHROMIUM is None, reason="BROWSER TESTS SKIPPED: chromium is not installed")
def test_every_page_passes_axe_light_and_dark(tmp_path):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe checks pages for accessibility")
    playwright = pytest.importorskip("playwright.sync_api")
    found = []
    with playwright.sync_playwright() as started:
        chromium = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for name, make in papers.PAGES.items():
            path = tmp_path / f"{name}.html"
            path.write_bytes(make(NAMES))
            for scheme in ("light", "dark"):
                page = chromium.new_page(viewport={"width": 390, "height": 844}, color_scheme=scheme)
                page.goto(path.as_uri())
                faults = axe.Axe().run(page).response["violations"]
                found += [
                    (name, scheme, fault["id"], fault["nodes"][0]["html"][:120])
                    for fault in faults
                    if fault["impact"] in ("serious", "critical")
                ]
                page.close()
        chromium.close()
    assert found == []
