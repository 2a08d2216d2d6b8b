"""A client's consultation: each answer as it stands, and beside it what it was before."""

from typing import TYPE_CHECKING

from estimator.pages.escaping import in_html
from estimator.pages.showing import capital, put, tell
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.care.answer_history import AnswerOverTime
    from estimator.records.remembering import ClientMemory


def show(memory: "ClientMemory") -> None:
    """The answers, in the order of asking."""
    from estimator.care.answer_history import over_time

    if Scope.HEALTH not in memory.agreed:
        what = scope_texts()[Scope.HEALTH].what
        tell("note", f"This client does not agree that {what} are kept.", "Ask under Consents.", said="no answers kept")
        return
    answers = over_time(tuple((each.day, each.facts) for each in memory.consultations))
    if not answers:
        tell("note", "No answers are kept of this client yet.", "They are kept with a visit.", said="no answers yet")
        return
    put(f'<div><ul class="answers">{"".join(map(_answer, answers))}</ul></div>')


def _answer(answer: "AnswerOverTime") -> str:
    from estimator.reports.answer_wording import about_text, value_text

    now = in_html(value_text(answer.fact, answer.now))
    since = in_html(wording.date_text(answer.since))
    before = "".join(
        f"<br><span class='quiet'>Before, on {in_html(wording.date_text(day))}: "
        f"{in_html(value_text(answer.fact, value))}</span>"
        for day, value in answer.earlier
    )
    return f"<li>{in_html(capital(about_text(answer.fact)))}: <b>{now}</b>, since {since}{before}</li>"
