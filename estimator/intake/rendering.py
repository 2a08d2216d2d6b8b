"""The client's pages as answers to a browser: templates without script, and headers that let nothing out or in."""

import functools
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from starlette.responses import HTMLResponse, RedirectResponse, Response

from estimator.intake.codes import form_token

# No script, no frame, nothing from elsewhere; the code in the address goes to nobody as a referrer.
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self' data:; style-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "X-Robots-Tag": "noindex, nofollow",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def page(template: str, words: Mapping[str, Any], status: int = 200) -> Response:
    """One page. Every text in it is escaped; only our own drawings pass as they are."""
    shown = {"problem": "", "step": 0, **words}
    return HTMLResponse(_templates().get_template(f"{template}.html.j2").render(**shown), status, HEADERS)


def closed(base: str) -> Response:
    """The one answer to every code that opens nothing: wrong, expired, revoked or used."""
    return page("closed", {"title": "This link is not open", "base": base}, 404)


def too_often(base: str) -> Response:
    """The answer to whoever asks too often."""
    problem = "Too many requests came from here. Wait a minute, then go on; what you gave is kept."
    answer = page("frame", {"title": "Please wait", "base": base, "problem": problem}, 429)
    answer.headers["Retry-After"] = "60"
    return answer


def failed(base: str, problem: str, status: int) -> Response:
    """The answer where something went wrong that no page of its own tells."""
    return page("frame", {"title": "Photos for your salon", "base": base, "problem": problem}, status)


def go_to(address: str) -> Response:
    """The way to the next page, so that a reload sends nothing twice."""
    return RedirectResponse(address, 303, HEADERS)


def style() -> Response:
    """The style sheet."""
    return Response(_text("style.css"), 200, HEADERS, "text/css; charset=utf-8")


@functools.cache
def _text(name: str) -> str:
    return files("estimator.intake").joinpath("templates", name).read_text(encoding="utf-8")


@functools.cache
def _templates() -> Any:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, loader=FunctionLoader(_text)
    )
    environment.globals["token"] = form_token
    return environment
