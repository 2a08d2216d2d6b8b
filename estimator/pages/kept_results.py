"""What became of a result, kept by what it rests on: the rescue of a visit, and what the visit can teach."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import kept_plans, kept_readings, taught
from estimator.pages.draft import Draft

if TYPE_CHECKING:
    from estimator.visit import Lesson, Rescue

RESULTS_KEPT = 12


@st.cache_resource(max_entries=RESULTS_KEPT, show_spinner="Looking at the result")
def _rescue(key: str, _draft: Draft) -> "Rescue":
    from estimator import visit

    assert _draft.after is not None
    before, after = kept_readings.reading_before(_draft), kept_readings.reading(_draft.after)
    planned = kept_plans.plan(_draft).plan
    return visit.rescue(before, after, kept_plans.consultation(_draft), kept_plans.wishes_in_use(_draft), planned)


def rescue(visit_draft: Draft) -> "Rescue":
    """What became of each zone with a target, and first aid. Raises BadInputError."""
    assert visit_draft.after is not None
    return _rescue(repr((kept_plans.plan_key(visit_draft), kept_readings.reading_key(visit_draft.after))), visit_draft)


def lesson(visit_draft: Draft, minutes: Mapping[str, float]) -> "Lesson":
    """What this visit can teach, had each zone its bowl of the plan for so many minutes. Raises BadInputError."""
    from estimator import visit

    assert visit_draft.after is not None
    planned = kept_plans.plan(visit_draft).plan
    wishes = kept_plans.wishes(visit_draft)
    done = visit.done_as_planned(planned, wishes, minutes) if planned else {}
    client = visit.Client(taught.code(visit_draft), taught.day(visit_draft))
    pair = kept_readings.reading_before(visit_draft), kept_readings.reading(visit_draft.after)
    return visit.lesson_of(pair, client, done, wishes.shelf, taught.earlier(visit_draft))
