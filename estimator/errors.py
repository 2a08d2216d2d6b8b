"""The exceptions of this package.

EstimatorError             the message says what came, what is allowed and what to do
├── BadInputError          a file or a value that a person gave can't be used
│   └── TooLittleHairError a zone holds too little hair to be read, or none
├── EmptyShelfError        a plan was asked for and no shade may serve
└── OutputError            a result could not be written; nothing half-written is left
"""


class EstimatorError(Exception):
    """Base of this package's exceptions; its text is one or two sentences for the person at the screen."""


class BadInputError(EstimatorError):
    """A file or a value that a person gave can't be used."""


class TooLittleHairError(BadInputError):
    """A zone holds too little hair to be read, or none. `code` is `too_little_hair` or `no_hair`."""

    def __init__(self, zone: str, code: str, message: str) -> None:
        super().__init__(message)
        self.zone = zone
        self.code = code


class EmptyShelfError(EstimatorError):
    """A plan was asked for and no shade on the shelf may serve."""


class OutputError(EstimatorError):
    """A result could not be written; nothing half-written is left."""
