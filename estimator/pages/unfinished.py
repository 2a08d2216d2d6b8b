"""The visit in hand is on the disk as well: a reload, a locked phone or a new start of the program finds it again.

Its name stands in the page's address. It is written whenever something was entered, in place of what it was before.
"""

from collections.abc import Callable

import streamlit as st

from estimator.access.roles import Right
from estimator.errors import BadInputError
from estimator.pages import draft, person
from estimator.pages.draft import Draft
from estimator.records.drafts import Drafts, ListedDraft
from estimator.records.place import salon_place, usual_folder

_IN_ADDRESS = "visit"
_NAME, _WRITTEN = "draft_name", "draft_written"
MOST_OFFERED = 5


def drafts() -> Drafts:
    """The drafts of this salon."""
    return Drafts(salon_place(usual_folder()))


def open_from_address() -> None:
    """Open the visit that the address names, unless one is in hand. Raises BadInputError where it can't be read."""
    named = st.query_params.get(_IN_ADDRESS, "")
    if not named or "draft" in st.session_state:
        return
    try:
        go_on(named)
    except BadInputError:
        del st.query_params[_IN_ADDRESS]
        raise


def go_on(name: str) -> None:
    """Take an unfinished visit in hand. Raises BadInputError where there is none, or it can't be read."""
    from estimator.pages.draft_json import from_json

    kept = drafts().load(name)
    if kept is None:
        raise BadInputError(
            "That unfinished visit is not here any more. Begin a new one, or open it where it was made."
        )
    found = from_json(kept.content, dict(kept.photos))
    st.session_state["draft"] = found
    st.session_state[_NAME], st.session_state[_WRITTEN] = name, found


def begin(visit: Draft) -> None:
    """Take a new visit in hand; the one that was in hand stays among the unfinished ones."""
    keep()
    st.session_state["draft"] = visit
    for name in (_NAME, _WRITTEN):
        st.session_state.pop(name, None)
    st.query_params.pop(_IN_ADDRESS, None)


def keep() -> None:
    """Write the visit in hand where it has changed since it was written, and name it in the address.

    Raises RecordsError where it can't be written; it then lives on while this page is open.
    """
    visit = draft.current()
    if _is_empty(visit):
        return
    name = st.session_state.setdefault(_NAME, Drafts.new_id())
    if st.query_params.get(_IN_ADDRESS) != name:
        st.query_params[_IN_ADDRESS] = name
    if st.session_state.get(_WRITTEN) is visit:
        return
    from estimator.pages.draft_json import as_json

    told = as_json(visit)
    drafts().keep(name, visit.client, told.content, told.photos)
    st.session_state[_WRITTEN] = visit


def name_in_hand() -> str:
    """The name of the visit in hand, by which it is told from every other; "" before anything was entered."""
    return str(st.session_state.get(_NAME, ""))


def _is_empty(visit: Draft) -> bool:
    return visit.before is None and not visit.client and not visit.answers


def offered() -> list[ListedDraft]:
    """Unfinished visits to go on with, the last changed first."""
    return drafts().listed()[:MOST_OFFERED]


def offer() -> None:
    """Show the unfinished visits, each to go on with or to take out."""
    found = offered()
    if not found:
        return
    st.subheader("Unfinished visits")
    for number, each in enumerate(found):
        st.text(f"{each.client or 'no client named'}, last changed {_moment_text(each)}")
        with st.container(horizontal=True, gap="small"):
            st.button("Go on", key=f"go_on_{number}", on_click=go_on, args=(each.id,))
            st.button("Erase it", key=f"take_out_{number}", on_click=_take_out, args=(each.id,))


def _moment_text(each: ListedDraft) -> str:
    from estimator.reports import wording

    here = each.changed_utc.astimezone()
    return f"{wording.date_text(here.date())}, {here:%H:%M}"


def _take_out(name: str) -> None:
    if person.may(Right.WORK):
        drafts().erase(name)


def forget(named: Callable[[str], bool]) -> None:
    """Let go of the visit in hand where its client is one of these, without writing it again."""
    if named(draft.current().client):
        for name in ("draft", _NAME, _WRITTEN):
            st.session_state.pop(name, None)
        st.query_params.pop(_IN_ADDRESS, None)
