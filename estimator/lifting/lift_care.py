"""What care is asked about a lift: each zone's own facts, where its mix will lie, and the figures of its plan."""

from dataclasses import replace

from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN, Unknown
from estimator.care.zoned_facts import ZonedFacts
from estimator.lifting.demarcation import figures_with_lines
from estimator.lifting.lift_plan import LiftRequest
from estimator.toning.plan import Density, StrandDiameter

NEVER_LIGHTENED_WEEKS = 999


def facts_of_lift(request: LiftRequest, zoned: ZonedFacts) -> Facts:
    """The client's facts as this zone has them: where the mix will lie, and the worse of two words on the strand.

    What nobody said is taken at its worse. A line that the mix crosses counts, whatever was said: seen is seen.
    """
    facts = zoned.of(request.zone)
    weeks = facts.lightened_weeks_ago
    lies: dict[str, bool | Unknown] = {
        "touches_scalp": True,
        "touches_relaxed_hair": facts.relaxer_kind if facts.relaxer_kind is UNKNOWN else facts.relaxer_kind != "none",
        "touches_lightened_hair": weeks if weeks is UNKNOWN else weeks < NEVER_LIGHTENED_WEEKS,
    }
    of_zone = {name: getattr(facts, name) for name in lies if getattr(facts, name) is not UNKNOWN}
    said = {name: getattr(request, name) for name in lies if getattr(request, name) is not UNKNOWN}
    own = facts.with_plan_figures(**{**lies, **of_zone, **said})
    own = own.with_plan_figures(**figures_with_lines(request.lines, request.laid.from_share, request.laid.to_share))
    if request.hair.strand_diameter is StrandDiameter.FINE:
        own = replace(own, strand_diameter="fine")
    return replace(own, density="high") if request.hair.density is Density.HIGH else own


def crosses_a_line(request: LiftRequest) -> bool:
    """Whether the mix as it is laid meets hair that a line shows to be lightened or relaxed."""
    return bool(figures_with_lines(request.lines, request.laid.from_share, request.laid.to_share))
