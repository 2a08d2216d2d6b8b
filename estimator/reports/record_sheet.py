"""A visit record in words, ready to be set on a page or on paper: no number is left to round."""

from dataclasses import dataclass, field

from estimator.reports.sheet import Care, Remark

Facts = tuple[tuple[str, str], ...]  # label and words


@dataclass(frozen=True)
class RecordPhoto:
    """One photograph. picture : Key of its small picture; "" where none was kept. facts : What stands behind it."""

    word: str
    picture: str
    alt: str
    facts: Facts


@dataclass(frozen=True)
class RecordTable:
    """Rows under columns; a row that no card stands behind is unverified."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    unverified: tuple[bool, ...]


@dataclass(frozen=True)
class RecordPart:
    """One part of the record under its heading; what is empty is not shown. lead : Said before all else in it."""

    heading: str
    lead: tuple[str, ...] = ()
    facts: Facts = ()
    photos: tuple[RecordPhoto, ...] = ()
    table: RecordTable | None = None
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True)
class RecordSheet:
    """The whole record. care : None where nothing of it may be kept; `no_care` then says why.

    pictures : JPEG bytes by key.
    """

    title: str
    demo: str
    client: str
    date: str
    who: Facts
    care: Care | None
    no_care: str
    parts: tuple[RecordPart, ...]
    day: tuple[int, int, int]
    pictures: dict[str, bytes] = field(repr=False)
