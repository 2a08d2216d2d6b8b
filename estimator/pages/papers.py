"""Single sheets to take away: the bowls for the mixing place, a letter to the client, a picture for the portfolio."""

from collections.abc import Callable

import streamlit as st

from estimator.pages import kept_papers
from estimator.pages.draft import Draft
from estimator.pages.kept_papers import Paper
from estimator.pages.showing import one_sentence

_LABELS = {
    "bowls.pdf": "Download the bowl sheet (PDF)",
    "bowls.png": "Picture for a phone, page {page} of {pages} (PNG)",
    "letter.txt": "Download the letter as text",
    "letter.pdf": "Download the letter (PDF)",
    "portfolio": "Download the portfolio picture (PNG)",
}
MOSAIC = "a coarse mosaic"
HIDING = {MOSAIC: "blur", "plain grey": "cut"}


def show(visit: Draft) -> None:
    """The sheets of a visit, each made when it is asked for."""
    with st.expander("Single sheets: bowls, letter, portfolio picture"):
        st.markdown("For the mixing place, on A5. A stop hides every bowl.")
        bowl_sheet(visit)
        st.markdown("A letter in plain words, as a draft for you to change. It holds no formula.")
        _offer(visit, "letter", "Make the letter", lambda: kept_papers.letter(visit))
        st.markdown("Hair before and after, all else hidden. Only with the client's consent to be shown to others.")
        hide = st.pills("What becomes of all that is not hair", tuple(HIDING), default=MOSAIC, key="portfolio_hide")
        how = HIDING[hide or MOSAIC]
        what = f"portfolio {how}"
        _offer(visit, what, "Make the portfolio picture", lambda: (kept_papers.portfolio_picture(visit, how),))


def bowl_sheet(visit: Draft) -> None:
    """The bowl sheet, made when it is asked for."""
    _offer(visit, "bowls", "Make the bowl sheet", lambda: kept_papers.bowl_sheet(visit))


def _offer(visit: Draft, what: str, label: str, make: Callable[[], tuple[Paper, ...]]) -> None:
    """A button that makes the papers, then one for each to take it away."""
    with one_sentence():
        key = kept_papers.report_key(visit)
        made = kept_papers.papers_made(what, key)
        if not made and st.button(label, key=f"make_{what.partition(' ')[0]}"):
            with st.spinner("Setting the sheet"):
                kept_papers.make_papers(what, key, make)
            st.rerun()
        by_ending: dict[str, list[Paper]] = {}
        for paper in made:
            by_ending.setdefault(paper.name.rpartition(".")[2], []).append(paper)
        for ending, alike in by_ending.items():
            _download(what, ending, alike)


def _download(what: str, ending: str, alike: list[Paper]) -> None:
    """One way to take away each paper of one kind."""
    name = what.partition(" ")[0]
    label = _LABELS.get(f"{name}.{ending}") or _LABELS[name]
    for page, paper in enumerate(alike, 1):
        shown = label.format(page=page, pages=len(alike))
        key = f"take_{what}_{ending}" if page == 1 else f"take_{what}_{ending}_{page}"
        st.download_button(shown, paper.content, paper.name, paper.kind, key=key, on_click="ignore")
