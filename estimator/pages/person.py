"""Who uses the page: the owner where it answers on this machine alone, else whoever unlocked a paired phone."""

from collections.abc import Callable

from estimator.access.roles import AT_THIS_MACHINE, Person, Right

_gate: Callable[[], Person] | None = None


def ask_at(gate: Callable[[], Person]) -> None:
    """From now on `gate` says who a page belongs to; the door to the network sets it before the first page."""
    global _gate
    _gate = gate


def who() -> Person:
    """The person whose page this is. Raises NotAllowedError where a phone is locked or no longer paired."""
    return AT_THIS_MACHINE if _gate is None else _gate()


def may(right: Right) -> bool:
    """Whether the person whose page this is may do so; a screen leaves out what is not allowed."""
    return who().may(right)


def must(right: Right) -> None:
    """Nothing, where it is allowed. Raises NotAllowedError; asked where the act happens."""
    who().must(right)
