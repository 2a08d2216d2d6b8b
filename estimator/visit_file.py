"""A visit as a file: what the colourist photographed, knows and wants, in one TOML document that a person can write."""

import datetime
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from estimator import visit
from estimator.care.answers import Answer
from estimator.care.dates import Reminder, VisitDates
from estimator.care.facts import Facts, facts_from_answers
from estimator.care.zoned_facts import ZonedFacts
from estimator.errors import BadInputError
from estimator.feedback_entries import DoneInFile, TrialInFile
from estimator.files import load_photo, load_scale, load_text, load_zones
from estimator.records.beside import journal_at
from estimator.records.consent_entry import ConsentInFile
from estimator.records.place import usual_folder
from estimator.records.visit_record import LONGEST_NAME
from estimator.reports.document import BeforeAfter, Heading
from estimator.salon_settings import load_settings
from estimator.scale.level import LevelScale
from estimator.target_entries import TargetInFile
from estimator.toning.plan import HairFacts, PlanSettings
from estimator.toning.recipes import Progress
from estimator.toning.shades import Shelf, demo_shelf
from estimator.toning.shelf_file import load_shelf
from estimator.toning.targets import Target
from estimator.visit_entries import DatesInFile, LiftInFile, ZoneInFile

_STRICT = ConfigDict(frozen=True, extra="forbid")
MOST_PHOTOS = 8  # of the same hair at one time, beside the first
_Name = Annotated[str, Field(min_length=1, max_length=80)]


class HairInFile(BaseModel):
    """What the hair of one zone is like, for grams and minutes."""

    model_config = _STRICT
    length_cm: Annotated[float, Field(gt=0, le=200, allow_inf_nan=False)] = 30.0
    strand_diameter: str = "medium"
    density: str = "medium"
    porosity: str = "normal"


class AnswerInFile(BaseModel):
    """What was done about one finding of care: a test, or a doctor's word."""

    model_config = _STRICT
    finding: _Name
    who: _Name
    when: datetime.date
    what: Annotated[str, Field(min_length=1, max_length=400)]
    strength_volume: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)] | None = None
    place: str = ""
    zone: str = ""


class PhotoInFile(BaseModel):
    """One more photograph of the same hair, turned under the lamp; without zones the hair lies where it lay before."""

    model_config = _STRICT
    photo: str
    zones: str | None = None


class VisitFile(BaseModel):
    """One visit, as written down. Paths are relative to the file itself."""

    model_config = _STRICT
    salon: _Name = "Salon"
    client: _Name = "Client"
    date: datetime.date
    demo: bool = False
    before: str
    zones: str | None = None
    before_also: Annotated[tuple[PhotoInFile, ...], Field(max_length=MOST_PHOTOS)] = ()
    after: str | None = None
    after_zones: str | None = None
    after_also: Annotated[tuple[PhotoInFile, ...], Field(max_length=MOST_PHOTOS)] = ()
    shelf: str | None = None
    scale: str | None = None
    max_bowls: Annotated[int, Field(ge=1, le=6)] = 2
    facts: dict[str, Any] = {}
    answer: tuple[AnswerInFile, ...] = ()
    hair: HairInFile = HairInFile()
    hair_of_zone: dict[str, HairInFile] = {}
    targets: dict[str, TargetInFile] = {}
    zone: dict[str, ZoneInFile] = {}
    dates: DatesInFile = DatesInFile()
    lift: LiftInFile | None = None
    clock: Annotated[str, Field(max_length=80)] = ""
    client_name: Annotated[str, Field(max_length=LONGEST_NAME)] = ""
    contact: Annotated[str, Field(max_length=400)] = ""
    consent: tuple[ConsentInFile, ...] = ()
    outcomes: str | None = None
    trial: Annotated[tuple[TrialInFile, ...], Field(max_length=MOST_PHOTOS)] = ()
    done: dict[str, DoneInFile] = {}


def load_visit_file(path: Path) -> VisitFile:
    """The visit written in `path`.

    Raises
    ------
    BadInputError : The file is missing, is not TOML, or an entry is unknown or out of range; every fault is named.
    """
    try:
        document = tomllib.loads(load_text(path))
    except RecursionError as problem:
        raise BadInputError(f"The visit file {path.name} is nested too deeply. Write it as in the sample.") from problem
    except ValueError as problem:  # a number with more digits than any number here has is one as well
        raise BadInputError(f"The visit file {path.name} is not valid TOML: {problem}. Mend that line.") from problem
    try:
        return VisitFile.model_validate(document)
    except ValidationError as problem:
        faults = "; ".join(f"{'.'.join(map(str, fault['loc']))}: {fault['msg']}" for fault in problem.errors())
        raise BadInputError(f"The visit file {path.name} has entries that can't be used: {faults}.") from problem


@dataclass(frozen=True, eq=False)
class VisitOutcome:
    """A visit run from its file: what was read, checked and planned, and the document for its report."""

    document: BeforeAfter
    before: visit.PhotoReading
    after: visit.PhotoReading | None
    checked: visit.CheckedPlan
    reminders: tuple[Reminder, ...] = ()


def run_visit(path: Path, progress: Progress | None = None) -> VisitOutcome:
    """The visit written in `path`, from its photographs to the document of its report.

    progress : As in `visit.plan`.
    Raises
    ------
    BadInputError, PhotoRefusedError : The file, a photograph or the zones can't be used.
    """
    written = load_visit_file(path)
    before = reading_before(path, written)
    after = reading_after(path, written)
    consultation = consultation_of(written)
    care = visit.check(consultation)
    checked = visit.CheckedPlan(care, None, care)
    if written.targets and not before.refused:
        checked = visit.plan(before, consultation, wishes_of(path, written, before), progress)
    document = visit.document_of(heading_of(written), before, checked, after, scale_of(path, written))
    due = reminders_of(written)
    return VisitOutcome(replace(document, reminders=due), before, after, checked, due)


def heading_of(written: VisitFile) -> Heading:
    """Whose visit it is, and when."""
    return Heading(written.client, written.salon, written.date, written.demo)


def reading_before(path: Path, written: VisitFile) -> visit.PhotoReading:
    """The hair as it came in, from the photographs that the file names."""
    first = PhotoInFile(photo=written.before, zones=written.zones)
    return _read(path, (first, *written.before_also), scale_of(path, written))


def reading_after(path: Path, written: VisitFile) -> visit.PhotoReading | None:
    """The hair after, from the photographs that the file names; None where it names none."""
    if not written.after:
        return None
    first = PhotoInFile(photo=written.after, zones=written.after_zones or written.zones)
    return _read(path, (first, *written.after_also), scale_of(path, written))


def _read(path: Path, photos: tuple[PhotoInFile, ...], scale: LevelScale | None) -> visit.PhotoReading:
    """The reading of one photograph, or of several of the same hair together."""
    readings = []
    for shown in photos:
        zones = shown.zones or photos[0].zones
        spec = load_zones(path.parent / zones, ()) if zones else None
        readings.append(visit.read_photo(load_photo(path.parent / shown.photo), spec, scale))
    return visit.together(tuple(readings), scale) if len(readings) > 1 else readings[0]


def consultation_of(written: VisitFile) -> visit.Consultation:
    """What the file says of the client and of each zone, with dated tests as old as they are on its day."""
    answers = tuple(Answer(code=answer.finding, **answer.model_dump(exclude={"finding"})) for answer in written.answer)
    facts = visit.facts_with_dates(_facts(written), dates_of(written))
    return visit.Consultation(facts, written.date, answers, zoned_of(written).own)


def zoned_of(written: VisitFile) -> ZonedFacts:
    """The facts of the head and what each zone has otherwise, as they were written."""
    return ZonedFacts(_facts(written), {zone: entry.facts for zone, entry in written.zone.items() if entry.facts})


def _facts(written: VisitFile) -> Facts:
    """The facts as written; what the salon has set holds where the file is silent."""
    setting = {"patch_valid_days": load_settings(usual_folder()).patch_valid_days}
    return facts_from_answers(setting | written.facts)


def dates_of(written: VisitFile) -> VisitDates:
    """The visit's dates, each with its time zone; a visit without an hour is at ten in the morning."""
    at = written.dates.visit_at or datetime.datetime.combine(written.date, datetime.time(10))
    told = written.dates
    return VisitDates(
        visit_at=_zoned(at),
        patch_tested_at=_zoned(told.patch_tested_at) if told.patch_tested_at else None,
        strand_tested_at=_zoned(told.strand_tested_at) if told.strand_tested_at else None,
        lightened_at=_zoned(told.lightened_at) if told.lightened_at else None,
    )


def _zoned(moment: datetime.datetime) -> datetime.datetime:
    return moment if moment.tzinfo is not None else moment.astimezone()


def reminders_of(written: VisitFile) -> tuple[Reminder, ...]:
    """What to do by when, for a visit with a lift where the file plans one."""
    return visit.reminders(_facts(written), dates_of(written), lightener=written.lift is not None)


def hair_of(written: VisitFile) -> dict[str, HairFacts]:
    """What the hair of each zone with a target is like."""
    return {zone: _hair(written.hair_of_zone.get(zone, written.hair)) for zone in written.targets}


def targets_of(path: Path, written: VisitFile, before: visit.PhotoReading) -> tuple[Target, ...]:
    """What each zone shall become, where it was read before."""
    scale = scale_of(path, written)
    wishes = {zone: wish.wish(path.parent, scale) for zone, wish in written.targets.items()}
    return visit.targets_from(wishes, visit.colours_of(before), scale)


def scale_of(path: Path, written: VisitFile) -> LevelScale | None:
    """The salon's own level scale that the file names; None for the default scale."""
    return load_scale(path.parent / written.scale) if written.scale else None


def wishes_of(path: Path, written: VisitFile, before: visit.PhotoReading) -> visit.Wishes:
    """Targets, hair, shelf and settings as the file has them, with what its journal of outcomes tells."""
    settings = PlanSettings(max_bowls=written.max_bowls, scale=scale_of(path, written))
    wishes = visit.Wishes(targets_of(path, written, before), hair_of(written), _shelf(path, written), settings)
    if not written.outcomes:
        return wishes
    journal = journal_at(path.parent / written.outcomes).load()
    return visit.with_outcomes(wishes, written.client, journal.apart_from(written.client, written.date))


def _hair(entry: HairInFile) -> HairFacts:
    return HairFacts(**entry.model_dump())


def _shelf(path: Path, written: VisitFile) -> Shelf:
    return load_shelf(load_text(path.parent / written.shelf)) if written.shelf else demo_shelf()
