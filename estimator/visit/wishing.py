"""What a colourist wishes for a zone, made into a target: in words, like another zone, off a photo, or the lightest."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from calibration.colourspaces import FloatArray
from calibration.corrected import CorrectedPhoto
from calibration.pipeline import correct_bytes
from estimator.errors import BadInputError
from estimator.scale.appearance import Level
from estimator.scale.level import LevelScale
from estimator.toning.targets import TONES, Target, lightest, like_zone, picked
from estimator.visit.reading import PhotoReading, ReadZone, read_zones
from estimator.zones.inputs import zones_of
from estimator.zones.outline import Setting
from estimator.zones.specification import PolygonZones, ZoneSpec

CORNERS_OF_A_SPOT = 24
PICKED_ZONE = "picked"


@dataclass(frozen=True, eq=False)
class ReadColour:
    """What a target needs of a zone that was read. lab_d65, covariance : Shapes (3,) and (3, 3)."""

    lab_d65: FloatArray
    covariance: FloatArray
    level: Level


@dataclass(frozen=True, eq=False)
class PickedColour:
    """A place on a photograph that was pointed at, and read. where : In words, such as "on the client's picture"."""

    read: ReadColour
    where: str


@dataclass(frozen=True, eq=False)
class TargetWish:
    """What one zone shall become, in exactly one of four ways.

    level and tone : In words. like : The name of another zone. picked : A colour on a photograph.
    no_warmer_than : A tone; as light as possible without being warmer.
    """

    level: float | None = None
    tone: str = ""
    like: str = ""
    picked: PickedColour | None = None
    no_warmer_than: str = ""


def pick_colour(
    photo: bytes | CorrectedPhoto,
    spot: tuple[float, float, float],
    scale: LevelScale | None = None,
    setting: Setting = Setting.HEAD,
) -> ReadColour:
    """The hair in a round spot of a photograph, read.

    spot : x, y and radius. [px] setting : Hair on a head, or a lock that was laid down.

    Raises
    ------
    PhotoRefusedError : The photograph does not open. BadInputError : It can't be used, or no hair is in the spot.
    """
    corrected = correct_bytes(photo) if isinstance(photo, bytes) else photo
    reading = read_spot(corrected, spot, (PICKED_ZONE, setting), scale)
    if reading.refused:
        raise BadInputError("The photograph on which a colour was picked has to be taken again; pick on another one.")
    if not reading.zones or not reading.shows_hair:
        raise BadInputError("No hair could be read at the place that was picked. Point at hair, with a larger spot.")
    return _colour(reading.zones[0])


def read_spot(
    corrected: CorrectedPhoto,
    spot: tuple[float, float, float],
    called: tuple[str, Setting],
    scale: LevelScale | None = None,
) -> PhotoReading:
    """The hair in a round spot of a photograph, read as a zone of that name in that setting.

    spot : x, y and radius. [px] Raises BadInputError for a spot of no size, or outside the photograph.
    """
    (x, y, radius), (name, setting) = spot, called
    if not radius >= 1:
        raise BadInputError(f"The spot has a radius of {radius:g} px. Give x, y and a radius of 1 px or more.")
    turn = np.linspace(0, 2 * np.pi, CORNERS_OF_A_SPOT, endpoint=False)
    rim = np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])
    spec = ZoneSpec(setting, PolygonZones({name: (rim,)}))
    return read_zones(corrected, zones_of(spec, corrected), scale)


def colours_of(reading: PhotoReading) -> dict[str, ReadColour]:
    """The colour of each zone of a photograph, by name."""
    return {zone.name: _colour(zone) for zone in reading.zones}


def _colour(zone: ReadZone) -> ReadColour:
    return ReadColour(zone.reading.lab_d65, zone.reading.covariance, zone.level)


def targets_from(
    wishes: Mapping[str, TargetWish], read: Mapping[str, ReadColour], scale: LevelScale | None = None
) -> tuple[Target, ...]:
    """The target of each zone. A zone that shall match another gets that one's own target, where it has one.

    Raises
    ------
    BadInputError : A wish is none of the four, names a zone that was not read, or two zones wait for each other.
    """
    return tuple(_target(zone, wishes, read, scale) for zone in wishes)


def _target(
    zone: str, wishes: Mapping[str, TargetWish], read: Mapping[str, ReadColour], scale: LevelScale | None
) -> Target:
    other = _matched(zone, wishes)
    if other != zone and other not in wishes:
        matched = _read(other, read, f"{zone} shall match it")
        return like_zone(zone, other, matched.lab_d65, matched.covariance, scale)
    wish = wishes[other]
    if wish.picked is not None:
        found = wish.picked.read
        return picked(zone, wish.picked.where, found.lab_d65, found.covariance, scale)
    if wish.no_warmer_than:
        if wish.no_warmer_than not in TONES:
            raise BadInputError(f"{wish.no_warmer_than!r} is no tone. Choose one of: {', '.join(TONES)}.")
        return lightest(zone, _read(zone, read, "it has a target").level.level, wish.no_warmer_than)
    if wish.level is None or not wish.tone:
        raise BadInputError(
            f"The target of {zone} needs a level and a tone, or `like` with a zone, or a place that was picked, "
            "or `no_warmer_than` with a tone."
        )
    return Target(zone, wish.level, wish.tone)


def _matched(zone: str, wishes: Mapping[str, TargetWish]) -> str:
    """The zone whose target or reading this one takes: itself, where it matches no other."""
    seen = [zone]
    while seen[-1] in wishes and wishes[seen[-1]].like:
        following = wishes[seen[-1]].like
        if following in seen:
            raise BadInputError(f"{', '.join(seen)} shall match each other in a circle. Give one of them a tone.")
        seen.append(following)
    return seen[-1]


def _read(zone: str, read: Mapping[str, ReadColour], why: str) -> ReadColour:
    if zone not in read:
        raise BadInputError(f"{zone} was not read, and {why}. Outline it, or choose another target.")
    return read[zone]
