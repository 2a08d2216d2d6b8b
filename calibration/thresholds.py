"""When a capture fault weighs: the table of thresholds, loaded and checked."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from calibration.findings import Severity


@dataclass(frozen=True)
class Threshold:
    """From which value on a finding means care, and from which a new photograph."""

    code: str
    what: str
    unit: str
    care: float
    retake: float
    source: str

    def __post_init__(self) -> None:
        if not self.source or not self.unit or self.care == self.retake:
            raise ValueError(f"Threshold {self.code} needs a source, a unit and two different values.")

    def severity(self, value: float) -> Severity | None:
        """How much this value weighs; None for a value on the good side."""
        sign = 1 if self.retake > self.care else -1
        if sign * value >= sign * self.retake:
            return Severity.RETAKE
        return Severity.CARE if sign * value >= sign * self.care else None


@cache
def thresholds() -> dict[str, Threshold]:
    """All thresholds by code."""
    text = resources.files("calibration").joinpath("tables", "capture_thresholds.toml").read_text(encoding="utf-8")
    rows = [
        Threshold(row["code"], row["what"], row["unit"], float(row["care"]), float(row["retake"]), row["source"])
        for row in tomllib.loads(text)["threshold"]
    ]
    return {row.code: row for row in rows}
