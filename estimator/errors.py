"""The exceptions of this package.

EstimatorError             the message says what came, what is allowed and what to do
├── BadInputError          a file or a value that a person gave can't be used
├── EmptyShelfError        a plan was asked for and no shade may serve
└── OutputError            a result could not be written; nothing half-written is left
"""


class EstimatorError(Exception):
    """Base of this package's exceptions; its text is one or two sentences for the person at the screen."""


class BadInputError(EstimatorError):
    """A file or a value that a person gave can't be used."""


class EmptyShelfError(EstimatorError):
    """A plan was asked for and no shade on the shelf may serve."""


class OutputError(EstimatorError):
    """A result could not be written; nothing half-written is left."""
