"""What the command prints of a consultation from sent photographs."""

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from estimator.care.questions import FACT_TABLE
from estimator.remote.consultation import RemoteConsultation, SentPhoto
from estimator.remote.reply import way_words
from estimator.reports import wording

_console = Console(highlight=False, soft_wrap=False)


def print_consultation(found: RemoteConsultation) -> None:
    """Every photograph, the estimate, the likely way, tests first, and what is still open."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for column in ("photo", "view", "level", "warmth left", "what speaks against it"):
        table.add_column(column, overflow="fold")
    for photo in found.photos:
        table.add_row(*map(Text, _cells(photo)))
    _console.print(table)
    for sentence in _sentences(found):
        _console.print(Text(sentence))


def _cells(photo: SentPhoto) -> tuple[str, ...]:
    view = photo.view or "not known"
    asked = "" if photo.view_stated or not photo.view else " (by its name: confirm)"
    zones = photo.reading.zones if photo.reading is not None else ()
    level = "; ".join(wording.level_text(zone.level) for zone in zones)
    if zones and not all(zone.reading.verified for zone in zones):
        level += " (unverified)"
    warmth = "; ".join(wording.stage_text(zone.warmth) for zone in zones)
    marks = " ".join(f"[{mark.code}] {mark.message}" for mark in photo.marks)
    return photo.name, view + asked, level, warmth, marks


def _sentences(found: RemoteConsultation) -> list[str]:
    sentences = []
    if found.estimate is None:
        sentences.append("No photograph can be measured. The reply says why, and how to take new ones.")
    else:
        estimate = found.estimate
        shown = wording.interval_text(estimate.level, estimate.level_low, estimate.level_high)
        sentences.append(f"Level over all photographs: {shown}; warmth: {wording.list_text(estimate.stages)}.")
        sentences.append("Sent photographs are never learned from, and their intervals are widened by half.")
    if found.missing_views:
        sentences.append(f"Not seen: {wording.list_text([title.lower() for title in found.missing_views])}.")
    if way := way_words(found):
        sentences.append(way)
    sentences += [f"First: {remedy}" for remedy in found.tests_first]
    asked = [FACT_TABLE.question_of[name].about for name in found.open_questions if name in FACT_TABLE.question_of]
    if asked:
        sentences.append(f"Still open: {', '.join(asked)}.")
    if found.left_out:
        sentences.append(f"Left out, no photographs: {', '.join(found.left_out)}.")
    return sentences
