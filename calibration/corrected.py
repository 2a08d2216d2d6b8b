"""A photograph whose colours are known: the correction, its error, and the verdict."""

from dataclasses import dataclass
from typing import Protocol

from calibration.cards.sighting import CardSighting, PatchColours
from calibration.findings import CaptureVerdict
from calibration.photo import BoolArray, Box, FloatArray, Photo, Step, XyzD65
from calibration.transfer import clipped

PIPELINE_VERSION = 1
UNCORRECTED = "none"  # method of a photograph in which nothing is known: its colours stay as the file means them


class Correction(Protocol):
    """What turns a part of a photograph into CIE colour, and how far it can be trusted."""

    @property
    def method(self) -> str:
        """Name of the model, in words."""

    @property
    def held_out_de2000(self) -> float:
        """Mean ΔE2000 over patches that the fit did not see; for a weak reference, our assumption."""

    def xyz_d65(self, photo: Photo, box: Box, row_step: int) -> XyzD65:
        """Corrected colour of a part of `photo`. float32, shape (rows, columns, 3)."""

    def lab_covariance(self) -> FloatArray:
        """Covariance in CIELAB D65 of the correction's own error, near the colours of hair. shape (3, 3)."""


@dataclass(frozen=True, eq=False)
class CorrectedPhoto:
    """A photograph, the correction chosen for it, and what it is good for.

    Pixels are corrected when asked for: a reading needs the zones, not the frame.

    sighting, patches : The card and its colours; None where no card was found.
    verified : A card stands behind the colours; one too covered or too bright to correct by does not. An unverified
        photograph is never learned from.
    """

    photo: Photo
    correction: Correction
    verdict: CaptureVerdict
    sighting: CardSighting | None
    patches: PatchColours | None
    steps: tuple[Step, ...]
    pipeline_version: int = PIPELINE_VERSION

    @property
    def verified(self) -> bool:
        return self.sighting is not None and self.correction.method != UNCORRECTED

    def xyz_d65(self, box: Box, row_step: int = 1) -> XyzD65:
        """Corrected CIE XYZ D65 of a part of the photograph. float32, shape (rows, columns, 3), white Y = 1."""
        return self.correction.xyz_d65(self.photo, box, row_step)

    def clipped(self, box: Box, row_step: int = 1) -> BoolArray:
        """Where that part has run out of range. bool, shape (rows, columns)."""
        return clipped(self.photo, box, row_step)
