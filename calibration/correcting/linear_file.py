"""What a file that keeps linear light is worth: no tone curve stands between its numbers and the light."""

from calibration.findings import Finding, Severity

# Over cameras x lamps, the same scene both ways (python -m tests.studies.linear_light): the stated error of the 8-bit
# way over that of the linear file, median; and the true error on measured hair, mean.
JPEG_OVER_LINEAR = 1.06
JPEG_OVER_LINEAR_ON_HAIR = 1.3


def linear_light(held_out_de2000: float) -> Finding:
    """The finding that says what the linear light of this file gains."""
    message = (
        f"The file keeps linear light, so no tone curve is guessed: the correction's error is {held_out_de2000:.1f} "
        f"instead of {JPEG_OVER_LINEAR * held_out_de2000:.1f} ΔE2000 for such a scene as JPEG, and on hair "
        f"{JPEG_OVER_LINEAR_ON_HAIR:.1f} times smaller."
    )
    return Finding("linear_light", Severity.NOTE, message, "Nothing to do: keep sending files of this kind.", "card")
