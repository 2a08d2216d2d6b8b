"""Words and pictures as one HTML file that needs nothing else: styles, letters and pictures inside, no script."""

import base64
import functools
from collections.abc import Mapping
from typing import Any

from estimator.reports.lettering import FONT_FOLDER, each_text, legible
from estimator.reports.typesetting import TEMPLATES


def page(name: str, words: Mapping[str, Any], pictures: Mapping[str, bytes], style: str = "") -> str:
    """The page of these words: `name` names a template and a style sheet in `templates`; pictures are JPEG.

    style : Another template's style sheet, where it serves as well.
    """
    shown = {key: _data_uri(jpeg, "image/jpeg") for key, jpeg in pictures.items()}
    return str(_template(name).render(sheet=each_text(words, legible), pictures=shown, style=_style(style or name)))


@functools.cache
def _template(name: str) -> Any:
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    # Only drawings pass unescaped: they are made by this package, and every text in them has been through xml_text.
    environment.filters["svg"] = Markup
    environment.filters["capitalize_first"] = lambda words: words[:1].upper() + words[1:]
    return environment.from_string(TEMPLATES.joinpath(f"{name}.html.j2").read_text(encoding="utf-8"))


@functools.cache
def _style(name: str) -> Any:
    from markupsafe import Markup

    faces = "".join(
        f'@font-face {{ font-family: "Tressmeter Sans"; font-weight: {weight}; '
        f"src: url({_data_uri(FONT_FOLDER.joinpath(file).read_bytes(), 'font/woff2')}) format('woff2'); }}\n"
        for weight, file in ((400, "TressmeterSans-Regular.woff2"), (600, "TressmeterSans-Semibold.woff2"))
    )
    return Markup(faces + TEMPLATES.joinpath(f"{name}.css").read_text(encoding="utf-8"))


def _data_uri(content: bytes, kind: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode('ascii')}"
