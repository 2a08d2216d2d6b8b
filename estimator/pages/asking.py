"""Questions of the consultation as widgets: of the head, and of zones that differ from it. Empty means not known."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.errors import EstimatorError
from estimator.pages import draft, kept_plans, outlines
from estimator.pages.escaping import in_markdown
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.care.questions import Question

NOT_KNOWN = "not known"
NEVER, _NEVER_KEY = "never", "_never"
NONE = "none"  # of several things that may be named: an answer, where an empty list is none


def ask(questions: "tuple[Question, ...]") -> None:
    """Questions of the whole head."""
    for question in questions:
        _ask_one(question, draft.current().answers, "")


def zones_that_differ() -> None:
    """What one zone has otherwise than the head; nothing where no zone is outlined."""
    from estimator.care.questions import ZONE_QUESTIONS

    visit = draft.current()
    zones = [zone.name for zone in outlines.drawn_zones(visit.before)] if visit.before is not None else []
    if not zones:
        return
    told = f": {wording.list_text([wording.zone_text(zone) for zone in visit.own])}" if visit.own else ""
    with st.expander(f"Zones that differ{in_markdown(told)}"):
        st.markdown("A broken crown, relaxed ends, natural roots: answer here only what differs from the head.")
        zone = st.pills("Zone", zones, format_func=lambda name: in_markdown(wording.zone_text(name)), key="own_zone")
        if zone is None:
            return
        for question in ZONE_QUESTIONS:
            _ask_one(question, visit.own.get(zone, {}), zone)
        if visit.own.get(zone) and st.button("This zone is as the head", key=f"as_head_{zone}"):
            for question in ZONE_QUESTIONS:
                forget_widgets(question.fact, zone)
            draft.change(own={name: answers for name, answers in visit.own.items() if name != zone})
            st.rerun()


def forget_widgets(fact: str, zone: str = "") -> None:
    """A question's widgets show the answer from now on, and not what was pressed last."""
    for end in ("", _NEVER_KEY):
        st.session_state.pop(_key(fact, zone) + end, None)


def _key(fact: str, zone: str) -> str:
    return f"answer_{fact}_{zone}" if zone else f"answer_{fact}"


def _ask_one(question: "Question", answers: Mapping[str, Any], zone: str) -> None:
    """One question with its widget. zone : "" for the head."""
    from estimator.care.expressions import Kind

    key = _key(question.fact, zone)
    answer = answers.get(question.fact)
    label = question.text  # of our own table
    kept_by: dict[str, Any] = {"key": key, "on_change": _answered, "args": (question.fact, key, zone)}
    if question.kind is Kind.NUMBER:
        _ask_number(question, answer, kept_by)
    elif question.kind is Kind.YES_NO:
        st.pills(label, [False, True], format_func=lambda yes: "Yes" if yes else "No", default=answer, **kept_by)
    else:
        several = question.kind is Kind.SET
        words = dict(question.choices) | ({NONE: "none of these"} if several else {})
        st.pills(
            label,
            list(words),
            format_func=words.__getitem__,
            selection_mode="multi" if several else "single",
            default=answer,
            **kept_by,
        )


def _ask_number(question: "Question", answer: float | None, kept_by: dict[str, Any]) -> None:
    """A number, and where there is one, the key for "never" below it: the figure that stands for it is not shown."""
    fact, key, zone = kept_by["args"]
    never = answer is not None and answer == question.never
    unit = f" ({question.unit})" if question.unit else ""
    empty = "as the head" if zone else NOT_KNOWN
    st.number_input(
        question.text + unit,
        min_value=float(question.low),
        max_value=float(question.high),
        value=None if answer is None or never else float(answer),
        step=1.0,
        format="%g",
        placeholder=NEVER if never else empty,
        key=key,
        on_change=_numbered,
        args=(fact, key, zone),
    )
    if question.never is not None:
        said = {"key": key + _NEVER_KEY, "on_change": _said_never, "args": (question, key, zone)}
        st.pills(question.text, [NEVER], default=NEVER if never else None, label_visibility="collapsed", **said)


def _numbered(fact: str, key: str, zone: str) -> None:
    st.session_state.pop(key + _NEVER_KEY, None)
    _answered(fact, key, zone)


def _said_never(question: "Question", key: str, zone: str) -> None:
    never = st.session_state[key + _NEVER_KEY] is not None
    st.session_state.pop(key, None)
    _keep_answer(question.fact, question.never if never else None, zone)


def _answered(fact: str, key: str, zone: str) -> None:
    _keep_answer(fact, st.session_state[key], zone)


def _keep_answer(fact: str, value: Any, zone: str) -> None:
    visit = draft.current()
    before = visit.own.get(zone, {}) if zone else visit.answers
    answers = {name: given for name, given in before.items() if name != fact}
    if value is not None and value != []:
        answers[fact] = value
    if zone:
        others = {name: own for name, own in visit.own.items() if name != zone}
        keep_if_allowed({"own": {**others, zone: answers} if answers else others})
    else:
        keep_if_allowed({"answers": answers})


def keep_if_allowed(fields: dict[str, Any]) -> None:
    """The visit with these answers, unless they can't be; then the screen says why, and nothing is lost."""
    before = {name: getattr(draft.current(), name) for name in fields}
    changed = draft.change(**fields)
    try:
        _ = kept_plans.consultation(changed).zoned
    except EstimatorError as fault:
        st.session_state["refused_answer"] = str(fault)
        draft.change(**before)
