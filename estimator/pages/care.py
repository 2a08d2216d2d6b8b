"""Step 4: the consultation, and what it forbids or wants tested. Stops come before everything else."""

from typing import TYPE_CHECKING, cast

import streamlit as st

from estimator.pages import draft, kept_plans, told_before
from estimator.pages.asking import ask, zones_that_differ
from estimator.pages.dates import OF_THE_SALON, dates_and_papers
from estimator.pages.escaping import in_html
from estimator.pages.frame import next_step
from estimator.pages.showing import put, tell, told
from estimator.pages.written_tests import ask_for_tests
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.care.facts import PlanFigures
    from estimator.care.verdicts import CareFinding, CareVerdict


def show() -> None:
    """The screen."""
    from estimator.care.questions import FIRST_QUESTIONS, QUESTIONS

    st.title("Care")
    refused = st.session_state.pop("refused_answer", "")
    if refused:
        tell("not possible", refused)
    verdict = kept_plans.care(draft.current())
    show_verdict(verdict)
    ask_for_tests(verdict)
    wants = {"wants_oxidative_dye": True, "wants_toner": True, "wants_lightener": draft.current().lightens}
    facts = kept_plans.facts(draft.current()).with_plan_figures(**cast("PlanFigures", wants)).by_name
    dated = {kept_plans.DATED[name] for name in draft.current().dates if name in kept_plans.DATED}
    elsewhere = {*dated, OF_THE_SALON}
    asked = tuple(q for q in QUESTIONS if q.is_needed(facts) and q.fact not in elsewhere)
    told_before.show(draft.current())
    st.header("Asked at the chair")
    ask(tuple(question for question in asked if question in FIRST_QUESTIONS))
    rest = tuple(question for question in asked if not question.at_chair)
    if rest:
        with st.expander(f"{len(rest)} more questions"):
            ask(rest)
    zones_that_differ()
    dates_and_papers()
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


def first_aid() -> None:
    """What to do when it burns, itches or takes the breath: never behind a stop."""
    from estimator.care.cautions import first_aid as cautions

    with st.expander("First aid"):
        rows = "".join(f"<li><b>{in_html(c.title)}.</b> {in_html(c.text)}</li>" for c in cautions())
        put(f"<div><ul>{rows}</ul></div>")


def usual_cautions() -> str:
    """The cautions that stand beside each formula, and what stands above this tool."""
    from estimator.care.cautions import standing_order
    from estimator.care.cautions import usual_cautions as cautions

    rows = "".join(f"<li><b>{in_html(c.title)}.</b> {in_html(c.text)}</li>" for c in cautions())
    return f"<div>{told('caution', standing_order()).removesuffix('</div>')}<ul>{rows}</ul></div></div>"
