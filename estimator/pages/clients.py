"""The Clients area: today's and the last visits without typing, and finding by name or code."""

import streamlit as st


def show() -> None:
    """The screen."""
    st.title("Clients")
