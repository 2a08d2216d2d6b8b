"""What happens to the outlines of a photograph when a zone is chosen, drawn, renamed or taken away."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from estimator.errors import BadInputError
from estimator.pages.draft import OutlinedZone, Shot
from estimator.zones.names import zone_names
from estimator.zones.outline import StrandPattern

MOST_ZONES = 24
MOST_POINTS = 60
LONGEST_NAME = 40


def names_offered(shot: Shot) -> tuple[str, ...]:
    """The trade's zones, and whatever else this photograph has."""
    return tuple(dict.fromkeys((*(zone.name for zone in zone_names()), *(zone.name for zone in shot.zones))))


def chosen(shot: Shot) -> OutlinedZone | None:
    """The zone being drawn; None before one is chosen."""
    return shot.zones[shot.selected] if 0 <= shot.selected < len(shot.zones) else None


def choose(shot: Shot, name: str) -> Shot:
    """The photograph with the zone `name` in hand, new and empty where it has none yet."""
    name = " ".join(name.split())[:LONGEST_NAME]
    if not name:
        raise BadInputError("A zone needs a name. Type one, such as crown, and add it again.")
    kept = tuple(zone for zone in shot.zones if zone.drawn or zone.name == name)
    names = [zone.name for zone in kept]
    if name in names:
        return replace(shot, zones=kept, selected=names.index(name), revision=shot.revision + 1)
    if len(kept) >= MOST_ZONES:
        raise BadInputError(f"This photograph has {MOST_ZONES} zones, as many as one can hold. Delete one first.")
    pattern = next((zone.strand_pattern for zone in reversed(kept)), None)  # most heads have one pattern throughout
    zones = (*kept, OutlinedZone(name, strand_pattern=pattern))
    return replace(shot, zones=zones, selected=len(kept), revision=shot.revision + 1)


def told(shot: Shot, event: Mapping[str, Any]) -> Shot:
    """The photograph after what the drawing board told."""
    number, serial = int(event["zone"]), int(event["serial"])
    if not 0 <= number < len(shot.zones):
        return shot
    if event["kind"] == "choose":
        return replace(shot, selected=number, serial=serial)
    drawn = replace(shot.zones[number], points_px=_points(event["points"]), exact=None)
    zones = (*shot.zones[:number], drawn, *shot.zones[number + 1 :])
    return shot.with_zones(zones, serial=serial, selected=number)


def _points(given: Any) -> tuple[tuple[float, float], ...]:
    points = tuple((float(x), float(y)) for x, y in given[:MOST_POINTS])
    if not all(math.isfinite(x) and math.isfinite(y) for x, y in points):
        raise BadInputError("An outline came with a point that is no number. Draw that zone again.")
    return points


def with_pattern(shot: Shot, pattern: StrandPattern | None) -> Shot:
    """The photograph with the strand pattern of the zone in hand stated."""
    zone = chosen(shot)
    if zone is None or zone.strand_pattern == pattern:
        return shot
    zones = (*shot.zones[: shot.selected], replace(zone, strand_pattern=pattern), *shot.zones[shot.selected + 1 :])
    return shot.with_zones(zones)


def without_chosen(shot: Shot) -> Shot:
    """The photograph without the zone in hand."""
    zones = tuple(zone for number, zone in enumerate(shot.zones) if number != shot.selected)
    return shot.with_zones(zones, selected=max(len(zones) - 1, 0), revision=shot.revision + 1)


def drawn_zones(shot: Shot) -> tuple[OutlinedZone, ...]:
    """The zones that have an outline."""
    return tuple(zone for zone in shot.zones if zone.drawn)
