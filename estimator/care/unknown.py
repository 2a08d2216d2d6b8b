"""The answer that nobody has given yet."""

from enum import Enum
from typing import Final


class Unknown(Enum):
    """One value, `UNKNOWN`: not asked, not said, or not known. It is neither yes nor no."""

    UNKNOWN = "not known"

    def __str__(self) -> str:
        return self.value

    def __bool__(self) -> bool:
        raise TypeError("UNKNOWN is neither true nor false; compare with `is UNKNOWN`.")


UNKNOWN: Final = Unknown.UNKNOWN
