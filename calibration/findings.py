"""What a person can mend: findings, how grave they are, and the verdict on a photograph."""

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs: told, wider intervals, or a new photograph."""

    NOTE = "note"
    CARE = "care"
    RETAKE = "retake"


class Verdict(StrEnum):
    """What a photograph is good for."""

    USABLE = "usable"
    CARE = "care"
    RETAKE = "retake"


@dataclass(frozen=True)
class Finding:
    """One thing seen in a photograph, in a sentence, with what to do about it.

    code : Short stable name, lower case with underscores, such as `overexposed`.
    message : What was seen, with the figure. One sentence.
    remedy : What to do next. One sentence.
    where : What it is about: "photo", "card", or the name of a zone.
    source : A key of docs/sources.md, "common practice" or "our assumption".
    """

    code: str
    severity: Severity
    message: str
    remedy: str
    where: str = "photo"
    source: str = "our assumption"


@dataclass(frozen=True)
class CaptureVerdict:
    """The verdict on one photograph and every finding behind it, the gravest first."""

    verdict: Verdict
    findings: tuple[Finding, ...]

    @property
    def codes(self) -> tuple[str, ...]:
        """Codes of all findings, the gravest first, each once."""
        return tuple(dict.fromkeys(finding.code for finding in self.findings))


_GRAVEST_FIRST = (Severity.RETAKE, Severity.CARE, Severity.NOTE)


def verdict_from(findings: tuple[Finding, ...]) -> CaptureVerdict:
    """The verdict that the gravest finding commands."""
    ordered = tuple(sorted(findings, key=lambda finding: _GRAVEST_FIRST.index(finding.severity)))
    if not ordered or ordered[0].severity is Severity.NOTE:
        return CaptureVerdict(Verdict.USABLE, ordered)
    return CaptureVerdict(Verdict(ordered[0].severity.value), ordered)
