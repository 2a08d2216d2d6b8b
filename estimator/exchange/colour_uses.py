"""What measured colours serve as: the values of a printed card, the swatches of a ring, the shades of a shelf."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from calibration.cards.measured_card import MeasuredCard, table_spread
from calibration.cards.printed_layout import Sheet, printed_layout
from calibration.cards.spectro_table import INSTRUMENT_LAB_SD
from estimator.errors import BadInputError
from estimator.exchange.measured import MeasuredColour, MeasuredTable
from estimator.scale.swatch_ring import RingFit, fit_scale, swatch_of_colour
from estimator.toning.described import as_covariance
from estimator.toning.shades import KnownBy, Shelf
from estimator.toning.shelf_file import BARE_HAIR


def card_of_colours(table: MeasuredTable, sheet: Sheet, day: str, printer: str, source: str) -> MeasuredCard:
    """The measured card that these colours describe, by names of patches or by numbers from 1 in the layout's order.

    source : "cgats" or "cxf".

    Raises
    ------
    BadInputError : Patches are missing.
    """
    held = {_plain(colour.name): colour for colour in table.colours}
    names = printed_layout().patch_names
    numbers = [str(number) for number in range(1, len(names) + 1)]
    for keys in ([_plain(name) for name in names], numbers):
        if set(keys) <= set(held):
            lab = np.array([held[key].lab_d65 for key in keys])
            lab_sd, shared = table_spread(INSTRUMENT_LAB_SD)
            return MeasuredCard(sheet, lab, lab_sd, shared, day, printer, source)
    missing = [name for name in names if _plain(name) not in held]
    raise BadInputError(
        f"The file lacks {len(missing)} of the {len(names)} patches: {', '.join(missing[:5])}. Measure every patch; "
        "name them, or number them from 1, row by row."
    )


def ring_of_colours(table: MeasuredTable, levels: Mapping[str, float], name: str, day: str) -> RingFit:
    """The level scale fitted to swatches that an instrument measured; `levels` states the level of each.

    Raises
    ------
    BadInputError : A swatch has no level, a level no swatch, or there are too few.
    """
    held = {_plain(colour.name): colour for colour in table.colours}
    stated = {_plain(swatch): level for swatch, level in levels.items()}
    unknown, without = sorted(set(stated) - set(held)), sorted(set(held) - set(stated))
    if unknown:
        raise BadInputError(f"There is no swatch {unknown[0][:60]!r}. The swatches are: {', '.join(held)[:300]}.")
    if without:
        raise BadInputError(f"No level is stated for {', '.join(without)[:300]}. State one for each swatch.")
    swatches = (
        swatch_of_colour(colour.name, stated[key], np.array(colour.lab_d65), _covariance(colour), day)
        for key, colour in held.items()
    )
    return fit_scale(tuple(swatches), name)


def shelf_of_colours(shelf: Shelf, table: MeasuredTable) -> Shelf:
    """The shelf with the colour of each shade that an instrument measured on white hair; `white` is the bare hair.

    Raises
    ------
    BadInputError : A colour is called like no shade.
    """
    held = {_plain(colour.name): colour for colour in table.colours}
    known = {_plain(shade.name) for shade in shelf.shades} | {BARE_HAIR}
    strangers = [colour.name for key, colour in held.items() if key not in known]
    if strangers:
        raise BadInputError(
            f"No shade on the shelf is called {', '.join(strangers[:5])[:300]}. Add a row with its family, level and "
            "kind, or name the sample as the shade."
        )
    shades = tuple(
        replace(
            shade,
            lab_d65_on_white=colour.lab_d65,
            lab_covariance=as_covariance(_covariance(colour)),
            known_by=KnownBy.INSTRUMENT,
        )
        if (colour := held.get(_plain(shade.name))) is not None
        else shade
        for shade in shelf.shades
    )
    white = held.get(BARE_HAIR)
    return replace(shelf, shades=shades, white_lab_d65=white.lab_d65 if white else shelf.white_lab_d65)


def _covariance(colour: MeasuredColour) -> "np.ndarray[tuple[int, ...], np.dtype[np.float64]]":
    """Of the measurement: as the file tells it, and never surer than the instrument and its placing."""
    told = np.array(colour.lab_sd) if colour.lab_sd is not None else np.zeros(3)
    return np.diag(np.maximum(told, INSTRUMENT_LAB_SD) ** 2)


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").split()).casefold()
