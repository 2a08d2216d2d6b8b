"""The exceptions of this package.

CalibrationError
├── PhotoRefusedError      the file can't be read as one whole photograph; carries the Finding to show
└── CorrectionError        no correction can be fitted from what was given; carries the Finding to show

A capture fault in a photograph that opens is no exception: it is a Finding in the CaptureVerdict.
"""

from calibration.findings import Finding


class CalibrationError(Exception):
    """Base of this package's exceptions. `finding` says what was wrong and what to do."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(f"{finding.message} {finding.remedy}")
        self.finding = finding


class PhotoRefusedError(CalibrationError):
    """The bytes are not one whole photograph that this program reads."""


class CorrectionError(CalibrationError):
    """Nothing in the photograph allows its colours to be corrected."""
