"""A report in words and drawings, ready to be set on a page or on paper: no number is left to round."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Remark:
    """One finding or reason in words. word : how grave it is. shape : the mark beside it, as SVG; "" for none."""

    word: str
    message: str
    remedy: str
    source: str = ""
    place: str = ""
    shape: str = ""
    stop: bool = False


@dataclass(frozen=True)
class Care:
    """The verdict on the facts: a word with a shape, and every finding."""

    word: str
    shape: str
    sentence: str
    stop: bool
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class TagWords:
    """A zone's number beside its hair. left, top : per cent of the picture."""

    number: int
    left_percent: float
    top_percent: float


@dataclass(frozen=True)
class Shot:
    """One photograph. jpeg, card_jpeg : keys of the pictures. breadth_percent : of the frame that both shots share."""

    word: str
    jpeg: str
    alt: str
    breadth_percent: float
    frame_ratio: float
    outlines: str
    tags: tuple[TagWords, ...]
    card_jpeg: str
    verdict: str
    error: str
    notes: tuple[str, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class AlikeShot:
    """One of two pictures laid alike: same cut, same turn. jpeg : Key of its picture. ratio : Breadth to height."""

    word: str
    jpeg: str
    alt: str
    ratio: float


@dataclass(frozen=True)
class ReadingRow:
    """One zone in one photograph, in words."""

    when: str
    level: str
    stage: str
    strength: str
    within: str
    lab: str
    verified: bool


@dataclass(frozen=True)
class ZonePanel:
    """One zone: its readings, drawings, and what changed. Drawings are SVG; roots_to_ends may be ""."""

    number: int
    name: str
    rows: tuple[ReadingRow, ...]
    change: str
    change_details: tuple[str, ...]
    swatches: str
    strip: str
    plane: str
    roots_to_ends: str
    notes: tuple[str, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class Weighing:
    """One line of a bowl: what, how many parts, how many grams."""

    name: str
    parts: str
    grams: str


@dataclass(frozen=True)
class BowlWords:
    """One bowl, to the gram."""

    number: int
    zones: str
    kind: str
    lines: tuple[Weighing, ...]
    total: str
    ratio: str
    on_head: str


@dataclass(frozen=True)
class ZoneAim:
    """What one zone gets and becomes. facts : label and words. swatches : now, predicted, target touching."""

    zone: str
    swatches: str
    facts: tuple[tuple[str, str], ...]
    remarks: tuple[Remark, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class PlanWords:
    """The plan in words; `bowls` is empty where nothing needs mixing."""

    bowls: tuple[BowlWords, ...]
    aims: tuple[ZoneAim, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class CautionWords:
    """One caution that stands beside every formula, or one line of first aid."""

    title: str
    text: str
    source: str


@dataclass(frozen=True)
class Sheet:
    """The whole report. pictures : JPEG bytes by key. reminders : when, and what to do. alike : both sides, or none."""

    title: str
    demo: str
    who: tuple[tuple[str, str], ...]
    care: Care
    shots: tuple[Shot, ...]
    zones: tuple[ZonePanel, ...]
    evenness: tuple[str, ...]
    plan: PlanWords | None
    no_plan: str
    cautions: tuple[CautionWords, ...]
    first_aid: tuple[CautionWords, ...]
    standing_order: str
    known: tuple[tuple[str, str], ...]
    pictures: dict[str, bytes] = field(repr=False)
    reminders: tuple[tuple[str, str], ...] = ()
    alike: tuple[AlikeShot, ...] = ()
