"""Pieces that several screens show: findings in words and shapes, drawings, figures. Text goes in escaped, always."""

import re
from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from calibration.errors import CalibrationError
from calibration.findings import Finding
from estimator.errors import EstimatorError
from estimator.pages.escaping import in_html

# Differ in outline, so that they are told apart without colour.
_SHAPES = {
    "stop": '<path d="M8 2h8l6 6v8l-6 6H8l-6-6V8z" fill="currentColor"/><path d="M7 12h10" stroke="#fff" stroke-width="3"/>',
    "test first": '<path d="M12 2l10 10-10 10L2 12z" fill="none" stroke="currentColor" stroke-width="2.5"/>',
    "caution": '<path d="M12 3l10 18H2z" fill="none" stroke="currentColor" stroke-width="2.5"/>',
    "clear": '<circle cx="12" cy="12" r="9" fill="none" stroke="currentColor" stroke-width="2.5"/>',
    "retake": '<path d="M4 4l16 16M20 4L4 20" stroke="currentColor" stroke-width="3.5"/>',
}
_SHAPES |= {"care": _SHAPES["caution"], "usable": _SHAPES["clear"], "note": _SHAPES["clear"], "not possible": _SHAPES["retake"]}
_SAID = {"care": "usable with care", "retake": "take the photograph again"}
_KINDS = {"stop": "stop", "test first": "test", "retake": "retake"}


def put(html: str) -> None:
    """Show our own HTML. One block without line breaks, so that nothing in it is read as Markdown."""
    st.markdown(re.sub(r"\s*\n\s*", " ", html), unsafe_allow_html=True)


def shape(word: str) -> str:
    """The shape that goes with a word of warning."""
    return f'<svg viewBox="0 0 24 24" aria-hidden="true">{_SHAPES[word]}</svg>'


def told(word: str, message: str, remedy: str = "", *, said: str = "") -> str:
    """One thing to know: a word with its own shape, what was seen, and what to do about it."""
    head = f'<p class="word">{shape(word)}<span>{in_html(_capital(said or _SAID.get(word, word)))}</span></p>'
    what = f'<p class="what">{in_html(message)}</p>' if message else ""
    how = f'<p class="how">{in_html(remedy)}</p>' if remedy else ""
    return f'<div class="told {_KINDS.get(word, "plain")}">{head}{what}{how}</div>'


def tell(word: str, message: str, remedy: str = "", *, said: str = "") -> None:
    """Show one thing to know."""
    put(f"<div>{told(word, message, remedy, said=said)}</div>")


@contextmanager
def one_sentence() -> Iterator[None]:
    """Whatever stops a step is told in its place, and what was entered stays: the only place where errors become words."""
    try:
        yield
    except CalibrationError as refusal:
        tell("retake", refusal.finding.message, refusal.finding.remedy, said="this file can't be used")
    except EstimatorError as fault:
        tell("not possible", str(fault))


def tell_findings(findings: tuple[Finding, ...]) -> None:
    """Show every finding with its remedy."""
    if findings:
        put(f"<div>{''.join(told(f.severity.value, f.message, f.remedy) for f in findings)}</div>")


def drawing(svg: str) -> str:
    """A drawing of estimator.reports in its own place; the style sheet re-inks its letters on a dark page."""
    return f'<div class="drawing">{svg}</div>'


def figure(text: str, what: str) -> str:
    """A value of estimator.reports.wording, large, with its interval in words under it."""
    value, bracket, rest = text.partition(" (")
    interval = f'<p class="amounts">({in_html(rest)}</p>' if bracket else ""
    return f'<p class="quiet">{in_html(what)}</p><p class="figure">{in_html(value)}</p>{interval}'


def listed(lines: tuple[str, ...]) -> str:
    """Sentences as a list."""
    return f"<ul>{''.join(f'<li>{in_html(line)}</li>' for line in lines)}</ul>" if lines else ""


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
