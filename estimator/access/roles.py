"""Three roles, and what each may do. A right is asked for where the act happens, not where its button is drawn."""

from dataclasses import dataclass
from enum import StrEnum

from estimator.errors import EstimatorError


class Right(StrEnum):
    """What a person may do with the salon's records."""

    LOOK = "look at clients, visits and reports"
    WORK = "read photographs, plan, keep visits, record consents and results"
    HAND_OUT = "hand out, erase and back up records, and pair phones"


class Role(StrEnum):
    """What a person is in the salon."""

    OWNER = "owner"
    COLOURIST = "colourist"
    VIEWER = "viewer"


RIGHTS: dict[Role, frozenset[Right]] = {
    Role.OWNER: frozenset(Right),
    Role.COLOURIST: frozenset({Right.LOOK, Right.WORK}),
    Role.VIEWER: frozenset({Right.LOOK}),
}


class NotAllowedError(EstimatorError):
    """The person's role does not include this."""


@dataclass(frozen=True)
class Person:
    """One member of staff. id : Names the person in the audit trail. name : As the salon says it."""

    id: str
    name: str
    role: Role

    def may(self, right: Right) -> bool:
        """Whether this person's role includes `right`."""
        return right in RIGHTS[self.role]

    def must(self, right: Right) -> None:
        """Nothing, where the role includes `right`. Raises NotAllowedError."""
        if not self.may(right):
            raise NotAllowedError(
                f"A {self.role.value} may not {right.value}. Nothing was changed. Ask the owner of the salon."
            )


AT_THIS_MACHINE = Person("this-machine", "", Role.OWNER)
