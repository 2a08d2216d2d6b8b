"""Documenting a visit: all that its report shows, as one value."""

from estimator.reports.document import BeforeAfter, Heading
from estimator.scale.level import LevelScale, default_scale
from estimator.visit.planning import CheckedPlan
from estimator.visit.reading import PhotoReading, compare


def document_of(
    heading: Heading,
    before: PhotoReading,
    checked: CheckedPlan,
    after: PhotoReading | None = None,
    scale: LevelScale | None = None,
) -> BeforeAfter:
    """All that a before/after report shows of a visit, ready for `reports.before_after` to render.

    scale : On which its levels stand; the plan's, or else the default scale, where None.
    """
    scale = scale or (checked.plan.scale if checked.plan else None) or default_scale()
    usable_after = after if after is not None and not after.refused else None
    return BeforeAfter(
        heading=heading,
        before=before,
        care=checked.care,
        plan=checked.plan,
        scale_lightness=scale.lightness,
        after=after,
        differences=compare(before, usable_after) if usable_after is not None else (),
    )
