"""Reading a photograph, and comparing two: bytes in, every zone in the trade's terms out."""

from dataclasses import dataclass, replace

from calibration.corrected import CorrectedPhoto
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.findings import Finding, Severity, Verdict
from calibration.pipeline import correct_bytes
from calibration.references import NONE_GIVEN, References
from estimator.errors import BadInputError
from estimator.reading.comparing import ZoneDifference, difference
from estimator.reading.evenness import Evenness, evenness
from estimator.reading.wet_hair import refused_as_wet
from estimator.reading.zone_colour import read_zones as read_all_zones
from estimator.reading.zone_reading import HairPart, ZoneReading
from estimator.reports.wording import zone_text
from estimator.scale.appearance import Level, Warmth
from estimator.scale.level import LevelScale, level_of, level_of_colour
from estimator.scale.warmth import warmth_of, warmth_of_colour
from estimator.zones.inputs import ZoneSpec, zones_of
from estimator.zones.outline import Zone
from estimator.zones.proposing import propose_hair


@dataclass(frozen=True, eq=False)
class ReadPart:
    """One of two colours in a zone, in the trade's terms."""

    part: HairPart
    level: Level
    warmth: Warmth


@dataclass(frozen=True, eq=False)
class ReadZone:
    """One zone in one photograph: where it lies, what it reads, and what that is in the trade's terms.

    parts : The two colours of a zone that holds two, the larger first; level and warmth are then those of the larger.
    """

    zone: Zone
    reading: ZoneReading
    level: Level
    warmth: Warmth
    parts: tuple[ReadPart, ...] = ()

    @property
    def name(self) -> str:
        return self.zone.name


@dataclass(frozen=True, eq=False)
class PhotoReading:
    """One photograph, read.

    zones : Those that could be read; empty where the photograph must be taken again.
    outlined : Every zone that was outlined or proposed, read or not.
    unread : Why a zone could not be read.
    evenness : Between the zones; None with fewer than two.
    """

    corrected: CorrectedPhoto
    zones: tuple[ReadZone, ...]
    outlined: tuple[Zone, ...]
    unread: tuple[Finding, ...]
    evenness: Evenness | None

    @property
    def refused(self) -> bool:
        return self.corrected.verdict.verdict is Verdict.RETAKE

    @property
    def shows_hair(self) -> bool:
        """At least one zone was read in which fibres are seen."""
        return any("no_fibres" not in {finding.code for finding in read.reading.findings} for read in self.zones)

    def zone(self, name: str) -> ReadZone:
        """The zone of that name; KeyError where it was not read."""
        for read in self.zones:
            if read.name == name:
                return read
        raise KeyError(name)


def read_photo(
    photo_bytes: bytes,
    spec: ZoneSpec | None = None,
    scale: LevelScale | None = None,
    references: References = NONE_GIVEN,
) -> PhotoReading:
    """Every zone of one photograph; without `spec` the whole hair is proposed as one zone.

    scale : The salon's own level scale; the default scale where None.
    references : What the colours may lean on beside a card in the photograph; without a neutral thing in it, the one
        that `spec` names serves.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph that this program reads.
    BadInputError : `spec` does not fit the photograph.
    """
    if references.neutral is None and spec is not None and spec.neutral is not None:
        references = replace(references, neutral=NeutralPoint(*spec.neutral))
    corrected = correct_bytes(photo_bytes, references)
    if spec is not None and spec.wet:
        corrected = refused_as_wet(corrected)
    return read_zones(corrected, zones_of(spec, corrected) if spec else (), scale)


def read_zones(corrected: CorrectedPhoto, outlined: tuple[Zone, ...], scale: LevelScale | None = None) -> PhotoReading:
    """Every zone outlined in a corrected photograph; without any, the whole hair is proposed as one."""
    if corrected.verdict.verdict is Verdict.RETAKE:
        return PhotoReading(corrected, (), outlined, (), None)
    if not outlined:
        try:
            outlined = (propose_hair(corrected),)
        except BadInputError as problem:
            return PhotoReading(corrected, (), (), (_unread("hair", problem),), None)
    read = read_all_zones(corrected, outlined)
    place = {zone.name: zone for zone in outlined}
    zones = tuple(in_trade_terms(place[reading.zone], reading, scale) for reading in read.readings)
    unread = tuple(_unread(refusal.zone, refusal) for refusal in read.unread)
    return PhotoReading(corrected, zones, outlined, unread, evenness(read.readings) if len(zones) > 1 else None)


def in_trade_terms(zone: Zone, reading: ZoneReading, scale: LevelScale | None) -> ReadZone:
    """The zone with its level and warmth, and those of both its colours where it holds two."""
    parts = tuple(
        ReadPart(
            part,
            level_of_colour(part.lab_d65, part.covariance, scale),
            warmth_of_colour(part.lab_d65, part.covariance),
        )
        for part in reading.parts
    )
    return ReadZone(zone, reading, level_of(reading, scale), warmth_of(reading), parts)


def _unread(zone: str, problem: BadInputError) -> Finding:
    return Finding("zone_unread", Severity.CARE, str(problem).replace(zone, zone_text(zone)), "", zone)


def compare(before: PhotoReading, after: PhotoReading) -> tuple[ZoneDifference, ...]:
    """What changed in each zone that both photographs hold, in the order of the first."""
    also = {read.name for read in after.zones}
    return tuple(difference(read.reading, after.zone(read.name).reading) for read in before.zones if read.name in also)
