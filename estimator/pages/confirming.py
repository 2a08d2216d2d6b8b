"""The PIN once more, on a phone, before what can't be taken back or what opens the salon to others."""

import streamlit as st

from estimator.access.pins import MOST_DIGITS
from estimator.pages import person
from estimator.pages.showing import one_sentence


def asked(before: str) -> bool:
    """Whether the PIN has to be given first; then the field for it stands here. Never at the salon's own machine.

    before : What it is asked before; tells two fields on one screen apart.
    """
    if not person.has_to_confirm():
        return False
    with one_sentence(), st.form(f"pin_before_{before}", clear_on_submit=True):
        words = "Your PIN once more; it holds for five minutes"
        pin = st.text_input(words, type="password", max_chars=MOST_DIGITS, key=f"pin_typed_before_{before}")
        if st.form_submit_button("Confirm"):
            person.confirm(pin)
            st.rerun()
    return True
