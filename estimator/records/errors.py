"""What can go wrong with records. Every text says what happened, what is kept, and what to do.

EstimatorError (estimator.errors)
├── BadInputError
│   ├── NotKeptError           no such client or visit, or too many answer to the name
│   └── ConsentMissingError    the client has not agreed to what was asked for
└── OutputError
    └── RecordsError           the records can't be read or written as they stand
        ├── ChangedMeanwhileError  somebody else changed the same thing since it was read
        └── LockedError            the records are encrypted, and their passphrase is missing or wrong
"""

from estimator.errors import BadInputError, OutputError


class NotKeptError(BadInputError):
    """No such client or visit is in the records, or more than one answers to the name."""


class ConsentMissingError(BadInputError):
    """The client has not agreed to what was asked for."""


class RecordsError(OutputError):
    """The records can't be read or written as they stand; what stood before stands still."""


class ChangedMeanwhileError(RecordsError):
    """Somebody else changed the same thing since it was read; nothing was written."""

    def __init__(self) -> None:
        super().__init__("This was changed meanwhile by somebody else. Look at it as it stands now, then change it.")


class LockedError(RecordsError):
    """The records are encrypted, and their passphrase is missing or wrong; nothing was read or written."""
