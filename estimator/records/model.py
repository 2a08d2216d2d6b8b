"""The tables of the records. A row below `Kept` may change and keeps its versions; every other row is written once."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from estimator.records.model_base import ID_LENGTH, Base, FoldedText, Json, Kept, Named


def _of(table: str) -> Mapped[str]:
    return mapped_column(String(ID_LENGTH), ForeignKey(f"{table}.id"), index=True)


def _maybe_of(table: str) -> Mapped[str | None]:
    return mapped_column(String(ID_LENGTH), ForeignKey(f"{table}.id"), index=True)


class Client(Kept, Base):
    """A person, by a code alone or by name as well. `code_folded`: as it is looked up."""

    __tablename__ = "client"
    code: Mapped[str] = mapped_column(Text)
    code_folded: Mapped[str] = mapped_column(FoldedText, unique=True)
    name: Mapped[str] = mapped_column(Text, default="")
    contact: Mapped[str] = mapped_column(Text, default="")
    demo: Mapped[bool] = mapped_column(default=False)


class Consent(Kept, Base):
    """What a client agreed to: the very text, for one use, when, how; and when it was taken back."""

    __tablename__ = "consent"
    client_id: Mapped[str] = _of("client")
    scope: Mapped[str] = mapped_column(String(40))
    text: Mapped[str] = mapped_column(Text)
    given_on: Mapped[date]
    how: Mapped[str] = mapped_column(Text)
    withdrawn_on: Mapped[date | None]
    withdrawn_how: Mapped[str] = mapped_column(Text, default="")


class Consultation(Kept, Base):
    """The answers of one consultation; a later one stands beside it, never over it."""

    __tablename__ = "consultation"
    client_id: Mapped[str] = _of("client")
    day: Mapped[date]
    facts: Mapped[Json]


class Visit(Kept, Base):
    """One visit. `key` is the same for the same content, so that keeping it twice keeps it once."""

    __tablename__ = "visit"
    client_id: Mapped[str] = _of("client")
    consultation_id: Mapped[str | None] = _maybe_of("consultation")
    key: Mapped[str] = mapped_column(String(64), unique=True)
    day: Mapped[date]
    salon: Mapped[str] = mapped_column(Text)
    demo: Mapped[bool] = mapped_column(default=False)
    care_verdict: Mapped[str] = mapped_column(String(20), default="")
    health_kept: Mapped[bool] = mapped_column(default=False)
    program_version: Mapped[str] = mapped_column(String(40))
    __table_args__ = (Index(None, "day", "id"),)


class Zone(Named, Base):
    """One zone of a visit, and what was wanted for it."""

    __tablename__ = "zone"
    visit_id: Mapped[str] = _of("visit")
    place: Mapped[int]
    name: Mapped[str] = mapped_column(Text)
    setting: Mapped[str] = mapped_column(String(20))
    strand_pattern: Mapped[str] = mapped_column(String(20), default="")
    hair: Mapped[Json]
    target: Mapped[Json]


class Photo(Named, Base):
    """One photograph of a visit.

    sha256 : Of the copy that is kept, free of private tags; "" where none could be made.
    original_sha256 : Of the file as it came, which proves what was read.
    outlines : Of each zone, by its name: one or more, each of [x, y] in pixels of the upright photograph.
    """

    __tablename__ = "photo"
    visit_id: Mapped[str] = _of("visit")
    place: Mapped[int]
    side: Mapped[str] = mapped_column(String(20))
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    original_sha256: Mapped[str] = mapped_column(String(64), index=True)
    thumbnail_sha256: Mapped[str] = mapped_column(String(64), default="", index=True)
    ending: Mapped[str] = mapped_column(String(8))
    width_px: Mapped[int]
    height_px: Mapped[int]
    verdict: Mapped[str] = mapped_column(String(20))
    verified: Mapped[bool]
    method: Mapped[str] = mapped_column(Text)
    held_out_de2000: Mapped[float | None]
    pipeline_version: Mapped[int]
    steps: Mapped[Json]
    outlines: Mapped[Json] = mapped_column(server_default="{}")


class Reading(Named, Base):
    """What one zone read: colour with covariance, level, warmth, and the versions that made the numbers."""

    __tablename__ = "reading"
    visit_id: Mapped[str] = _of("visit")
    zone_id: Mapped[str] = _of("zone")
    side: Mapped[str] = mapped_column(String(20))
    photos: Mapped[Json]
    lab_l: Mapped[float]
    lab_a: Mapped[float]
    lab_b: Mapped[float]
    covariance: Mapped[Json]
    shared_covariance: Mapped[Json]
    spread_lab: Mapped[Json]
    profile: Mapped[Json]
    level: Mapped[float]
    level_low: Mapped[float]
    level_high: Mapped[float]
    level_beyond: Mapped[str] = mapped_column(String(40))
    scale: Mapped[str] = mapped_column(Text)
    warmth: Mapped[Json]
    stage: Mapped[str] = mapped_column(String(40))
    pixels: Mapped[int]
    verified: Mapped[bool]
    proposed: Mapped[bool]
    verdict: Mapped[str] = mapped_column(String(20))
    basis: Mapped[Json]
    pipeline_version: Mapped[int]


class FindingRow(Named, Base):
    """One finding, of a photograph or of care, as it was told that day."""

    __tablename__ = "finding"
    visit_id: Mapped[str] = _of("visit")
    place: Mapped[int]
    about: Mapped[str] = mapped_column(String(20))
    code: Mapped[str] = mapped_column(String(80))
    weight: Mapped[str] = mapped_column(String(20))
    where: Mapped[str] = mapped_column(Text)
    message: Mapped[str] = mapped_column(Text)
    remedy: Mapped[str] = mapped_column(Text)
    source: Mapped[str] = mapped_column(Text)


class AnswerRow(Named, Base):
    """What was done about a finding of care: a test, or a doctor's word."""

    __tablename__ = "answer"
    visit_id: Mapped[str] = _of("visit")
    place: Mapped[int]
    code: Mapped[str] = mapped_column(String(80))
    who: Mapped[str] = mapped_column(Text)
    when: Mapped[date]
    what: Mapped[str] = mapped_column(Text)
    strength_volume: Mapped[float | None]
    where: Mapped[str] = mapped_column(Text)
    zone: Mapped[str] = mapped_column(Text, default="")


class PlanRow(Named, Base):
    """The plan as it was shown, whole, with what it was made by."""

    __tablename__ = "plan"
    visit_id: Mapped[str] = _of("visit")
    shelf: Mapped[str] = mapped_column(Text)
    content: Mapped[Json]


class Document(Named, Base):
    """A report that was written for a visit."""

    __tablename__ = "document"
    visit_id: Mapped[str] = _of("visit")
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    ending: Mapped[str] = mapped_column(String(8))


class Mixed(Kept, Base):
    """What was really mixed and applied, beside what was planned."""

    __tablename__ = "mixed"
    visit_id: Mapped[str] = _of("visit")
    bowl_number: Mapped[int]
    zones: Mapped[Json]
    shade_grams: Mapped[Json]
    developer_grams: Mapped[float]
    developer_volume: Mapped[float]
    minutes: Mapped[float | None]
    note: Mapped[str] = mapped_column(Text, default="")


class ClockEvent(Kept, Base):
    """One event of the running clock, as its own record told it."""

    __tablename__ = "clock_event"
    visit_id: Mapped[str] = _of("visit")
    place: Mapped[int]
    kind: Mapped[str] = mapped_column(String(20))
    zone: Mapped[str] = mapped_column(Text)
    at_utc: Mapped[datetime]
    content: Mapped[Json]


class Outcome(Kept, Base):
    """What came of a zone, by eye and by the photograph after."""

    __tablename__ = "outcome"
    visit_id: Mapped[str] = _of("visit")
    zone: Mapped[str] = mapped_column(Text)
    told: Mapped[str] = mapped_column(Text)
    content: Mapped[Json]


class Note(Kept, Base):
    """A note on a client, or on one visit."""

    __tablename__ = "note"
    client_id: Mapped[str] = _of("client")
    visit_id: Mapped[str | None] = _maybe_of("visit")
    day: Mapped[date]
    text: Mapped[str] = mapped_column(Text)


class Quote(Kept, Base):
    """Visits, hours and price as the client saw them."""

    __tablename__ = "quote"
    client_id: Mapped[str] = _of("client")
    visit_id: Mapped[str | None] = _maybe_of("visit")
    seen_on: Mapped[date]
    visits_low: Mapped[int]
    visits_high: Mapped[int]
    hours_low: Mapped[float]
    hours_high: Mapped[float]
    price_low: Mapped[float]
    price_high: Mapped[float]
    currency: Mapped[str] = mapped_column(String(8))
    text: Mapped[str] = mapped_column(Text, default="")


class Change(Base):
    """One change: what kind, by whom, when. It names no client; order is by `sequence`, never by the clock."""

    __tablename__ = "change"
    sequence: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    at_utc: Mapped[datetime]
    who: Mapped[str] = mapped_column(Text)
    what: Mapped[str] = mapped_column(String(80))
    undoes: Mapped[int | None] = mapped_column(ForeignKey("change.sequence"))
    undone: Mapped[bool] = mapped_column(default=False)
    __table_args__ = ({"sqlite_autoincrement": True},)


class Version(Base):
    """One row as it stood before a change; `before` is None for a row that was new."""

    __tablename__ = "version"
    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    change_sequence: Mapped[int] = mapped_column(ForeignKey("change.sequence"), index=True)
    table: Mapped[str] = mapped_column(String(40))
    row_id: Mapped[str] = mapped_column(String(ID_LENGTH), index=True)
    row_version: Mapped[int]
    before: Mapped[Json | None]
    __table_args__ = (UniqueConstraint("row_id", "row_version"),)


class Erasure(Named, Base):
    """A receipt: that somebody was erased, when, and how much; never who."""

    __tablename__ = "erasure"
    at_utc: Mapped[datetime]
    client_id: Mapped[str] = mapped_column(String(ID_LENGTH))
    rows: Mapped[int]
    files: Mapped[int]


class ClientWord(Base):
    """Each word of a client's name and code, folded, so that the beginning of any of them finds the client."""

    __tablename__ = "client_word"
    word: Mapped[str] = mapped_column(FoldedText, primary_key=True)
    client_id: Mapped[str] = mapped_column(String(ID_LENGTH), ForeignKey("client.id"), primary_key=True, index=True)
    __table_args__ = ({"sqlite_with_rowid": False},)


class VisitTag(Base):
    """What a visit is found by: a level, a stage, a tone, a finding's code."""

    __tablename__ = "visit_tag"
    tag: Mapped[str] = mapped_column(FoldedText, primary_key=True)
    day: Mapped[date] = mapped_column(primary_key=True)
    visit_id: Mapped[str] = mapped_column(String(ID_LENGTH), ForeignKey("visit.id"), primary_key=True, index=True)
    __table_args__ = ({"sqlite_with_rowid": False},)
