"""A visit as it is handed to the records: plain values, no database, checked once at the door."""

import hashlib
import json
from dataclasses import asdict, dataclass, field, is_dataclass
from datetime import date, datetime
from typing import Any

from estimator.errors import BadInputError
from estimator.records.consent_scopes import Scope

LONGEST_NAME, LONGEST_TEXT = 200, 4000
LabLike = tuple[float, float, float]


@dataclass(frozen=True)
class ConsentRecord:
    """What the client agreed to: use, day, how (signed, spoken, by a tap), and the very text; "" for the usual one."""

    scope: Scope
    given_on: date
    how: str
    text: str = ""


@dataclass(frozen=True)
class FindingRecord:
    """One finding as it was told. about : "photo", "zone" or "care". weight : Its severity, or care's verdict."""

    about: str
    code: str
    weight: str
    where: str
    message: str
    remedy: str
    source: str


@dataclass(frozen=True)
class AnswerRecord:
    """What was done about a finding of care; fields as in `care.answers.Answer`."""

    code: str
    who: str
    when: date
    what: str
    strength_volume: float | None
    where: str
    zone: str = ""


@dataclass(frozen=True)
class ZoneRecord:
    """One zone and what was wanted for it. hair, target : As entered; empty where nobody did."""

    name: str
    setting: str
    strand_pattern: str
    hair: dict[str, Any]
    target: dict[str, Any]


@dataclass(frozen=True, eq=False)
class PhotoRecord:
    """One photograph.

    content : The copy without private tags; b"" where none can be made, as of rare RAW files.
    original_sha256 : Of the file as it came.
    steps : Of its correction, with their settings.
    outlines : Of each zone in this very photograph, by its name: one or more, each of [x, y]. [px]
    """

    side: str
    original_sha256: str
    content: bytes
    thumbnail: bytes
    ending: str
    width_px: int
    height_px: int
    verdict: str
    verified: bool
    method: str
    held_out_de2000: float | None
    pipeline_version: int
    steps: list[dict[str, Any]]
    outlines: dict[str, list[list[list[float]]]] = field(default_factory=dict)


@dataclass(frozen=True)
class ReadingRecord:
    """What one zone read; fields as in `reading.zone_reading`, `scale.appearance`. photos : Hashes of the originals."""

    zone: str
    side: str
    photos: tuple[str, ...]
    lab_d65: LabLike
    covariance: list[list[float]]
    shared_covariance: list[list[float]]
    spread_lab: list[float]
    profile: list[dict[str, Any]]
    level: dict[str, Any]
    warmth: dict[str, Any]
    pixels: int
    verified: bool
    proposed: bool
    verdict: str
    basis: tuple[str, ...]
    pipeline_version: int


@dataclass(frozen=True)
class PlanRecord:
    """The plan as it was shown. content : Whole, as JSON holds it."""

    shelf: str
    content: dict[str, Any]


@dataclass(frozen=True)
class MixedRecord:
    """What was really mixed and applied. shade_grams : In the order of weighing. minutes : On the head."""

    bowl_number: int
    zones: tuple[str, ...]
    shade_grams: tuple[tuple[str, float], ...]
    developer_grams: float
    developer_volume: float
    minutes: float | None = None
    note: str = ""


@dataclass(frozen=True)
class ClockRecord:
    """One event of the clock. content : All that its own record says."""

    kind: str
    zone: str
    at_utc: datetime
    content: dict[str, Any]


def clock_without_health(content: dict[str, Any]) -> dict[str, Any]:
    """What the clock says of an event but how the skin felt, and but what was written beside it."""
    return {name: told for name, told in content.items() if name not in ("skin", "note")}


@dataclass(frozen=True)
class OutcomeRecord:
    """What came of a zone. told : In words. content : Figures, such as the difference that was measured."""

    zone: str
    told: str
    content: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class QuoteRecord:
    """Visits, hours and price as the client saw them on a day."""

    seen_on: date
    visits: tuple[int, int]
    hours: tuple[float, float]
    price: tuple[float, float]
    currency: str
    text: str = ""


@dataclass(frozen=True, eq=False)
class DocumentRecord:
    """A report. ending : "pdf" or "html"."""

    ending: str
    content: bytes


@dataclass(frozen=True, eq=False)
class VisitRecord:
    """One visit, whole.

    client_code : Names the client in the salon and on reports. client_name, contact : "" where they are not wanted.
    facts : Answers of the consultation; they, care's findings and reports are kept only with consent to health answers.
    """

    client_code: str
    day: date
    salon: str
    program_version: str
    client_name: str = ""
    contact: str = ""
    demo: bool = False
    consents: tuple[ConsentRecord, ...] = ()
    facts: dict[str, Any] = field(default_factory=dict)
    care_verdict: str = ""
    zones: tuple[ZoneRecord, ...] = ()
    photos: tuple[PhotoRecord, ...] = ()
    readings: tuple[ReadingRecord, ...] = ()
    findings: tuple[FindingRecord, ...] = ()
    answers: tuple[AnswerRecord, ...] = ()
    plan: PlanRecord | None = None
    mixed: tuple[MixedRecord, ...] = ()
    clock: tuple[ClockRecord, ...] = ()
    outcomes: tuple[OutcomeRecord, ...] = ()
    notes: tuple[str, ...] = ()
    quote: QuoteRecord | None = None
    documents: tuple[DocumentRecord, ...] = ()

    def __post_init__(self) -> None:
        if not self.client_code.strip():
            raise BadInputError("A visit is kept under a client's code. Give initials or a code; a name is not needed.")
        for what, text in (("code", self.client_code), ("name", self.client_name), ("salon", self.salon)):
            check_text(text, f"The client's {what}" if what != "salon" else "The salon's name", LONGEST_NAME)
        check_text(self.contact, "The contact", LONGEST_TEXT)
        check_content(_told(self))

    @property
    def key(self) -> str:
        """The same for the same content: keeping a visit again finds it there. SHA-256, hexadecimal."""
        told = json.dumps(_told(self), sort_keys=True, ensure_ascii=True, default=str)
        return hashlib.sha256(told.encode("ascii")).hexdigest()


def _told(visit: VisitRecord) -> dict[str, Any]:
    """All of a visit but the bytes of its files and the reports, which are made anew at each run."""
    told = {name: value for name, value in vars(visit).items() if name not in ("documents", "consents")}
    told["photos"] = [(photo.side, photo.original_sha256) for photo in visit.photos]
    return {name: _plain(value) for name, value in told.items()}


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return asdict(value)
    return [_plain(entry) for entry in value] if isinstance(value, tuple) else value


def check_text(text: str, what: str, most: int = LONGEST_TEXT) -> str:
    """The text, once it is sure that every database keeps it letter by letter. Raises BadInputError."""
    if len(text) > most:
        raise BadInputError(f"{what} has {len(text)} letters; up to {most} are kept. Shorten it.")
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise BadInputError(
            f"{what} holds a character that no record can keep (a null or half a letter). Type it anew."
        )
    return text


def check_content(content: Any) -> None:
    """Raise BadInputError where a text somewhere within can't be kept."""
    if isinstance(content, str):
        check_text(content, "A text of the visit", 100_000)
    elif isinstance(content, dict):
        check_content(tuple(content))
        check_content(tuple(content.values()))
    elif isinstance(content, list | tuple):
        for entry in content:
            check_content(entry)
