"""What the salon handed over, checked: its level scale, its printed card, its station, its shelf."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages.draft import current

if TYPE_CHECKING:  # these bring numpy and the fits along; a first page should not wait for them
    from estimator.scale.level import LevelScale
    from estimator.toning.shades import Shelf

SCALES_KEPT = 24
MOST_STATIONS = 24
MOST_STATION_BYTES = 1_000_000


def own_scale() -> "LevelScale | None":
    """The salon's own level scale, where one was handed over; None for the default scale."""
    return _scale(current().scale_toml) if current().scale_toml else None


@st.cache_resource(max_entries=SCALES_KEPT, show_spinner=False)
def _scale(text: str) -> "LevelScale":
    from estimator.scale.scale_file import kept_scale

    return kept_scale(text).scale


def _text(content: bytes, what: str, command: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise BadInputError(f"{what} is not text. Make it with `tressmeter {command}`.") from problem


def checked_scale(content: bytes) -> str:
    """The text of a level scale, once it can be used. Raises BadInputError."""
    text = _text(content, "The scale", "scale fit")
    _scale(text)
    return text


def checked_print(content: bytes) -> str:
    """The text of a measured card, once it can be used. Raises BadInputError or CardFileError."""
    from calibration.cards.measured_card import kept_card

    text = _text(content, "The card's file", "card measure")
    kept_card(text)
    return text


def checked_station(content: bytes) -> str:
    """The text of a station's profile, once it can be used. Raises BadInputError or StationFileError."""
    from calibration.correcting.station_file import kept_station

    text = _text(content, "The station's file", "station learn")
    kept_station(text)
    return text


def station_name(station_toml: str) -> str:
    """What the station is called."""
    from calibration.correcting.station_file import kept_station

    return kept_station(station_toml).name


def stations_here() -> dict[str, str]:
    """Profiles in the folder `stations` of the salon's folder, by name; what can't be used is left out."""
    from calibration.errors import CalibrationError
    from estimator.records.place import usual_folder

    found: dict[str, str] = {}
    for path in sorted((usual_folder() / "stations").glob("*.toml"))[:MOST_STATIONS]:
        try:
            text = checked_station(path.read_bytes()[:MOST_STATION_BYTES])
        except (OSError, BadInputError, CalibrationError):
            continue
        found[station_name(text)] = text
    return found


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
