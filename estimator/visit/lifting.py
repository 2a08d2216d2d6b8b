"""Lifting: lines of demarcation, the strand test, the plan of a lift, and what the running clock is told."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

from estimator.care.facts import Facts
from estimator.care.unknown import UNKNOWN, Unknown
from estimator.errors import BadInputError
from estimator.lifting.card_size import PhotoScale, scale_of_card, scale_of_measured_card
from estimator.lifting.clock_events import Event, Instant, Kind, SeenLightness, StrandSaid, new_event
from estimator.lifting.demarcation import HairPast, Line, find_lines
from estimator.lifting.laying import WHOLE, laid_by_word
from estimator.lifting.lift_plan import Client, LiftPlan, LiftRequest, LiftSettings, ZoneLift
from estimator.lifting.lift_rules import base_level
from estimator.lifting.planning import plan_lift as plan_zones
from estimator.lifting.stopping import Signs
from estimator.lifting.strand import Strand, StrandPoint, point_of_reading
from estimator.lifting.strand_test import StrandPhoto, StrandTest, judge_strand
from estimator.scale.level import LevelScale
from estimator.toning.plan import HairFacts
from estimator.toning.targets import Target
from estimator.visit.consulting import Consultation
from estimator.visit.reading import PhotoReading, ReadZone, read_photo
from estimator.zones.axis import axis_of
from estimator.zones.inputs import ZoneSpec
from estimator.zones.outline import Setting

FACT = "strand_test"


@dataclass(frozen=True, eq=False)
class LiftWishes:
    """What the colourist wants of a lift. All mappings are by zone.

    hair : As for a toner. laid : A word of `laying.LAID_WORDS`; the whole length where a zone has none.
    tested : A test strand of that zone: its curve draws the zone's own, and its harm is the zone's.
    card_pitch_mm : Between the middles of two patches of the card, measured; None for a card of the large size.
    """

    targets: tuple[Target, ...]
    hair: Mapping[str, HairFacts] = field(default_factory=dict)
    laid: Mapping[str, str] = field(default_factory=dict)
    tested: Mapping[str, StrandTest] = field(default_factory=dict)
    settings: LiftSettings = field(default_factory=LiftSettings)
    card_pitch_mm: float | None = None


def plan_lift(reading: PhotoReading, consultation: Consultation, wishes: LiftWishes) -> LiftPlan:
    """The lift of each zone that has a target, judged with the zone's own facts; a stop hides what it is about.

    Raises
    ------
    BadInputError : A target names a zone that was not read, there is no target, or a zone's facts can't be.
    """
    read = {zone.name: zone for zone in reading.zones}
    missing = [target.zone for target in wishes.targets if target.zone not in read]
    if missing:
        raise BadInputError(
            f"There is a target for {', '.join(missing)}, which was not read. Outline it, or take the target away."
        )
    own = _own_with_tests(consultation, wishes.tested)
    client = Client(consultation.facts, consultation.day, consultation.answers, own)
    requests = tuple(_request(target, read[target.zone], reading, client, wishes) for target in wishes.targets)
    return plan_zones(requests, client, wishes.settings)


def _own_with_tests(consultation: Consultation, tested: Mapping[str, StrandTest]) -> dict[str, Mapping[str, object]]:
    """What zones have otherwise, with what their test strands showed; only ever stricter than what was said."""
    found = dict(consultation.own)
    for zone, test in tested.items():
        said = consultation.zoned.of(zone).strand_test
        if test.result == "damaged" or (test.result == "too_slow" and said != "damaged"):
            found[zone] = {**found.get(zone, {}), FACT: test.result}
    return found


def _request(target: Target, read: ReadZone, reading: PhotoReading, client: Client, wishes: LiftWishes) -> LiftRequest:
    lines = lines_of(read, reading, client.zoned.of(target.zone), wishes)
    return LiftRequest(
        target.zone,
        read.level,
        read.warmth,
        target,
        wishes.hair.get(target.zone, HairFacts()),
        tested=tested.curve if (tested := wishes.tested.get(target.zone)) is not None else None,
        lines=lines,
        laid=laid_by_word(wishes.laid.get(target.zone, WHOLE), lines),
    )


def lines_of(read: ReadZone, reading: PhotoReading, facts: Facts, wishes: LiftWishes) -> tuple[Line, ...]:
    """Lines of demarcation in one zone, root first, with millimetres where the card gives the scale."""
    past = HairPast(_weeks(facts.lightened_weeks_ago), _weeks(facts.relaxer_weeks_ago))
    axis, photo_scale = axis_of(read.zone), _scale_of(reading, wishes.card_pitch_mm)
    # Hair on a head hangs down: the profile of a zone that is wider than it is long does not run from root to end.
    across = read.zone.setting is Setting.HEAD and abs(axis.direction[0]) > abs(axis.direction[1])
    profile = () if across else read.reading.profile
    length_px = 2 * axis.half_length_px
    return find_lines(profile, past, length_px, photo_scale, wishes.settings.scale, read.zone.setting)


def _weeks(weeks: float | Unknown) -> float | None:
    return None if weeks is UNKNOWN else float(weeks)


def _scale_of(reading: PhotoReading, pitch_mm: float | None) -> PhotoScale | None:
    sighting = reading.corrected.sighting
    if sighting is None or len(sighting.patch_centres_px) != 24:
        return None
    return scale_of_card(sighting) if pitch_mm is None else scale_of_measured_card(sighting, pitch_mm)


def lift_base(target: Target) -> float:
    """The level that hair must be lifted to before a toner can make this target of it."""
    return base_level(target)


# --- the strand test


@dataclass(frozen=True)
class StrandShot:
    """One photograph of the test strand, and the minute at which it was taken."""

    minutes: float
    photo_bytes: bytes


@dataclass(frozen=True, eq=False)
class StrandPlace:
    """Where the strand lies in its photographs.

    spec : Its outline; the whole hair is taken where None. zone : Which of several outlines. scale : The salon's own.
    """

    spec: ZoneSpec | None = None
    zone: str = ""
    scale: LevelScale | None = None


def judge_test_strand(
    strand: Strand,
    shots: tuple[StrandShot, ...],
    target_level: float,
    looks: tuple[StrandPoint, ...] = (),
    signs: Signs | None = None,
    where: StrandPlace | None = None,
) -> StrandTest:
    """The curve of a strand from its photographs and from what was seen by eye, and what follows from it.

    Raises
    ------
    BadInputError, PhotoRefusedError : A photograph, a minute or a level can't be used; the message says which.
    """
    where = where or StrandPlace()
    photos = tuple(StrandPhoto(shot.minutes, _strand_zone(shot, where).reading) for shot in shots)
    return judge_strand(strand, (*photos, *looks), target_level, signs, where.scale)


def _strand_zone(shot: StrandShot, where: StrandPlace) -> ReadZone:
    reading = read_photo(shot.photo_bytes, where.spec, scale=where.scale)
    minute = f"The photo of minute {shot.minutes:g}"
    if reading.refused:
        finding = reading.corrected.verdict.findings[0]
        raise BadInputError(f"{minute} has to be taken again: {finding.message} {finding.remedy}")
    zones = [read for read in reading.zones if not where.zone or read.name == where.zone]
    if len(zones) != 1:
        named = ", ".join(read.name for read in reading.zones) or "none"
        raise BadInputError(f"{minute} must show one strand; zones read there: {named}. Name the one that is meant.")
    return zones[0]


# --- the running clock


@dataclass(frozen=True)
class SeenAtCheck:
    """What the photograph of a check read: level for the eye, lightness for the curve, and the photograph's name."""

    level: float
    seen: SeenLightness
    photo_sha256: str


def read_check(photo_bytes: bytes, where: StrandPlace) -> SeenAtCheck:
    """One zone's photograph during the lift: wiped, blotted, dry. Raises as `judge_test_strand`."""
    read = _strand_zone(StrandShot(0.0, photo_bytes), where)
    point = point_of_reading(0.0, read.reading)
    name = hashlib.sha256(photo_bytes).hexdigest()
    return SeenAtCheck(read.level.level, SeenLightness(point.lightness, point.own_sd, point.shared_sd), name)


def start_of(lift: ZoneLift, at: Instant) -> Event:
    """The start of a planned zone's clock: its maximum, its looks, its aim, and what its curve is drawn for.

    Raises BadInputError for a zone without a mix: one behind a stop, or one that needs none.
    """
    if lift.mix is None or lift.most_minutes is None or lift.check_every_minutes is None or lift.curve is None:
        raise BadInputError(f"There is no mix for {lift.zone}, so its clock can't be started from the plan.")
    strand = lift.curve.strand
    said = StrandSaid(
        str(strand.diameter),
        strand.developer.volume,
        strand.start_level,
        strand.start_level_sd,
        strand.dyed,
        strand.minutes_times,
    )
    return new_event(
        Kind.START,
        lift.zone,
        at,
        most_minutes=lift.most_minutes,
        check_minutes=lift.check_every_minutes,
        target_level=min(max(lift.level_today, 1.0), 10.0),
        strand=said,
    )
