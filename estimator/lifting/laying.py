"""Where along its length a zone gets its mix, and what a line of demarcation forces on that."""

from dataclasses import dataclass

from estimator.errors import BadInputError
from estimator.lifting.demarcation import Line

WHOLE, UP_TO_LINE, FROM_LINE = "whole", "up to the line", "from the line"
LAID_WORDS = (WHOLE, UP_TO_LINE, FROM_LINE)
# Lines at which hair of another history begins; a step of unknown kind ("line") may be one too.
_ENDS_AT = ("regrowth", "relaxed boundary", "line", "old colour band", "overlap band")


@dataclass(frozen=True)
class Laid:
    """A mix from one share of the length to another: 0 is the root, 1 the end."""

    from_share: float = 0.0
    to_share: float = 1.0

    def __post_init__(self) -> None:
        if not 0 <= self.from_share < self.to_share <= 1:
            raise BadInputError(
                f"A mix from {self.from_share:g} to {self.to_share:g} of the length was given; 0 to 1, root first."
            )

    @property
    def whole(self) -> bool:
        return (self.from_share, self.to_share) == (0.0, 1.0)


WHOLE_LENGTH = Laid()


def laid_by_word(word: str, lines: tuple[Line, ...]) -> Laid:
    """Where a mix lies that is laid whole, up to the first line, or from it on; kept clear of the line's interval.

    Raises BadInputError for another word, and where there is no line to keep to: seeing none is no leave to overlap.
    """
    if word not in LAID_WORDS:
        raise BadInputError(f"The mix is laid {word!r}; write one of: {', '.join(LAID_WORDS)}.")
    if word == WHOLE:
        return WHOLE_LENGTH
    first = next((line for line in lines if line.kind in _ENDS_AT), None)
    if first is None:
        raise BadInputError(
            f"The mix is to be laid {word}, and no line was found. Outline new growth and old hair as two zones."
        )
    low, _, high = first.place.share
    return Laid(0.0, max(low, 0.01)) if word == UP_TO_LINE else Laid(min(high, 0.99), 1.0)
