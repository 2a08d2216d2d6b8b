"""A visit as a file: what the colourist photographed, knows and wants, in one TOML document that a person can write."""

import datetime
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from estimator import visit
from estimator.care.answers import Answer
from estimator.care.facts import facts_from_answers
from estimator.errors import BadInputError
from estimator.files import load_photo, load_text, load_zones
from estimator.reports.document import BeforeAfter, Heading
from estimator.toning.plan import HairFacts, PlanSettings
from estimator.toning.shades import Shelf, demo_shelf
from estimator.toning.shelf_file import load_shelf
from estimator.toning.targets import Target

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


class TargetInFile(BaseModel):
    """What one zone should become."""

    model_config = _STRICT
    level: Annotated[float, Field(ge=1, le=10, allow_inf_nan=False)]
    tone: str


class AnswerInFile(BaseModel):
    """What was done about one finding of care: a test, or a doctor's word."""

    model_config = _STRICT
    finding: _Name
    who: _Name
    when: datetime.date
    what: Annotated[str, Field(min_length=1, max_length=400)]
    strength_volume: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)] | None = None
    place: str = ""


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
    max_bowls: Annotated[int, Field(ge=1, le=6)] = 2
    facts: dict[str, Any] = {}
    answer: tuple[AnswerInFile, ...] = ()
    hair: HairInFile = HairInFile()
    hair_of_zone: dict[str, HairInFile] = {}
    targets: dict[str, TargetInFile] = {}


def load_visit_file(path: Path) -> VisitFile:
    """The visit written in `path`.

    Raises
    ------
    BadInputError : The file is missing, is not TOML, or an entry is unknown or out of range; every fault is named.
    """
    try:
        document = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as problem:
        raise BadInputError(f"The visit file {path.name} can't be read. Check its path; it must be text.") from problem
    except tomllib.TOMLDecodeError as problem:
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


def run_visit(path: Path) -> VisitOutcome:
    """The visit written in `path`, from its photographs to the document of its report.

    Raises
    ------
    BadInputError, PhotoRefusedError : The file, a photograph or the zones can't be used.
    """
    written = load_visit_file(path)
    before = _read(path, PhotoInFile(photo=written.before, zones=written.zones), written.before_also)
    after = None
    if written.after:
        first = PhotoInFile(photo=written.after, zones=written.after_zones or written.zones)
        after = _read(path, first, written.after_also)
    consultation = _consultation(written)
    care = visit.check(consultation)
    checked = visit.CheckedPlan(care, None, care)
    if written.targets and not before.refused:
        checked = visit.plan(before, consultation, _wishes(path, written))
    heading = Heading(written.client, written.salon, written.date, written.demo)
    return VisitOutcome(visit.document_of(heading, before, checked, after), before, after, checked)


def _read(path: Path, first: PhotoInFile, also: tuple[PhotoInFile, ...]) -> visit.PhotoReading:
    """The reading of one photograph, or of several of the same hair together."""
    readings = []
    for shown in (first, *also):
        zones = shown.zones or first.zones
        spec = load_zones(path.parent / zones, ()) if zones else None
        readings.append(visit.read_photo(load_photo(path.parent / shown.photo), spec))
    return visit.together(tuple(readings)) if also else readings[0]


def _consultation(written: VisitFile) -> visit.Consultation:
    answers = tuple(Answer(code=answer.finding, **answer.model_dump(exclude={"finding"})) for answer in written.answer)
    return visit.Consultation(facts_from_answers(written.facts), written.date, answers)


def _wishes(path: Path, written: VisitFile) -> visit.Wishes:
    hair = {zone: _hair(written.hair_of_zone.get(zone, written.hair)) for zone in written.targets}
    targets = tuple(Target(zone, wish.level, wish.tone) for zone, wish in written.targets.items())
    return visit.Wishes(targets, hair, _shelf(path, written), PlanSettings(max_bowls=written.max_bowls))


def _hair(entry: HairInFile) -> HairFacts:
    return HairFacts(**entry.model_dump())


def _shelf(path: Path, written: VisitFile) -> Shelf:
    return load_shelf(load_text(path.parent / written.shelf)) if written.shelf else demo_shelf()
