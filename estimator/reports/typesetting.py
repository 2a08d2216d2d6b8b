"""Words and pictures set on paper: tagged PDF/A or PNG pages, with our own letters and nothing from outside."""

import datetime
import functools
import io
import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from estimator.errors import OutputError
from estimator.reports.lettering import FONT_FOLDER

TEMPLATES = files("estimator.reports").joinpath("templates")
PAGE_DPI = 200  # an A5 page is then 1165 pixels wide: as sharp as a phone shows, and as an office printer prints


@dataclass(frozen=True, eq=False)
class PrintedForm:
    """A report ready for paper.

    template : File name in `templates`; it finds the words as `sys.inputs.sheet`.
    words : They travel as data, never as markup. pictures : By the name that the words give them.
    day : On which the file is dated.
    """

    template: str
    words: Mapping[str, Any]
    pictures: Mapping[str, bytes]
    day: datetime.date

    def pdf(self) -> bytes:
        """The form as tagged PDF/A-2a. Raises OutputError where the temporary folder can't be written."""
        noon = datetime.datetime(self.day.year, self.day.month, self.day.day, 12, tzinfo=datetime.UTC)
        # Archival and tagged (ISO 19005-2), accessible (ISO 14289-1).
        made = self._compiled(format="pdf", pdf_standards=["a-2a", "ua-1"], timestamp=noon)
        if not isinstance(made, bytes):
            raise RuntimeError("The printed form came out in pieces.")
        return made

    def png_pages(self, dots_per_inch: int = PAGE_DPI) -> tuple[bytes, ...]:
        """Each page as PNG: opaque sRGB with its profile, its size on paper, and no word about whom it is of.

        Raises OutputError where the temporary folder can't be written.
        """
        made = self._compiled(format="png", ppi=dots_per_inch)
        pages = [made] if isinstance(made, bytes) else made
        return tuple(_plain_png(page, dots_per_inch) for page in pages)

    def _compiled(self, **how: Any) -> Any:
        try:
            with tempfile.TemporaryDirectory(prefix="tressmeter-") as folder:
                compiler = laid_out(self.template, self.words, self.pictures, Path(folder))
                made, warnings = compiler.compile_with_warnings(**how)
        except OSError as fault:
            place = tempfile.gettempdir()
            raise OutputError(
                f"The sheet could not be made: {place} can't be written. Free some space there."
            ) from fault
        if warnings:
            # An unknown font or a dropped glyph is only a warning to the typesetter; in a report it is a wrong page.
            raise RuntimeError(f"The printed form is faulty: {[warning.message for warning in warnings]}")
        return made


def _plain_png(page: bytes, dots_per_inch: int) -> bytes:
    """The picture anew, so that nothing is in the file but pixels, their size on paper and the sRGB profile."""
    from PIL import Image

    from estimator.reports.pictures import srgb_profile

    stream = io.BytesIO()
    pixels = Image.open(io.BytesIO(page)).convert("RGB")
    pixels.save(stream, "PNG", icc_profile=srgb_profile(), dpi=(dots_per_inch, dots_per_inch))
    return stream.getvalue()


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
