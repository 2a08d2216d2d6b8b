"""Which sheet of a visit may leave the salon: what shows a client's hair to others needs the consent for that use."""

from collections.abc import Iterable
from datetime import date

from estimator.records.consent_entry import ConsentInFile
from estimator.records.consent_scopes import Scope, scope_texts
from estimator.records.errors import ConsentMissingError


def need_consent_in(consents: Iterable[ConsentInFile], scope: Scope, day: date) -> None:
    """Nothing, where one of these consents is for this use and was given by that day.

    Raises
    ------
    ConsentMissingError : None is.
    """
    if any(consent.scope is scope and consent.given_on <= day for consent in consents):
        return
    raise ConsentMissingError(
        f"There is no consent for this use: {scope_texts()[scope].what}. Ask the client, then write it into the visit "
        f'file: [[consent]] with scope = "{scope}", given_on and how.'
    )
