"""What is written on the command line of a lift, read: PHOTO@MINUTE, MINUTE=LEVEL, and a strand in words."""

from collections.abc import Sequence
from pathlib import Path

from estimator.errors import BadInputError
from estimator.lifting.clock_events import StrandSaid
from estimator.lifting.strand import Strand, StrandPoint, point_by_eye


def shots_of(texts: Sequence[str]) -> tuple[tuple[Path, float], ...]:
    """Photographs and their minutes. Raises BadInputError naming the first that can't be read."""
    return tuple(_shot(text) for text in texts)


def _shot(text: str) -> tuple[Path, float]:
    # The last @ parts them: a folder may have one in its name.
    path, found, minute = text.rpartition("@")
    if not found or not path:
        raise BadInputError(f"{text!r} has no minute. Write PHOTO@MINUTE, such as strand5.jpg@5.")
    return Path(path), _number(minute, text, "PHOTO@MINUTE, such as strand5.jpg@5")


def looks_of(texts: Sequence[str]) -> tuple[StrandPoint, ...]:
    """Levels said by eye. Raises BadInputError naming the first that can't be read."""
    looks = []
    for text in texts:
        minute, found, level = text.partition("=")
        if not found:
            raise BadInputError(f"{text!r} is no look. Write MINUTE=LEVEL, such as 10=5.5.")
        form = "MINUTE=LEVEL, such as 10=5.5"
        looks.append(point_by_eye(_number(minute, text, form), _number(level, text, form)))
    return tuple(looks)


def _number(text: str, whole: str, form: str) -> float:
    try:
        return float(text)
    except ValueError as problem:
        raise BadInputError(f"{whole!r} has no number where {text!r} stands. Write {form}.") from problem


def strand_of(diameter: str, volume: float, start_level: float | None, dyed: bool) -> Strand:
    """The strand before anything is seen of it. Raises BadInputError."""
    return StrandSaid(diameter, volume, start_level, dyed=dyed).strand
