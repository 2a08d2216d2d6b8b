"""One row of the table of corrections for each photograph: what was found, and how it was corrected."""

import time

import numpy as np

from calibration.corrected import CorrectedPhoto
from calibration.correcting.illumination import card_de2000
from calibration.errors import PhotoRefusedError
from calibration.findings import Verdict
from calibration.pipeline import correct_bytes
from calibration.references import NONE_GIVEN, References

COLUMNS = ("photo", "verdict", "card", "found", "patch_centres", "method", "held_out_de2000", "seconds", "findings")

_EMPTY = dict.fromkeys(COLUMNS, "")


def correction_row(path_text: str, photo_bytes: bytes, references: References = NONE_GIVEN) -> dict[str, str]:
    """The row of one photograph, as text by column. Never raises for a bad photograph: its row says what is wrong.

    patch_centres : x y of the patches in the card's order, pixels of the upright photo; nan where a patch is left
        out. findings : Codes separated by spaces, the gravest first.
    """
    started = time.perf_counter()
    try:
        corrected = correct_bytes(photo_bytes, references)
    except PhotoRefusedError as refusal:
        codes = dict.fromkeys(("unreadable", refusal.finding.code))
        return {
            **_EMPTY,
            "photo": path_text,
            "verdict": Verdict.RETAKE.value,
            "found": "0",
            "seconds": f"{time.perf_counter() - started:.3f}",
            "findings": " ".join(codes),
        }
    return {
        "photo": path_text,
        "verdict": corrected.verdict.verdict.value,
        "card": "" if corrected.sighting is None else corrected.sighting.layout,
        "found": "0" if corrected.sighting is None else "1",
        "patch_centres": centres_text(corrected),
        "method": corrected.correction.method,
        "held_out_de2000": "" if corrected.sighting is None else f"{card_de2000(corrected.correction):.2f}",
        "seconds": f"{time.perf_counter() - started:.3f}",
        "findings": " ".join(corrected.verdict.codes),
    }


def centres_text(corrected: CorrectedPhoto) -> str:
    """Patch centres as x y pairs, nan for those left out; empty without a card."""
    if corrected.sighting is None or corrected.patches is None:
        return ""
    centres = np.where(corrected.patches.usable[:, None], corrected.sighting.patch_centres_px, np.nan)
    return " ".join(f"{value:.1f}" for value in centres.ravel())
