"""Pieces that several screens show: findings in words and shapes, drawings, figures. Text goes in escaped, always."""

import re
from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from calibration.errors import CalibrationError
from calibration.findings import Finding, Severity
from estimator.care.verdicts import CareWord
from estimator.errors import EstimatorError
from estimator.pages.escaping import in_html
from estimator.records.errors import LockedError

# Differ in outline, so that they are told apart without colour; the words of care have shapes of their own.
_RING = '<circle cx="20" cy="20" r="16" fill="none" stroke="currentColor" stroke-width="4"/>'
_CROSS = '<path d="M7 7l26 26M33 7L7 33" stroke="currentColor" stroke-width="6"/>'
_TRIANGLE = '<path d="M20 4l17 31h-34z" fill="none" stroke="currentColor" stroke-width="4"/>'
_SHAPES = {"retake": _CROSS, "not possible": _CROSS, "care": _TRIANGLE, "usable": _RING, "note": _RING}
_SAID = {"care": "usable with care", "retake": "take the photograph again"}
_FINDING_SAID = {Severity.RETAKE: _SAID["retake"], Severity.CARE: "care", Severity.NOTE: "note"}
_LOCK_TOLD = "lock_told"
_KINDS = {"stop": "stop", "test first": "test", "retake": "retake"}


def put(html: str) -> None:
    """Show our own HTML. One block without line breaks, so that nothing in it is read as Markdown."""
    st.markdown(re.sub(r"\s*\n\s*", " ", html), unsafe_allow_html=True)


def shape(word: str) -> str:
    """The shape that goes with a word of warning."""
    if word in _SHAPES:
        return f'<svg viewBox="0 0 40 40" aria-hidden="true">{_SHAPES[word]}</svg>'
    from estimator.reports.shapes import care_shape

    return care_shape(CareWord(word))


def told(word: str, message: str, remedy: str = "", *, said: str = "") -> str:
    """One thing to know: a word with its own shape, what was seen, and what to do about it."""
    head = f'<p class="word">{shape(word)}<span>{in_html(capital(said or _SAID.get(word, word)))}</span></p>'
    what = f'<p class="what">{in_html(message)}</p>' if message else ""
    how = f'<p class="how">{in_html(remedy)}</p>' if remedy else ""
    return f'<div class="told {_KINDS.get(word, "plain")}">{head}{what}{how}</div>'


def tell(word: str, message: str, remedy: str = "", *, said: str = "") -> None:
    """Show one thing to know."""
    put(f"<div>{told(word, message, remedy, said=said)}</div>")


@contextmanager
def one_sentence() -> Iterator[None]:
    """The only place where errors become words: what stops a step is told there, and what was entered stays."""
    try:
        yield
    except CalibrationError as refusal:
        tell("retake", refusal.finding.message, refusal.finding.remedy, said="this file can't be used")
    except LockedError as fault:  # much of a screen may need the records: that they are locked is told once
        if not st.session_state.get(_LOCK_TOLD):
            st.session_state[_LOCK_TOLD] = True
            tell("not possible", str(fault))
    except EstimatorError as fault:
        tell("not possible", str(fault))


def begin_telling() -> None:
    """A screen begins to be drawn: nothing has been told on it yet."""
    st.session_state[_LOCK_TOLD] = False


def tell_findings(findings: tuple[Finding, ...]) -> None:
    """Show every finding with its remedy."""
    if findings:
        each = (told(f.severity.value, f.message, f.remedy, said=_FINDING_SAID[f.severity]) for f in findings)
        put(f"<div>{''.join(each)}</div>")


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


def capital(words: str) -> str:
    return words[:1].upper() + words[1:]
