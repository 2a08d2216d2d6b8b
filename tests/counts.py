"""How often a drill is run: a few times on every run, more in the whole suite, its full count at night.

    pytest -m "not slow"     every day
    pytest                   the whole suite
    pytest -m night          the full counts, and nothing else
"""

from typing import Any

import pytest

NIGHT = (pytest.mark.slow, pytest.mark.night)


def drilled(everyday: int, whole: int, night: int) -> list[Any]:
    """The three counts of a drill, marked by when each is run."""
    return [everyday, pytest.param(whole, marks=pytest.mark.slow), pytest.param(night, marks=NIGHT)]
