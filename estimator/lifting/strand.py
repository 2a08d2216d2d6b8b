"""A strand being lifted: what is known of it beforehand, and what was seen of it at which minute."""

from dataclasses import dataclass
from math import isfinite

from estimator.errors import BadInputError
from estimator.lifting.figures import diameter_um, figure
from estimator.reading.zone_reading import ZoneReading
from estimator.scale.level import LevelScale, default_scale, lightness_of_level
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.plan import StrandDiameter

LONGEST_MINUTES = 240.0
MOST_PHOTOS = 60


@dataclass(frozen=True)
class Strand:
    """What is known of a strand before anything is seen of it.

    start_level : By eye or from a reading; None where only the photos will tell.
    start_level_sd : How well it is known; as eyes do where None. [levels]
    dyed : Old colour lies on it, which may resist.
    minutes_times : How many times as long as usual: an additive in the bowl, a cool room, a slow zone.
    """

    diameter: StrandDiameter = StrandDiameter.MEDIUM
    developer: PeroxideStrength = PeroxideStrength.from_volume(20)  # noqa: RUF009
    start_level: float | None = None
    start_level_sd: float | None = None
    dyed: bool = False
    minutes_times: float = 1.0

    def __post_init__(self) -> None:
        if self.diameter not in tuple(StrandDiameter):
            raise BadInputError(f"The strand is {self.diameter!r}; choose one of {', '.join(StrandDiameter)}.")
        object.__setattr__(self, "diameter", StrandDiameter(self.diameter))
        if self.start_level is not None and not 1 <= self.start_level <= 10:
            raise BadInputError(f"The strand starts at level {self.start_level:g}; levels go from 1 to 10.")
        if self.start_level_sd is not None and not 0 < self.start_level_sd <= 5:
            raise BadInputError(f"The start is known to {self.start_level_sd:g} levels; above 0 to 5 is allowed.")
        if self.developer.volume <= 0:
            raise BadInputError("Without peroxide nothing lifts: say which developer the lightener is mixed with.")
        if not 0.25 <= self.minutes_times <= 4:
            raise BadInputError(f"A time factor of {self.minutes_times:g} was given; 0.25 to 4 is allowed.")

    @property
    def pace_times(self) -> float:
        """How many times the minutes of a medium strand at 20 volume this one takes by rule."""
        thickness = (diameter_um(self.diameter) / figure("pace_diameter")) ** 2
        strength = float((figure("pace_volume") / self.developer.volume) ** figure("volume_exponent"))
        return thickness * strength * self.minutes_times


@dataclass(frozen=True)
class StrandPoint:
    """What was seen of a strand at one minute.

    lightness : L* as a flat tress would read.
    own_sd : What this sight alone has wrong. shared_sd : What all photos of the same strand have wrong together.
    by_eye : A level said by a person, not read from a photo.
    """

    minutes: float
    lightness: float
    own_sd: float
    shared_sd: float = 0.0
    by_eye: bool = False

    def __post_init__(self) -> None:
        if not (isfinite(self.minutes) and 0 <= self.minutes <= LONGEST_MINUTES):
            raise BadInputError(
                f"A photo of the strand is marked minute {self.minutes:g}; 0 to {LONGEST_MINUTES:g} can be used."
            )
        if not (0 <= self.lightness <= 100 and self.own_sd >= 0 and self.shared_sd >= 0):
            raise BadInputError(f"The strand at minute {self.minutes:g} has no usable lightness. Take the photo again.")


def point_of_reading(minutes: float, reading: ZoneReading) -> StrandPoint:
    """A photo of the strand as a point of its curve."""
    whole, shared = float(reading.covariance[0, 0]), max(float(reading.shared_covariance[0, 0]), 0.0)
    own = max(whole - shared, 0.0)
    return StrandPoint(minutes, float(reading.lab_d65[0]), own**0.5, min(shared, whole) ** 0.5)


def point_by_eye(minutes: float, level: float, scale: LevelScale | None = None) -> StrandPoint:
    """A level said by eye as a point of the curve, as wide as eyes are."""
    if not 1 <= level <= 10:
        raise BadInputError(f"Level {level:g} was seen; levels go from 1 to 10.")
    scale = scale or default_scale()
    own_sd = lightness_sd_at(level, figure("eye_level_sd"), scale)
    return StrandPoint(minutes, lightness_of_level(level, scale), own_sd, by_eye=True)


def lightness_sd_at(level: float, level_sd: float, scale: LevelScale) -> float:
    """What a spread in levels amounts to in L*, on the scale's slope at this level."""
    low, high = max(level - level_sd, scale.levels[0]), min(level + level_sd, scale.levels[-1])
    slope = (lightness_of_level(high, scale) - lightness_of_level(low, scale)) / max(high - low, 1e-6)
    return level_sd * slope


def ordered(points: tuple[StrandPoint, ...]) -> tuple[StrandPoint, ...]:
    """The points by time. Raises BadInputError for more than can be used."""
    if len(points) > MOST_PHOTOS:
        raise BadInputError(f"{len(points)} photos of one strand were given; {MOST_PHOTOS} are enough.")
    return tuple(sorted(points, key=lambda point: point.minutes))
