"""Options for what an instrument's file leaves unsaid, and what they mean."""

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from estimator.exchange.measured import Conditions


class Light(StrEnum):
    """Lights that colours may be computed for."""

    D50 = "D50"
    D65 = "D65"


IlluminantOption = Annotated[
    Light | None, typer.Option("--illuminant", help="The light that the table's colours stand for, if it says none.")
]
ObserverOption = Annotated[
    int | None,
    typer.Option("--observer", min=2, max=10, help="2 or 10 degrees, if the table says neither."),
]


def conditions_given(illuminant: Light | None, observer: int | None) -> "Conditions":
    """What was said on the command line."""
    from estimator.exchange.measured import Conditions, Illuminant

    if observer not in (None, 2, 10):
        raise typer.BadParameter("The observer is 2 or 10 degrees.")
    return Conditions(Illuminant(illuminant.value) if illuminant else None, observer)
