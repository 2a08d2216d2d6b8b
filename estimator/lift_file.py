"""The lift that a visit file plans: its test strands, each zone's lift, and the document of its sheet."""

from dataclasses import dataclass
from pathlib import Path

from estimator import visit
from estimator.errors import BadInputError
from estimator.files import load_photo, load_zones
from estimator.lifting.lift_plan import LiftPlan, LiftSettings
from estimator.lifting.stopping import NOT_SEEN, Signs
from estimator.lifting.strand import Strand, point_by_eye
from estimator.lifting.strand_test import StrandTest
from estimator.reports.lift_document import JudgedStrand, LiftDocument
from estimator.toning.peroxide import PeroxideStrength
from estimator.toning.targets import Target
from estimator.visit_entries import LiftInFile, StrandInFile
from estimator.visit_file import (
    VisitFile,
    consultation_of,
    hair_of,
    heading_of,
    load_visit_file,
    reading_before,
    reminders_of,
    scale_of,
    targets_of,
)


@dataclass(frozen=True, eq=False)
class LiftOutcome:
    """A lift run from its file. plan : None where the photograph has to be taken again."""

    reading: visit.PhotoReading
    tests: tuple[JudgedStrand, ...]
    plan: LiftPlan | None
    document: LiftDocument


def run_lift(path: Path) -> LiftOutcome:
    """The lift that the visit in `path` plans, from its photographs to the document of its sheet.

    Raises
    ------
    BadInputError, PhotoRefusedError : The file plans no lift, or something in it can't be used.
    """
    written = load_visit_file(path)
    lift = written.lift or LiftInFile()
    if not written.targets:
        raise BadInputError(f"{path.name} has no targets. Say what each zone shall become: [targets.crown] ...")
    reading, consultation = reading_before(path, written), consultation_of(written)
    plan: LiftPlan | None = None
    tests: tuple[JudgedStrand, ...] = ()
    if not reading.refused:
        targets = targets_of(path, written, reading)
        tests = tuple(_tested(path, written, strand, targets) for strand in lift.strand)
        wishes = visit.LiftWishes(
            targets,
            hair_of(written),
            {zone: entry.laid for zone, entry in written.zone.items()},
            {tested.zone: tested.test for tested in tests},
            LiftSettings(lift.additive_percent, scale_of(path, written)),
            lift.card_pitch_mm,
        )
        plan = visit.plan_lift(reading, consultation, wishes)
    document = LiftDocument(heading_of(written), reading, plan, tests, reminders=reminders_of(written))
    return LiftOutcome(reading, tests, plan, document)


def _tested(path: Path, written: VisitFile, entry: StrandInFile, targets: tuple[Target, ...]) -> JudgedStrand:
    """One strand of the file, judged against the base that its zone's toner needs."""
    target = next((target for target in targets if target.zone == entry.zone), None)
    if target is None:
        raise BadInputError(f"A strand of {entry.zone} was tested, which has no target. Say what it shall become.")
    hair = hair_of(written)[entry.zone]
    dyed = consultation_of(written).zoned.of(entry.zone).earlier_colour
    strand = Strand(
        hair.strand_diameter,
        PeroxideStrength.from_volume(entry.developer_volume),
        entry.start_level,
        dyed=bool(dyed) if isinstance(dyed, frozenset) else True,
    )
    shots = tuple(visit.StrandShot(minute, load_photo(path.parent / photo)) for photo, minute in entry.photos)
    looks = tuple(point_by_eye(minute, level) for minute, level in entry.looks)
    spec = load_zones(path.parent / entry.outline, ()) if entry.outline else None
    signs = Signs(stretch=entry.stretch or NOT_SEEN["stretch"], heat=entry.heat or NOT_SEEN["heat"])
    aim = visit.lift_base(target)
    place = visit.StrandPlace(spec, entry.outlined_as, scale_of(path, written))
    judged: StrandTest = visit.judge_test_strand(strand, shots, aim, looks, signs, place)
    return JudgedStrand(entry.zone, judged)
