"""On the screen of targets: the shelf that a plan chooses from, shade by shade, by a file, or off a photograph."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import draft, kept_scales
from estimator.pages.draft import Draft
from estimator.pages.showing import one_sentence
from estimator.pages.swatches import known_text, measured_swatch
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.toning.shades import Shade, Shelf

_NEW = "A new shade"
_TURN = "shelf_turn"
_COLUMNS = (
    "A CSV with the columns name, family, depth_level, kind. With lab_l, lab_a, lab_b (what one full part does "
    "to white hair) a shade is known well; without them its description serves, and the plan is less sure."
)


def show(visit: Draft) -> None:
    """Which shades may be used: the salon's own, once the first of them was added or a table handed over."""
    shelf = kept_scales.shelf(visit.shelf_csv)
    mixed = "invented shades, for trying out" if shelf.demo else "your own"
    with st.expander(f"Shelf: {wording.count_text(len(shelf.shades), 'shade')}, {mixed}"), one_sentence():
        own = None if shelf.demo else shelf
        if own is None:
            st.markdown("The invented shades give way to yours with the first one that you add.")
        _shade(own)
        if own is not None:
            measured_swatch(visit, own, take)
        if visit.shelf_before is not None:
            st.button("Undo the last change of the shelf", key="shelf_undo", on_click=_undo)
        _file(visit)


def take(shelf_csv: str) -> None:
    """Use this shelf from now on; "" for the demo shelf. The one before it can be had back."""
    _set(shelf_csv, draft.current().shelf_csv)
    st.rerun()


def _undo() -> None:
    before = draft.current().shelf_before
    if before is not None:  # two taps that reach one drawing undo once
        _set(before, None)


def _set(shelf_csv: str, before: str | None) -> None:
    draft.change(shelf_csv=shelf_csv, shelf_before=before)
    st.session_state["shelf_files"] = st.session_state.get("shelf_files", 0) + 1
    st.session_state[_TURN] = st.session_state.get(_TURN, 0) + 1  # every field begins anew


# --- one shade ---


def _shade(own: "Shelf | None") -> None:
    """One shade in words, to be added, changed or taken out."""
    turn = st.session_state.setdefault(_TURN, 0)
    names = [shade.name for shade in own.shades] if own else []
    chosen = st.selectbox("Shade", [_NEW, *names], key=f"shade_{turn}") if own else _NEW
    was = own.shade(chosen) if own and chosen in names else None
    _form(own, was, f"{turn}_{names.index(chosen) if was else 'new'}")
    if own and was:
        st.text(known_text(was))
        if st.button("Take this shade out", key="shade_out"):
            from estimator import visit
            from estimator.toning.shelf_file import shelf_text

            take(shelf_text(visit.without_shade(own, was.name)))


def _form(own: "Shelf | None", was: "Shade | None", mark: str) -> None:
    from estimator import visit
    from estimator.toning.shades import Family, ShadeKind
    from estimator.toning.shelf_file import shelf_text

    families, kinds = list(Family), list(ShadeKind)
    with st.form(f"shade_form_{mark}"):
        name = st.text_input("Name, in words of your own", was.name if was else "", 80, key=f"shade_name_{mark}")
        family = st.selectbox(
            "Tone of the shade", families, families.index(was.family) if was else None, key=f"shade_family_{mark}"
        )
        level = st.number_input(
            "Level on the label", 1.0, 10.0, was.depth_level if was else None, 0.5, format="%g",
            key=f"shade_level_{mark}",
        )  # fmt: skip
        kind = st.pills("Kind", kinds, default=was.kind if was else None, key=f"shade_kind_{mark}")
        grams = st.number_input(
            "Contents (g), if known", 1.0, 5000.0, was.tube_grams if was else None, 1.0, format="%g",
            key=f"shade_grams_{mark}",
        )  # fmt: skip
        price = st.number_input(
            "Price, if known", 0.0, 10_000.0, was.price_per_tube if was else None, 0.5, format="%.2f",
            key=f"shade_price_{mark}",
        )  # fmt: skip
        sent = st.form_submit_button("Change this shade" if was else "Add this shade", key=f"shade_send_{mark}")
    if sent:
        if family is None or level is None or kind is None:
            raise BadInputError("The shade needs a tone, a level and a kind. Choose them, and add it again.")
        told = visit.ShadeInWords(name, family, level, kind, grams, price)
        take(shelf_text(visit.with_shade(own, told, was.name if was else "")))


# --- the whole shelf as a file ---


def _file(visit: Draft) -> None:
    if visit.shelf_csv:
        st.download_button(
            "Download the shelf (CSV)",
            visit.shelf_csv.encode("utf-8"),
            "shelf.csv",
            "text/csv",
            key="shelf_download",
            on_click="ignore",
        )
    st.markdown(_COLUMNS)
    turn = st.session_state.setdefault("shelf_files", 0)
    file = st.file_uploader("A shelf (CSV)", type=["csv"], key=f"shelf_file_{turn}")
    if file and st.button("Use this shelf", key="use_shelf"):
        take(kept_scales.checked_shelf_csv(file.getvalue()))
    if visit.shelf_csv and st.button("Back to the demo shelf", key="demo_shelf"):
        take("")
