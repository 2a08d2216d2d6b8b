"""The before/after report: one HTML file that needs nothing else, and a tagged PDF/A."""

import base64
import datetime
import functools
import json
import tempfile
from dataclasses import asdict, replace
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from estimator.errors import OutputError
from estimator.reports.composing import compose
from estimator.reports.document import BeforeAfter, Heading
from estimator.reports.lettering import FONT_FOLDER, MISSING, MISSING_NOTE, each_text, legible, printable
from estimator.reports.sheet import Sheet

__all__ = ["BeforeAfter", "Heading", "render_html", "render_pdf"]

TEMPLATES = files("estimator.reports").joinpath("templates")


# The two forms of one report say the same; its words and pictures go when the document goes.
_SHEETS: WeakKeyDictionary[BeforeAfter, Sheet] = WeakKeyDictionary()


def _sheet_of(document: BeforeAfter) -> Sheet:
    if document not in _SHEETS:
        _SHEETS[document] = compose(document)
    return _SHEETS[document]


def render_html(document: BeforeAfter) -> str:
    """The report as one HTML file: styles, letters and pictures inside, no script, no address outside it."""
    sheet = _sheet_of(document)
    pictures = {name: _data_uri(jpeg, "image/jpeg") for name, jpeg in sheet.pictures.items()}
    words = each_text(asdict(replace(sheet, pictures={})), legible)
    return str(_page_template().render(sheet=words, pictures=pictures, style=_style()))


def render_pdf(document: BeforeAfter) -> bytes:
    """The report as PDF/A-2a, tagged, on A4.

    Raises
    ------
    OutputError : The temporary folder can't be written, which typesetting needs for the pictures.
    """
    sheet = _sheet_of(document)
    try:
        return _typeset(printed_words(sheet, document.heading.day), sheet, document.heading.day)
    except OSError as fault:
        place = tempfile.gettempdir()
        raise OutputError(f"The PDF could not be made: {place} can't be written. Free some space there.") from fault


# --- page form -------------------------------------------------------------------------------------------------


@functools.cache
def _page_template() -> Any:
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    # Only drawings pass unescaped: they are made by this package, and every text in them has been through xml_text.
    environment.filters["svg"] = Markup
    environment.filters["capitalize_first"] = lambda words: words[:1].upper() + words[1:]
    return environment.from_string(TEMPLATES.joinpath("before_after.html.j2").read_text(encoding="utf-8"))


@functools.cache
def _style() -> Any:
    from markupsafe import Markup

    faces = "".join(
        f'@font-face {{ font-family: "Tressmeter Sans"; font-weight: {weight}; '
        f"src: url({_data_uri(FONT_FOLDER.joinpath(name).read_bytes(), 'font/woff2')}) format('woff2'); }}\n"
        for weight, name in ((400, "TressmeterSans-Regular.woff2"), (600, "TressmeterSans-Semibold.woff2"))
    )
    return Markup(faces + TEMPLATES.joinpath("before_after.css").read_text(encoding="utf-8"))


def _data_uri(content: bytes, kind: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode('ascii')}"


# --- printed form ----------------------------------------------------------------------------------------------


def printed_words(sheet: Sheet, day: datetime.date) -> dict[str, Any]:
    """Everything that the printed form says, made of letters that it can show."""
    words: dict[str, Any] = each_text(asdict(replace(sheet, pictures={})), printable)
    if MISSING in json.dumps(words, ensure_ascii=False):
        words["known"].append(["Letters", MISSING_NOTE])
    return {**words, "day": [day.year, day.month, day.day]}


@functools.cache
def _fonts() -> Any:
    import typst

    with as_file(FONT_FOLDER) as folder:
        return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)])


def _typeset(words: dict[str, Any], sheet: Sheet, day: datetime.date) -> bytes:
    """The PDF of these words. They travel as data, never as markup; pictures as files of a folder of their own."""
    with tempfile.TemporaryDirectory(prefix="tressmeter-") as folder:
        compiler = laid_out(words, sheet, Path(folder))
        noon = datetime.datetime(day.year, day.month, day.day, 12, tzinfo=datetime.UTC)
        # Archival and tagged (ISO 19005-2), accessible (ISO 14289-1).
        pdf, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=["a-2a", "ua-1"], timestamp=noon)
    if warnings or not isinstance(pdf, bytes):
        # An unknown font or a dropped glyph is only a warning to the typesetter; in a report it would be a wrong page.
        raise RuntimeError(f"The printed report is faulty: {[warning.message for warning in warnings]}")
    return pdf


def laid_out(words: dict[str, Any], sheet: Sheet, folder: Path) -> Any:
    """A typesetter that has the template and the pictures in `folder`, and the words as data."""
    import typst

    for name, jpeg in sheet.pictures.items():
        (folder / name).write_bytes(jpeg)
    source = folder / "before_after.typ"
    source.write_bytes(TEMPLATES.joinpath("before_after.typ").read_bytes())
    data = {"sheet": json.dumps(words, ensure_ascii=False)}
    return typst.Compiler(str(source), root=str(folder), font_paths=_fonts(), sys_inputs=data)
