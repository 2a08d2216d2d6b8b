"""Single sheets to take away: the bowls for the mixing place, a letter to the client, a picture for the portfolio."""

from collections.abc import Callable

import streamlit as st

from estimator.pages import kept_papers
from estimator.pages.draft import Draft
from estimator.pages.kept_papers import Paper
from estimator.pages.showing import one_sentence

_LABELS = {
    "bowls": "Download the bowl sheet (PDF)",
    "letter.txt": "Download the letter as text",
    "letter.pdf": "Download the letter (PDF)",
    "portfolio": "Download the portfolio picture (PNG)",
}


def show(visit: Draft) -> None:
    """The sheets of a visit, each made when it is asked for."""
    with st.expander("Single sheets: bowls, letter, portfolio picture"):
        st.markdown("For the mixing place, on A5. A stop hides every bowl.")
        bowl_sheet(visit)
        st.markdown("A letter in plain words, as a draft for you to change. It holds no formula.")
        _offer(visit, "letter", "Make the letter", lambda: kept_papers.letter(visit))
        st.markdown("Hair before and after, all else hidden. Only with the client's consent to be shown to others.")
        _offer(visit, "portfolio", "Make the portfolio picture", lambda: (kept_papers.portfolio_picture(visit),))


def bowl_sheet(visit: Draft) -> None:
    """The bowl sheet, made when it is asked for."""
    _offer(visit, "bowls", "Make the bowl sheet", lambda: (kept_papers.bowl_sheet(visit),))


def _offer(visit: Draft, what: str, label: str, make: Callable[[], tuple[Paper, ...]]) -> None:
    """A button that makes the papers, then one for each to take it away."""
    with one_sentence():
        key = kept_papers.report_key(visit)
        made = kept_papers.papers_made(what, key)
        if not made and st.button(label, key=f"make_{what}"):
            with st.spinner("Setting the sheet"):
                kept_papers.make_papers(what, key, make)
            st.rerun()
        for paper in made:
            _download(what, paper)


def _download(what: str, paper: Paper) -> None:
    ending = paper.name.rpartition(".")[2]
    label = _LABELS.get(f"{what}.{ending}") or _LABELS[what]
    st.download_button(label, paper.content, paper.name, paper.kind, key=f"take_{what}_{ending}", on_click="ignore")
