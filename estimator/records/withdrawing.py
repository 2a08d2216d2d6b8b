"""Taking a consent back, with everything that has to go at once."""

from dataclasses import dataclass
from datetime import date

from estimator.errors import BadInputError
from estimator.records.clients import client, client_row, standing_consents, withdraw_consent
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.erasing import erase_health
from estimator.records.sent_in import forget_health_sent_in, forget_sent_in
from estimator.records.store import Store


@dataclass(frozen=True)
class Withdrawn:
    """What taking back did. consents : How many were standing. health_rows : Erased with it.

    sent_in : Consultations, or answers on health, that the client had sent before coming and that went with it.
    """

    consents: int
    health_rows: int
    sent_in: int = 0


def check_day_taken_back(store: Store, code: str, scope: Scope, day: date) -> None:
    """Raises BadInputError where the client gave a consent that stands after this day. Raises NotKeptError."""
    with store.looking() as session:
        standing = standing_consents(session, client_row(session, code).id, scope)
    last = max((consent.given_on for consent in standing), default=day)
    if day < last:
        raise BadInputError(
            f"The consent to {scope_texts()[scope].what} was given on {last:%Y-%m-%d}, so not taken back before. "
            "Nothing was changed. Write the day on which the client took it back."
        )


def withdraw(store: Store, code: str, scope: Scope, day: date, how: str) -> Withdrawn:
    """The consent to one use taken back; health answers go at once with theirs, and the reports that told them.

    With the consent to a remote consultation goes what the client has sent for one.

    Raises
    ------
    NotKeptError : There is no such client.
    """
    consents = withdraw_consent(store, code, scope, day, how)
    who = client(store, code)
    if scope is Scope.HEALTH:
        return Withdrawn(consents, erase_health(store, code), forget_health_sent_in(store.place, (who.code, who.name)))
    sent_in = forget_sent_in(store.place, (who.code, who.name)) if scope is Scope.REMOTE else 0
    return Withdrawn(consents, 0, sent_in)
