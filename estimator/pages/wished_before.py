"""What the client hoped for before coming: told beside each zone without a target, and one once it is confirmed."""

import streamlit as st

from estimator.pages import draft
from estimator.pages.draft import Draft, Wish
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.showing import put
from estimator.reports import wording
from estimator.toning.targets import Target


def show(zone: str, visit: Draft) -> None:
    """A button that confirms the wish for this zone; half a wish is told alone: the client says the rest."""
    level, tone = visit.wished_level, visit.wished_tone
    if zone in visit.wishes or (level is None and not tone):
        return
    if level is None or not tone:
        half = tone if level is None else f"level {wording.plain_text(level)}"
        put(f"<div><p>The client wished {in_html(half)}. Ask for the rest.</p></div>")
        return
    told = in_markdown(wording.target_text(Target(zone, level, tone)))
    st.button(f"The client wished {told}: confirm", key=f"confirm_wished_{zone}", on_click=_confirm, args=(zone,))


def _confirm(zone: str) -> None:
    visit = draft.current()
    assert visit.wished_level is not None  # the button is shown for a whole wish alone
    # Set, not forgotten: a field that stays on the screen would go on showing what it showed.
    st.session_state[f"level_{zone}"] = visit.wished_level
    st.session_state[f"tone_{zone}"] = visit.wished_tone
    st.session_state[f"way_{zone}"] = "words"
    draft.change(wishes={**visit.wishes, zone: Wish(visit.wished_level, visit.wished_tone)})
