"""The demo visit: an invented client, opened from the sample photographs in one tap."""

from pathlib import Path
from typing import TYPE_CHECKING

from estimator.errors import BadInputError
from estimator.pages import kept_readings
from estimator.pages.draft import Draft, Shot, Wish

if TYPE_CHECKING:
    from estimator.visit_file import VisitFile

VISIT = Path(__file__).parents[2] / "sample_images" / "visit.toml"


def demo_visit() -> Draft:
    """The invented visit as a draft; raises BadInputError where the sample files are not there."""
    from estimator.visit_file import load_visit_file

    visit = load_visit_file(VISIT)
    return Draft(
        salon=visit.salon,
        client=visit.client,
        day=visit.date,
        demo=True,
        before=_shot(visit.before, visit.zones),
        answers=dict(visit.facts),
        wishes=_wishes(visit),
        max_bowls=visit.max_bowls,
    )


def demo_after() -> Shot:
    """The photograph after, of the same invented visit, with its zones."""
    from estimator.visit_file import load_visit_file

    visit = load_visit_file(VISIT)
    if visit.after is None:
        raise BadInputError("The demo visit has no photograph after. Take one of your own.")
    return _shot(visit.after, visit.after_zones or visit.zones)


def _shot(photo: str, zones: str | None) -> Shot:
    try:
        photo_bytes = (VISIT.parent / photo).read_bytes()
    except OSError as problem:
        raise BadInputError(
            f"The sample photograph {photo} can't be read. Fetch the folder sample_images again."
        ) from problem
    shot = Shot(photo_bytes, kept_readings.hash_of(photo_bytes))
    return kept_readings.with_zones_from_file(shot, VISIT.parent / zones) if zones else shot


def _wishes(visit: "VisitFile") -> dict[str, Wish]:
    hair = {zone: visit.hair_of_zone.get(zone, visit.hair) for zone in visit.targets}
    return {
        zone: Wish(
            target.level if target.level is not None else 8.0,
            target.tone or "neutral",
            hair[zone].length_cm,
            hair[zone].strand_diameter,
            hair[zone].density,
            hair[zone].porosity,
        )
        for zone, target in visit.targets.items()
    }
