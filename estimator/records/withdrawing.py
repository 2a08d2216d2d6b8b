"""Taking a consent back, with everything that has to go at once."""

from dataclasses import dataclass
from datetime import date

from estimator.records.clients import withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.erasing import erase_health
from estimator.records.store import Store


@dataclass(frozen=True)
class Withdrawn:
    """What taking back did. consents : How many were standing. health_rows : Erased with it."""

    consents: int
    health_rows: int


def withdraw(store: Store, code: str, scope: Scope, day: date, how: str) -> Withdrawn:
    """The consent to one use taken back; health answers go at once with theirs, and the reports that told them.

    Raises
    ------
    NotKeptError : There is no such client.
    """
    consents = withdraw_consent(store, code, scope, day, how)
    return Withdrawn(consents, erase_health(store, code) if scope is Scope.HEALTH else 0)
