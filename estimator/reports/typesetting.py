"""Words and pictures set on paper: tagged PDF/A, with our own letters and nothing from outside."""

import datetime
import functools
import json
import tempfile
from collections.abc import Mapping
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from estimator.errors import OutputError
from estimator.reports.lettering import FONT_FOLDER

TEMPLATES = files("estimator.reports").joinpath("templates")


def typeset(template: str, words: Mapping[str, Any], pictures: Mapping[str, bytes], day: datetime.date) -> bytes:
    """The PDF/A-2a of these words. They travel as data, never as markup; pictures as files of a folder of their own.

    template : File name in `templates`; it finds the words as `sys.inputs.sheet`.

    Raises
    ------
    OutputError : The temporary folder can't be written.
    """
    try:
        with tempfile.TemporaryDirectory(prefix="tressmeter-") as folder:
            compiler = laid_out(template, words, pictures, Path(folder))
            noon = datetime.datetime(day.year, day.month, day.day, 12, tzinfo=datetime.UTC)
            # Archival and tagged (ISO 19005-2), accessible (ISO 14289-1).
            pdf, warnings = compiler.compile_with_warnings(format="pdf", pdf_standards=["a-2a", "ua-1"], timestamp=noon)
    except OSError as fault:
        place = tempfile.gettempdir()
        raise OutputError(f"The PDF could not be made: {place} can't be written. Free some space there.") from fault
    if warnings or not isinstance(pdf, bytes):
        # An unknown font or a dropped glyph is only a warning to the typesetter; in a report it would be a wrong page.
        raise RuntimeError(f"The printed form is faulty: {[warning.message for warning in warnings]}")
    return pdf


def laid_out(template: str, words: Mapping[str, Any], pictures: Mapping[str, bytes], folder: Path) -> Any:
    """A typesetter that has the template and the pictures in `folder`, and the words as data."""
    import typst

    for name, content in pictures.items():
        (folder / name).write_bytes(content)
    source = folder / template
    source.write_bytes(TEMPLATES.joinpath(template).read_bytes())
    data = {"sheet": json.dumps(words, ensure_ascii=False)}
    return typst.Compiler(str(source), root=str(folder), font_paths=shipped_fonts(), sys_inputs=data)


@functools.cache
def shipped_fonts() -> Any:
    """The letters that the printed form may use; none of the machine's own."""
    import typst

    with as_file(FONT_FOLDER) as folder:
        return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)])
