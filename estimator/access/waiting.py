"""How long a phone waits after wrong PINs: in time that has passed, not by a clock that can be set.

Each person on each phone has a wait of their own: a colleague's right PIN frees nobody else's, and who plays with one
phone locks nobody out on another. Five tries are free; then each wrong one doubles the wait, from half a minute to a
quarter of an hour: at most 12 tries in the first hour, about 100 a day after it. At that rate half of a million PINs
takes 14 years.
"""

from collections.abc import Hashable

FREE_TRIES = 5
FIRST_WAIT_SECONDS = 30.0
LONGEST_WAIT_SECONDS = 900.0


def wait_after(wrong: int) -> float:
    """Seconds to wait after so many wrong PINs in a row. [0 to 900]"""
    if wrong < FREE_TRIES:
        return 0.0
    return min(LONGEST_WAIT_SECONDS, FIRST_WAIT_SECONDS * 2.0 ** min(wrong - FREE_TRIES, 10))


class Elapsed:
    """What is left of each wait, in this run of the program.

    The database keeps the whole wait, and a program that is started anew waits for all of it again: neither a restart
    nor a clock that was set brings the next try any nearer.
    """

    def __init__(self) -> None:
        self._begun: dict[Hashable, tuple[float, float]] = {}

    def left(self, whose: Hashable, wait_seconds: float, now_monotonic: float) -> float:
        """Seconds still to wait; 0 once it is over."""
        whole, begun = self._begun.setdefault(whose, (wait_seconds, now_monotonic))
        if whole != wait_seconds:  # another program, or a later try, has set another wait
            self._begun[whose] = (wait_seconds, now_monotonic)
            begun = now_monotonic
        return max(0.0, wait_seconds - (now_monotonic - begun))

    def start(self, whose: Hashable, wait_seconds: float, now_monotonic: float) -> None:
        """The wait begins now."""
        self._begun[whose] = (wait_seconds, now_monotonic)
