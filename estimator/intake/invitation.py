"""One invitation: for whom, for how long, how much it takes, and whether it is still open."""

from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from estimator.intake.codes import hash_of_code
from estimator.intake.limits import Limits


class State(StrEnum):
    """How an invitation stands."""

    OPEN = "open"
    SENT = "sent"
    REVOKED = "revoked"
    EXPIRED = "expired"


@dataclass(frozen=True)
class Invitation:
    """One invitation.

    id : Names it to the salon; it opens nothing. client : The client's code where it is linked, else "".
    tries : Uploads begun so far. ended : What ended it before its time; OPEN where nothing did.
    """

    id: str
    code_hash: str
    made_utc: datetime
    expires_utc: datetime
    limits: Limits
    client: str = ""
    tries: int = 0
    ended: State = State.OPEN

    def state_at(self, now: datetime) -> State:
        """How it stands at that time."""
        if self.ended is not State.OPEN:
            return self.ended
        return State.EXPIRED if now >= self.expires_utc else State.OPEN

    def with_try(self) -> "Invitation":
        """The same with one more upload begun."""
        return replace(self, tries=self.tries + 1)


def invitation_for(invitation_id: str, code: str, now: datetime, limits: Limits, client: str = "") -> Invitation:
    """A new invitation from now on."""
    return Invitation(invitation_id, hash_of_code(code), now, now + timedelta(hours=limits.hours), limits, client)


def invitation_json(invitation: Invitation) -> dict[str, Any]:
    """The invitation as JSON holds it; times in UTC."""
    times = {"made_utc": invitation.made_utc.isoformat(), "expires_utc": invitation.expires_utc.isoformat()}
    return asdict(invitation) | times | {"ended": invitation.ended.value}


def invitation_from_json(told: dict[str, Any]) -> Invitation:
    """The invitation in `told`. Raises KeyError, TypeError, ValueError or BadInputError where it is none."""
    times = {name: datetime.fromisoformat(told[name]) for name in ("made_utc", "expires_utc")}
    return Invitation(**{**told, **times, "limits": Limits(**told["limits"]), "ended": State(told["ended"])})
