"""A consent as a visit file writes it down."""

import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from estimator.records.consent_scopes import Scope
from estimator.records.visit_record import LONGEST_TEXT, ConsentRecord


class ConsentInFile(BaseModel):
    """What the client agreed to; without a text of the salon's own the usual one was shown."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    scope: Scope
    given_on: datetime.date
    how: Annotated[str, Field(min_length=1, max_length=80)]
    text: Annotated[str, Field(max_length=LONGEST_TEXT)] = ""

    @property
    def record(self) -> ConsentRecord:
        """The same as the records take it."""
        return ConsentRecord(self.scope, self.given_on, self.how, self.text)
