"""On the care screen: what was done about a finding that asks for a test or a doctor, written down and signed."""

from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import draft
from estimator.pages.escaping import in_markdown
from estimator.pages.showing import one_sentence
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.care.verdicts import CareFinding, CareVerdict

LONGEST_WORDS = 400


def ask_for_tests(verdict: "CareVerdict") -> None:
    """A form for each finding that a written test or a doctor's word may answer, and what was written already."""
    for finding in verdict.findings:
        if finding.answer is not None:
            _written(finding)
        elif finding.answerable:
            _form(finding)


def _form(finding: "CareFinding") -> None:
    zone = f"{wording.zone_text(finding.zone)}: " if finding.zone else ""
    with st.expander(f"Write down what was done: {in_markdown(zone + finding.message)}"), one_sentence():
        with st.form(f"test_{_mark(finding)}"):
            who = st.text_input("Who tested, or which doctor", max_chars=80, key=f"who_{_mark(finding)}")
            day = draft.current().day or date.today()
            when = st.date_input("When", value=day, max_value=day, key=f"when_{_mark(finding)}")
            what = st.text_area("What was done, what came of it", max_chars=LONGEST_WORDS, key=f"what_{_mark(finding)}")
            place = st.text_input("Where on the head (for a test)", max_chars=80, key=f"place_{_mark(finding)}")
            volume = st.number_input(
                "Strength tested (volume)", 0.0, 100.0, None, 1.0, format="%g", key=f"volume_{_mark(finding)}"
            )
            sent = st.form_submit_button("Write it down", key=f"send_{_mark(finding)}")
        if sent:
            _keep(finding, who, when, what, (place, volume))


def _mark(finding: "CareFinding") -> str:
    """One name for a finding: of the head by its code, of a zone with the zone behind it."""
    return f"{finding.code}@{finding.zone}" if finding.zone else finding.code


def _keep(finding: "CareFinding", who: str, when: object, what: str, test: tuple[str, float | None]) -> None:
    from estimator.care.answers import Answer, fault_of_date
    from estimator.errors import BadInputError

    if not isinstance(when, date):
        raise BadInputError("The day is missing. Give the day on which it was done.")
    told = {"who": who, "when": when, "what": what, "strength_volume": test[1], "place": test[0]}
    answer = Answer(code=finding.code, zone=finding.zone, **told)  # type: ignore[arg-type]  # checked by the form
    if fault := fault_of_date(answer, draft.current().day or date.today()):
        raise BadInputError(fault)
    draft.change(tests={**draft.current().tests, _mark(finding): answer})
    st.rerun()


def _written(finding: "CareFinding") -> None:
    assert finding.answer is not None
    st.text(f"Written down: {wording.answer_text(finding.answer)}")
    if st.button("Take this back", key=f"take_back_{_mark(finding)}"):
        kept = {mark: answer for mark, answer in draft.current().tests.items() if mark != _mark(finding)}
        draft.change(tests=kept)
        st.rerun()
