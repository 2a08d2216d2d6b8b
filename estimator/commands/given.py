"""Options for what the colours may lean on beside a card in the photograph, and how they are loaded."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from calibration.references import References

CardOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--card", help="A printed card that was measured, as `tressmeter card measure` wrote it; may be repeated."
    ),
]
StationOption = Annotated[
    Path | None,
    typer.Option("--station", help="A station's profile, as `tressmeter station learn` wrote it."),
]
SheetOption = Annotated[
    Path | None,
    typer.Option("--white-sheet", help="A second photograph, of a white sheet in the same place: the light is evened."),
]
GreyOption = Annotated[
    str | None,
    typer.Option("--grey-card", help="x,y,radius in pixels of a grey card; its reflectance may follow (0.18 if not)."),
]
NeutralOption = Annotated[
    str | None,
    typer.Option("--neutral", help="x,y,radius in pixels of a neutral thing (white towel) where there is no card."),
]


def references_given(
    card: list[Path] | None = None,
    station: Path | None = None,
    white_sheet: Path | None = None,
    grey_card: str | None = None,
    neutral: str | None = None,
) -> "References":
    """What was named on the command line, loaded. Raises BadInputError or CalibrationError."""
    from calibration.correcting.white_sheet import open_white_sheet
    from calibration.references import References
    from estimator.files import grey_card_point, load_card, load_photo, load_station, neutral_point

    prints = tuple(kept for path in card or [] if (kept := load_card(path)) is not None)
    sheet = open_white_sheet(load_photo(white_sheet)) if white_sheet is not None else None
    return References(prints, load_station(station), sheet, grey_card_point(grey_card), neutral_point(neutral))
