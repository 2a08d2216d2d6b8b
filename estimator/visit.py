"""The verbs of a visit, where the steps of the job meet: read, compare, check, plan, report.

Pages and the command call these and nothing below them. Nothing here touches a disk or a screen.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from importlib.metadata import version

from calibration.cards.measured_card import MeasuredCard
from calibration.corrected import CorrectedPhoto
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.findings import Finding, Severity, Verdict
from calibration.opening import open_photo
from calibration.printed_pipeline import correct_photo_by_print
from estimator.care.answers import Answer
from estimator.care.facts import Facts
from estimator.care.rules import judge_with_answers
from estimator.care.unknown import UNKNOWN
from estimator.care.verdicts import CareVerdict, CareWord
from estimator.errors import BadInputError
from estimator.reading.comparing import ZoneDifference, difference
from estimator.reading.evenness import Evenness, evenness
from estimator.reading.wet_hair import refused_as_wet
from estimator.reading.zone_colour import read_zones as read_all_zones
from estimator.reading.zone_reading import ZoneReading
from estimator.reports.document import BeforeAfter, Heading
from estimator.reports.wording import zone_text
from estimator.scale.appearance import Level, Warmth
from estimator.scale.level import LevelScale, default_scale, level_of
from estimator.scale.scale_file import levels_from_text, scale_text
from estimator.scale.swatch_ring import RingFit, fit_ring
from estimator.scale.warmth import warmth_of
from estimator.toning.bowls import plan_bowls
from estimator.toning.plan import HairFacts, Plan, PlanSettings, ZoneRequest
from estimator.toning.shades import ShadeKind, Shelf
from estimator.toning.targets import Target
from estimator.zones.inputs import ZoneSpec, zones_of
from estimator.zones.outline import Zone
from estimator.zones.proposing import propose_hair


@dataclass(frozen=True, eq=False)
class ReadZone:
    """One zone in one photograph: where it lies, what it reads, and what that is in the trade's terms."""

    zone: Zone
    reading: ZoneReading
    level: Level
    warmth: Warmth

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


@dataclass(frozen=True)
class CheckedPlan:
    """A plan between two judgements: care before it, and care once more with its own figures.

    plan : None where care says stop; then nothing was planned.
    """

    care_before: CareVerdict
    plan: Plan | None
    care: CareVerdict


def read_photo(
    photo_bytes: bytes,
    spec: ZoneSpec | None = None,
    neutral: NeutralPoint | None = None,
    scale: LevelScale | None = None,
    card: MeasuredCard | None = None,
) -> PhotoReading:
    """Every zone of one photograph; without `spec` the whole hair is proposed as one zone.

    scale : The salon's own level scale; the default scale where None.
    card : A printed card that was measured; looked for first, then the 24-patch card.

    neutral : Something neutral to lean on where no card is found; where None, the one that `spec` names.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph that this program reads.
    BadInputError : `spec` does not fit the photograph.
    """
    if neutral is None and spec is not None and spec.neutral is not None:
        neutral = NeutralPoint(*spec.neutral)
    corrected = correct_photo_by_print(open_photo(photo_bytes), (card,) if card else (), neutral)
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
    zones = tuple(_in_trade_terms(place[reading.zone], reading, scale) for reading in read.readings)
    unread = tuple(_unread(refusal.zone, refusal) for refusal in read.unread)
    return PhotoReading(corrected, zones, outlined, unread, evenness(read.readings) if len(zones) > 1 else None)


def _in_trade_terms(zone: Zone, reading: ZoneReading, scale: LevelScale | None) -> ReadZone:
    return ReadZone(zone, reading, level_of(reading, scale), warmth_of(reading))


def _unread(zone: str, problem: BadInputError) -> Finding:
    return Finding("zone_unread", Severity.CARE, str(problem).replace(zone, zone_text(zone)), "", zone)


def compare(before: PhotoReading, after: PhotoReading) -> tuple[ZoneDifference, ...]:
    """What changed in each zone that both photographs hold, in the order of the first."""
    also = {read.name for read in after.zones}
    return tuple(difference(read.reading, after.zone(read.name).reading) for read in before.zones if read.name in also)


@dataclass(frozen=True)
class Consultation:
    """What is known of the client on the day, and what was done about findings that ask for a test or a doctor."""

    facts: Facts
    day: date
    answers: tuple[Answer, ...] = ()

    def judged_with(self, facts: Facts) -> CareVerdict:
        """Care's verdict on these facts, with the answers of this consultation."""
        return judge_with_answers(facts, self.answers, self.day)


def check(consultation: Consultation) -> CareVerdict:
    """What may not be done and what must be tested first, for a toning that only deposits."""
    facts = _where_it_lies(consultation.facts).with_plan_figures(wants_oxidative_dye=True, wants_toner=True)
    return consultation.judged_with(facts)


def _where_it_lies(facts: Facts) -> Facts:
    """A toner is taken to touch the scalp and whatever was relaxed or lightened, unless somebody says that it won't."""
    said = {
        "touches_scalp": True,
        "touches_relaxed_hair": facts.relaxer_kind if facts.relaxer_kind is UNKNOWN else facts.relaxer_kind != "none",
        "touches_lightened_hair": True,
    }
    return facts.with_plan_figures(**{name: value for name, value in said.items() if getattr(facts, name) is UNKNOWN})


@dataclass(frozen=True)
class Wishes:
    """What the colourist wants: targets by zone, what the hair of each is like, and the shelf to choose from."""

    targets: tuple[Target, ...]
    hair: Mapping[str, HairFacts]
    shelf: Shelf
    settings: PlanSettings = field(default_factory=PlanSettings)


def plan(reading: PhotoReading, consultation: Consultation, wishes: Wishes) -> CheckedPlan:
    """The bowls for one photograph's zones, unless care says stop.

    Raises
    ------
    BadInputError : A target names a zone that was not read, or there is no target.
    EmptyShelfError : No shade may serve.
    """
    care_before = check(consultation)
    if care_before.verdict is CareWord.STOP:
        return CheckedPlan(care_before, None, care_before)
    planned = plan_bowls(_requests(reading, wishes), wishes.shelf, wishes.settings)
    care = consultation.judged_with(_with_figures_of(planned, consultation.facts))
    return CheckedPlan(care_before, None if care.verdict is CareWord.STOP else planned, care)


def _requests(reading: PhotoReading, wishes: Wishes) -> tuple[ZoneRequest, ...]:
    read = {zone.name: zone for zone in reading.zones}
    missing = [target.zone for target in wishes.targets if target.zone not in read]
    if missing:
        names = ", ".join(missing)
        raise BadInputError(f"There is a target for {names}, which was not read. Outline it, or take the target away.")
    return tuple(
        ZoneRequest(
            target.zone,
            read[target.zone].reading.lab_d65,
            read[target.zone].reading.covariance,
            read[target.zone].level,
            read[target.zone].warmth,
            target,
            wishes.hair.get(target.zone, HairFacts()),
        )
        for target in wishes.targets
    )


def _with_figures_of(planned: Plan, facts: Facts) -> Facts:
    kinds = {bowl.kind for bowl in planned.bowls}
    direct = {ShadeKind.SEMI_PERMANENT} & kinds
    return _where_it_lies(facts).with_plan_figures(
        wants_oxidative_dye=bool(kinds - direct),
        wants_toner=True,
        wants_direct_dye=bool(direct),
        dye_volume=max((bowl.developer.volume for bowl in planned.bowls), default=0.0),
        minutes_planned=max((zone.minutes_high for zone in planned.zones), default=0.0),
    )


@dataclass(frozen=True)
class FittedScale:
    """A level scale fitted to a ring, and the text in which it is kept."""

    fit: RingFit
    text: str


def fit_scale_to_ring(photo_bytes: bytes, spec: ZoneSpec | None, levels: str, name: str) -> FittedScale:
    """The salon's own scale from one photograph of its swatch ring.

    levels : The level that each swatch is, such as "lock1=7,lock2=8".

    Raises
    ------
    PhotoRefusedError, BadInputError : The photograph, its swatches or their levels can't be used.
    """
    read = read_photo(photo_bytes, spec)
    if not read.zones:
        raise BadInputError("No swatch could be read. Lay the ring flat beside the card and take the photo again.")
    readings = tuple(zone.reading for zone in read.zones)
    ring = fit_ring(readings, levels_from_text(levels), name, date.today().isoformat())
    versions = {"tressmeter": version("tressmeter"), "pipeline": str(read.corrected.pipeline_version)}
    return FittedScale(ring, scale_text(ring, (read.corrected.photo.sha256,), versions))


def document_of(
    heading: Heading, before: PhotoReading, checked: CheckedPlan, after: PhotoReading | None = None
) -> BeforeAfter:
    """All that a before/after report shows of a visit, ready for `reports.before_after` to render."""
    usable_after = after if after is not None and not after.refused else None
    return BeforeAfter(
        heading=heading,
        before=before,
        care=checked.care,
        plan=checked.plan,
        scale_lightness=default_scale().lightness,
        after=after,
        differences=compare(before, usable_after) if usable_after is not None else (),
    )
