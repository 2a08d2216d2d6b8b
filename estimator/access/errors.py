"""What can go wrong at the door. Texts tell a stranger nothing: not who is known here, nor what was nearly right.

EstimatorError (estimator.errors)
├── BadInputError
│   └── NotKnownError      no such person, phone or session, or more than one answers to the name
└── RefusedError           a code, a token or a PIN that opens nothing
    └── WaitError          too many wrong PINs from this phone; says how long it has to wait
"""

from estimator.errors import BadInputError, EstimatorError


class NotKnownError(BadInputError):
    """No such person, phone or session, or more than one answers to the name."""


class RefusedError(EstimatorError):
    """A code, a token or a PIN that opens nothing."""


class WaitError(RefusedError):
    """Too many wrong PINs came from this phone. seconds : Left to wait; > 0."""

    def __init__(self, seconds: float) -> None:
        minutes = max(1, round(seconds / 60))
        told = f"{minutes} minute{'s' if minutes > 1 else ''}" if seconds >= 60 else f"{max(1, round(seconds))} seconds"
        super().__init__(
            f"Too many wrong PINs from this phone. Wait {told}, or work at the salon's own machine meanwhile."
        )
        self.seconds = seconds
