"""What the salon handed over, checked: its level scale, its printed card, its shelf."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages.draft import current

if TYPE_CHECKING:  # these bring numpy and the fits along; a first page should not wait for them
    from estimator.scale.level import LevelScale
    from estimator.toning.shades import Shelf

SCALES_KEPT = 24


def own_scale() -> "LevelScale | None":
    """The salon's own level scale, where one was handed over; None for the default scale."""
    return _scale(current().scale_toml) if current().scale_toml else None


@st.cache_resource(max_entries=SCALES_KEPT, show_spinner=False)
def _scale(text: str) -> "LevelScale":
    from estimator.scale.scale_file import kept_scale

    return kept_scale(text).scale


def checked_scale(content: bytes) -> str:
    """The text of a level scale, once it can be used. Raises BadInputError."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError("The scale is not text. Make it with `tressmeter scale fit`.") from problem
    _scale(text)
    return text


def checked_print(content: bytes) -> str:
    """The text of a measured card, once it can be used. Raises BadInputError or CardFileError."""
    from calibration.cards.measured_card import kept_card

    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError("The card's file is not text. Make it with `tressmeter card measure`.") from problem
    kept_card(text)
    return text


def shelf(shelf_csv: str) -> "Shelf":
    """The salon's own shelf, every row checked; the invented one where none was handed over."""
    from estimator.toning.shades import demo_shelf
    from estimator.toning.shelf_file import load_shelf

    return load_shelf(shelf_csv) if shelf_csv else demo_shelf()


def checked_shelf_csv(content: bytes) -> str:
    """The text of a shelf file, once every row of it can be used. Raises BadInputError, EmptyShelfError."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError("The shelf is not text (UTF-8). Save the table as CSV, then try again.") from problem
    shelf(text)
    return text
