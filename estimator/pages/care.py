"""Step 4: the consultation, and what it forbids or wants tested. Stops come before everything else."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.errors import EstimatorError
from estimator.pages import draft, kept
from estimator.pages.escaping import in_html
from estimator.pages.frame import next_step
from estimator.pages.showing import put, tell, told
from estimator.pages.written_tests import ask_for_tests
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.care.questions import Question
    from estimator.care.verdicts import CareFinding, CareVerdict

NOT_KNOWN = "not known"
NONE = "none"  # of several things that may be named: an answer, where an empty list is none


def show() -> None:
    """The screen."""
    from estimator.care.questions import FIRST_QUESTIONS, QUESTIONS

    st.title("Care")
    refused = st.session_state.pop("refused_answer", "")
    if refused:
        tell("not possible", refused)
    verdict = kept.care(draft.current())
    show_verdict(verdict)
    ask_for_tests(verdict)
    facts = kept.facts(draft.current()).with_plan_figures(wants_oxidative_dye=True, wants_toner=True).by_name
    st.header("Asked at the chair")
    _ask(tuple(question for question in FIRST_QUESTIONS if question.is_needed(facts)))
    rest = tuple(question for question in QUESTIONS if not question.at_chair and question.is_needed(facts))
    if rest:
        with st.expander(f"{len(rest)} more questions"):
            _ask(rest)
    first_aid()
    next_step("plan", "plan")


def show_verdict(verdict: "CareVerdict", clear: str = "Nothing that was told speaks against toning.") -> None:
    """Stops first and large, then what must be tested, then cautions; what nobody answered yet is named together."""
    from estimator.care.verdicts import CareWord

    for finding in verdict.findings_of(CareWord.STOP):
        _tell(finding)
    answered = [f for f in verdict.findings if f.verdict is not CareWord.STOP and not f.missing]
    open_questions = [f for f in verdict.findings if f.missing]
    if verdict.verdict is CareWord.CLEAR:
        tell("clear", clear)
    for finding in answered:
        _tell(finding)
    if open_questions:
        _tell_open(open_questions)


def _tell(finding: "CareFinding") -> None:
    zone = f"{wording.zone_text(finding.zone)}: " if finding.zone else ""
    tell(finding.verdict.value, zone + finding.message, finding.remedy)


def _tell_open(findings: "list[CareFinding]") -> None:
    from estimator.care.questions import FACT_TABLE

    names = dict.fromkeys(name for finding in findings for name in finding.missing)
    about = [FACT_TABLE.specs[name].about for name in names if name in FACT_TABLE.specs]
    worst = findings[0].verdict.value
    shown = ", ".join(about[:6]) + (f" and {len(about) - 6} more" if len(about) > 6 else "")
    tell(worst, f"Not answered yet: {shown}.", "Ask before anything is mixed; what is not known counts as a risk.")


def _ask(questions: "tuple[Question, ...]") -> None:
    for question in questions:
        _ask_one(question)


def _ask_one(question: "Question") -> None:
    """One question with its widget; an empty answer means not known."""
    from estimator.care.expressions import Kind

    key = f"answer_{question.fact}"
    answer = draft.current().answers.get(question.fact)
    label = question.text  # of our own table
    kept_by: dict[str, Any] = {"key": key, "on_change": _answered, "args": (question.fact, key)}
    if question.kind is Kind.NUMBER:
        unit = f" ({question.unit})" if question.unit else ""
        st.number_input(
            label + unit,
            min_value=float(question.low),
            max_value=float(question.high),
            value=None if answer is None else float(answer),
            step=1.0,
            format="%g",
            placeholder=NOT_KNOWN,
            **kept_by,
        )
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


def _answered(fact: str, key: str) -> None:
    value: Any = st.session_state[key]
    answers = {name: given for name, given in draft.current().answers.items() if name != fact}
    if value is not None and value != []:
        answers[fact] = value
    try:
        kept.facts(draft.Draft(answers=answers))
    except EstimatorError as fault:
        st.session_state["refused_answer"] = str(fault)
        return
    draft.change(answers=answers)


def first_aid() -> None:
    """What to do when it burns, itches or takes the breath: never behind a stop."""
    from estimator.care.cautions import first_aid as cautions

    with st.expander("First aid"):
        rows = "".join(f"<li><b>{in_html(c.title)}</b> {in_html(c.text)}</li>" for c in cautions())
        put(f"<div><ul>{rows}</ul></div>")


def usual_cautions() -> str:
    """The cautions that stand beside each formula, and what stands above this tool."""
    from estimator.care.cautions import standing_order
    from estimator.care.cautions import usual_cautions as cautions

    rows = "".join(f"<li><b>{in_html(c.title)}.</b> {in_html(c.text)}</li>" for c in cautions())
    return f"<div>{told('caution', standing_order()).removesuffix('</div>')}<ul>{rows}</ul></div></div>"
