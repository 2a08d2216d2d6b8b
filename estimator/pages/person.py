"""Who uses the page: the owner where it answers on this machine alone, else whoever unlocked a paired phone."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from estimator.access.roles import AT_THIS_MACHINE, NotAllowedError, Person, Right

if TYPE_CHECKING:
    from estimator.access.database import AccessDatabase
    from estimator.access.trail import Happened


@dataclass(frozen=True)
class Gate:
    """What the door knows of the page that asks.

    who : Whose it is. confirm : Takes the PIN once more. is_confirmed : Whether it was given a short while ago.
    """

    who: Callable[[], Person]
    confirm: Callable[[str], None]
    is_confirmed: Callable[[], bool]


@dataclass(frozen=True)
class NetworkDoor:
    """The door to the salon's network, where it is open.

    database : Its staff and phones. link : What a phone is to open.
    """

    database: "AccessDatabase"
    link: str
    gate: Gate


_door: NetworkDoor | None = None


def come_in_by(door: NetworkDoor | None) -> None:
    """From now on this door says who a page belongs to; it is set before the first page. None closes it."""
    global _door
    _door = door


def open_door() -> NetworkDoor | None:
    """The door to the network; None where the page answers on this machine alone."""
    return _door


def who() -> Person:
    """The person whose page this is. Raises NotAllowedError where a phone is locked or no longer paired."""
    return AT_THIS_MACHINE if _door is None else _door.gate.who()


def may(right: Right) -> bool:
    """Whether the person whose page this is may do so; a screen leaves out what is not allowed."""
    return who().may(right)


def must(right: Right) -> None:
    """Nothing, where it is allowed. Raises NotAllowedError; asked where the act happens."""
    who().must(right)


def on_a_phone() -> bool:
    """Whether this page was unlocked with a PIN, and so can be locked again."""
    return who() is not AT_THIS_MACHINE


def has_to_confirm() -> bool:
    """Whether this page's PIN has to be given once more before what can't be taken back; never at this machine."""
    return _door is not None and on_a_phone() and not _door.gate.is_confirmed()


def confirm(pin: str) -> None:
    """Take the PIN once more. Raises RefusedError, WaitError."""
    if _door is not None:
        _door.gate.confirm(pin)


def must_be_confirmed() -> None:
    """Nothing, where the PIN was given once more a short while ago. Raises NotAllowedError."""
    if has_to_confirm():
        raise NotAllowedError("The five minutes are over, and nothing was done. Give your PIN once more.")


def note_act(folder: Path, what: "Happened") -> None:
    """Write into the audit trail of the salon's folder what was handed out or erased."""
    from estimator.access.trail import note_at

    note_at(folder, what, "" if who() is AT_THIS_MACHINE else who().id)
