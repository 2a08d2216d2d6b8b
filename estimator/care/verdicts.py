"""How a judgement on care is said: the verdict, and each finding with its reason, its remedy and its source."""

from dataclasses import dataclass
from enum import StrEnum

from estimator.care.answers import Answer


class CareWord(StrEnum):
    """The four verdicts."""

    STOP = "stop"
    TEST_FIRST = "test first"
    CAUTION = "caution"
    CLEAR = "clear"


WORST_FIRST = (CareWord.STOP, CareWord.TEST_FIRST, CareWord.CAUTION, CareWord.CLEAR)


@dataclass(frozen=True)
class CareFinding:
    """One reason for care.

    code : Stable name of the rule, or `answer-missing` (holds the verdict up) or `answer-open` (may add a caution).
    severity : Harm if ignored: 5 injury, 4 hair lost or allergy likely, 3 hair damaged, 2 bad colour, 1 nuisance.
    source : Keys of docs/sources.md or an agreed phrase, separated by "; ".
    answerable : A written test or a doctor's word turns it into a caution; nothing turns it off.
    missing : Names of the facts that nobody has given; empty for a rule that fired.
    rules : Codes of the rules that could not be decided; empty for a rule that fired.
    answer : The answer that turned it into a caution.
    zone : The zone that it speaks of; "" for the whole head.
    """

    code: str
    verdict: CareWord
    message: str
    remedy: str
    source: str
    severity: int
    answerable: bool = False
    missing: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    answer: Answer | None = None
    zone: str = ""


@dataclass(frozen=True)
class CareVerdict:
    """The verdict and every finding behind it, the worst first."""

    verdict: CareWord
    findings: tuple[CareFinding, ...]

    @property
    def codes(self) -> tuple[str, ...]:
        """Codes of all findings, the worst first, each once."""
        return tuple(dict.fromkeys(finding.code for finding in self.findings))

    @property
    def is_stop(self) -> bool:
        """A stop stands, for the whole head or for one zone."""
        return self.verdict is CareWord.STOP

    @property
    def stops_everything(self) -> bool:
        """A stop of the whole person stands: no plan may be mixed for any zone."""
        return any(not finding.zone for finding in self.findings_of(CareWord.STOP))

    @property
    def stopped_zones(self) -> tuple[str, ...]:
        """Zones that a stop of their own withholds, each once."""
        return tuple(dict.fromkeys(finding.zone for finding in self.findings_of(CareWord.STOP) if finding.zone))

    def findings_of(self, word: CareWord) -> tuple[CareFinding, ...]:
        """The findings with this verdict, the gravest first."""
        return tuple(finding for finding in self.findings if finding.verdict is word)


def verdict_from(findings: list[CareFinding]) -> CareVerdict:
    """The verdict that the worst finding commands; "clear" where there is none."""
    ordered = tuple(sorted(findings, key=lambda finding: (WORST_FIRST.index(finding.verdict), -finding.severity)))
    return CareVerdict(ordered[0].verdict if ordered else CareWord.CLEAR, ordered)
