"""What a visit file says of results: its strand trials, what was done, and the journal of outcomes beside its shelf."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from estimator import visit
from estimator.errors import BadInputError
from estimator.feedback.journal import Journal
from estimator.feedback.journal_store import JournalStore, journal_beside
from estimator.feedback.outcome import Done
from estimator.feedback_entries import DoneInFile, TrialInFile
from estimator.files import load_photo, load_zones
from estimator.reading.zone_reading import ZoneReading
from estimator.records.beside import journal_at
from estimator.toning.plan import HairFacts
from estimator.visit_file import (
    VisitFile,
    consultation_of,
    hair_of,
    load_visit_file,
    reading_after,
    reading_before,
    wishes_of,
)


def journal_of(path: Path | None, named: Path | None) -> JournalStore:
    """The journal that was named, else the visit file's own, else the one beside its shelf, else beside the file."""
    if named is not None:
        return journal_at(named)
    if path is None:
        raise BadInputError("Name a visit file, or the journal with --outcomes FILE.")
    written = load_visit_file(path)
    if written.outcomes:
        return journal_at(path.parent / written.outcomes)
    return JournalStore(journal_beside(path.parent / written.shelf if written.shelf else path))


# --- strand trial ---


def run_trial(path: Path, journal: Journal) -> visit.TrialPlans:
    """The strand trials of a visit file, and the plan before and after them.

    Raises
    ------
    BadInputError, PhotoRefusedError : The file holds no trial, or something in it can't be used.
    """
    written = load_visit_file(path)
    if not written.trial:
        raise BadInputError(f"{path.name} holds no strand trial. Add [[trial]] with its zone, photo, parts, minutes.")
    if not written.targets:
        raise BadInputError(f"{path.name} has no targets. Say what each zone shall become: [targets.crown] ...")
    reading = reading_before(path, written)
    if reading.refused:
        raise BadInputError("The photograph before has to be taken again; nothing was planned from it.")
    wishes = wishes_of(path, written, reading)
    strands = tuple(_strand(path, written, entry, reading) for entry in written.trial)
    trial = visit.try_strands(strands, written.client, written.date, wishes.shelf, journal)
    usual = visit.with_outcomes(wishes, written.client, journal)
    return visit.plan_after_trial(reading, consultation_of(written), usual, trial)


def _strand(path: Path, written: VisitFile, entry: TrialInFile, reading: visit.PhotoReading) -> visit.TriedStrand:
    if entry.zone not in written.targets:
        raise BadInputError(f"A strand of {entry.zone} was tried, which has no target. Say what it shall become.")
    named = entry.outlined_as or entry.zone
    after = _outlined(path, entry.photo, entry.outline, named)
    before = _zone_of(reading, entry.zone)
    if entry.before is not None:
        before = _outlined(path, entry.before, entry.before_outline or entry.outline, named)
    done = Done(tuple(entry.parts.items()), entry.minutes, hair_of(written)[entry.zone].porosity)
    return visit.TriedStrand(before, after, done)


def _outlined(path: Path, photo: str, outline: str, named: str) -> ZoneReading:
    read = visit.read_photo(load_photo(path.parent / photo), load_zones(path.parent / outline, ()))
    if read.refused:
        raise BadInputError(f"{photo} has to be taken again. `tressmeter read {photo}` says why.")
    return _zone_of(read, named)


def _zone_of(read: visit.PhotoReading, named: str) -> ZoneReading:
    try:
        return read.zone(named).reading
    except KeyError as problem:
        held = ", ".join(zone.name for zone in read.zones) or "none"
        raise BadInputError(f"{named!r} was not read; read were: {held}. Outline it under that name.") from problem


# --- rescue and learning ---


@dataclass(frozen=True, eq=False)
class Followed:
    """A visit whose plan was followed: both readings, and the plan."""

    written: VisitFile
    before: visit.PhotoReading
    after: visit.PhotoReading
    wishes: visit.Wishes
    checked: visit.CheckedPlan


def followed(path: Path, journal: Journal) -> Followed:
    """The visit of a file up to its photograph after. Raises BadInputError where it has none, or has no targets."""
    written = load_visit_file(path)
    if not written.targets:
        raise BadInputError(f"{path.name} has no targets. Say what each zone shall become: [targets.crown] ...")
    after = reading_after(path, written)
    if after is None:
        raise BadInputError(f"{path.name} names no photograph after. Add: after = ...")
    before = reading_before(path, written)
    for side, reading in (("before", before), ("after", after)):
        if reading.refused:
            raise BadInputError(f"The photograph {side} has to be taken again. `tressmeter read` says why.")
    earlier = journal.apart_from(written.client, written.date)
    wishes = visit.with_outcomes(wishes_of(path, written, before), written.client, earlier)
    return Followed(written, before, after, wishes, visit.plan(before, consultation_of(written), wishes))


def run_rescue(path: Path, journal: Journal) -> tuple[Followed, visit.Rescue]:
    """What became of the zones of a visit file, and first aid. Raises BadInputError, PhotoRefusedError."""
    found = followed(path, journal)
    consultation = consultation_of(found.written)
    return found, visit.rescue(found.before, found.after, consultation, found.wishes, found.checked.plan)


def run_lesson(path: Path, journal: Journal) -> visit.Lesson:
    """What the visit of a file can teach. Raises BadInputError where it does not say what was done."""
    found = followed(path, journal)
    if not found.written.done:
        raise BadInputError(
            f"{path.name} does not say what was done. Add [done.crown] with its minutes, for each zone."
        )
    client = visit.Client(found.written.client, found.written.date)
    done = _done(found, found.written.done)
    return visit.lesson_of((found.before, found.after), client, done, found.wishes.shelf, journal)


def _done(found: Followed, entries: Mapping[str, DoneInFile]) -> dict[str, Done]:
    minutes = {zone: entry.minutes for zone, entry in entries.items() if not entry.parts}
    done = visit.done_as_planned(found.checked.plan, found.wishes, minutes) if found.checked.plan else {}
    unsaid = sorted(set(minutes) - set(done))
    if unsaid:
        raise BadInputError(
            f"No bowl was planned for {', '.join(unsaid)}, and the file does not say what was mixed. "
            f'Add to [done.{unsaid[0]}]: parts = {{ "name of a shade" = 1 }}'
        )
    for zone, entry in entries.items():
        if entry.parts:
            porosity = found.wishes.hair.get(zone, HairFacts()).porosity
            done[zone] = Done(tuple(entry.parts.items()), entry.minutes, porosity)
    return done
